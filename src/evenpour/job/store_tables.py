"""Tables of the store, and the ordered steps that bring an older store to them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import sqlalchemy as sql

from evenpour.errors import Refused

metadata = sql.MetaData()

version = sql.Table(
    "schema_version",
    metadata,
    sql.Column("version", sql.Integer, nullable=False),
    sqlite_strict=True,
)

jobs = sql.Table(
    "jobs",
    metadata,
    sql.Column("number", sql.Integer, primary_key=True),
    sql.Column("created", sql.Text, nullable=False),
    # What follows is read off the journal and kept for lists; the entries are what counts.
    sql.Column("last_seq", sql.Integer, nullable=False),
    sql.Column("last_hash", sql.Text, nullable=False),
    sql.Column("last_entered", sql.Text),
    sql.Column("sheet", sql.Text, nullable=False),
    sql.Column("car", sql.Text, nullable=False),
    sql.Column("workshop", sql.Text, nullable=False),
    sql.Column("closed", sql.Integer, nullable=False),
    sql.Column("search", sql.Text, nullable=False),
    sqlite_strict=True,
)

entries = sql.Table(
    "entries",
    metadata,
    sql.Column("job", sql.Integer, sql.ForeignKey("jobs.number"), primary_key=True),
    sql.Column("seq", sql.Integer, primary_key=True, autoincrement=False),
    sql.Column("id", sql.Text, nullable=False),
    sql.Column("at", sql.Text),
    sql.Column("entered", sql.Text, nullable=False),
    sql.Column("kind", sql.Text, nullable=False),
    sql.Column("content", sql.Text, nullable=False),  # JSON, keys in the order they were typed
    sql.Column("previous", sql.Text, nullable=False),
    sql.Column("hash", sql.Text, nullable=False),
    sql.UniqueConstraint("job", "id", name="entries_job_id"),
    sqlite_strict=True,
)


def _first_tables(connection: sql.Connection) -> None:
    """Jobs and their entries; entries can be neither changed nor deleted."""
    metadata.create_all(connection, tables=[jobs, entries])
    for statement in _GUARDS[connection.dialect.name]:
        connection.execute(sql.text(statement))


_GUARDS: Final = {
    "sqlite": tuple(
        f"CREATE TRIGGER entries_no_{verb} BEFORE {verb} ON entries "
        "BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END"
        for verb in ("update", "delete")
    ),
    "postgresql": (
        "CREATE FUNCTION entries_never_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'entries are never changed'; END $$",
        "CREATE TRIGGER entries_guard BEFORE UPDATE OR DELETE ON entries "
        "FOR EACH ROW EXECUTE FUNCTION entries_never_change()",
    ),
}

# Each runs once, in its own transaction, in this order. Append only: a store in use has run the earlier ones.
MIGRATIONS: Final[tuple[Callable[[sql.Connection], None], ...]] = (_first_tables,)


def migrate(begin: Callable[[], sql.engine.base.Connection]) -> None:
    """Brings a store to the newest form.

    Args:
        begin: Opens a connection for writing.
    Raises:
        Refused: a newer version of the program made this store.
    """
    with begin() as connection, connection.begin():
        _alone(connection)
        version.create(connection, checkfirst=True)
        if connection.scalar(sql.select(sql.func.count()).select_from(version)) == 0:
            connection.execute(version.insert().values(version=0))
    for target in range(1, len(MIGRATIONS) + 1):
        with begin() as connection, connection.begin():
            _alone(connection)
            reached = connection.scalar(sql.select(version.c.version)) or 0
            if reached > len(MIGRATIONS):
                raise Refused(
                    "This store was made by a newer evenpour.",
                    [f"it has form {reached}, this version knows up to {len(MIGRATIONS)}", "update evenpour"],
                )
            if reached < target:
                MIGRATIONS[target - 1](connection)
                connection.execute(version.update().values(version=target))


def _alone(connection: sql.Connection) -> None:
    """Two programs that open a new store at once take turns; SQLite does so by itself."""
    if connection.dialect.name == "postgresql":
        connection.execute(sql.text("SELECT pg_advisory_xact_lock(7304211)"))
