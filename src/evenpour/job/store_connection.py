"""How the store is reached: its address, and what every connection must be told."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sql
from sqlalchemy.exc import ArgumentError, OperationalError, SQLAlchemyError
from sqlalchemy.pool import StaticPool

from evenpour.errors import Refused

WRITE: Final = "evenpour_write"  # execution option of a connection that will write
_PATIENCE: Final = 20.0  # seconds to wait for another who writes


def address(where: str | Path) -> sql.URL:
    """The URL of a store, from a URL or a path.

    Raises:
        Refused: the text is no URL.
    """
    text = str(where)
    if "\0" in text:
        raise Refused("The store's address is not understood.", [_ALLOWED])
    if "://" not in text:
        return sql.URL.create("sqlite", database=str(Path(text).expanduser()))
    try:
        url = sql.make_url(text)
    except ArgumentError:
        raise Refused("The store's address is not understood.", [_ALLOWED]) from None
    if url.get_backend_name() not in {"sqlite", "postgresql"}:
        raise Refused(f"A store in {url.get_backend_name()} is not known here.", [_ALLOWED])
    return url.set(drivername="postgresql+psycopg") if url.drivername == "postgresql" else url


_ALLOWED: Final = "give a path, sqlite:///PATH, or postgresql://USER@HOST/NAME"


def engine_for(url: sql.URL) -> sql.Engine:
    """The engine of an address; no connection is made yet.

    Raises:
        Refused: the folder cannot be made, or the driver is not installed.
    """
    try:
        if url.get_backend_name() != "sqlite":
            return sql.create_engine(url, pool_pre_ping=True)
        if url.database in {None, "", ":memory:"}:  # one connection, or each would see its own empty store
            engine = sql.create_engine(url, poolclass=StaticPool, connect_args={"check_same_thread": False})
        else:
            Path(str(url.database)).parent.mkdir(parents=True, exist_ok=True)
            engine = sql.create_engine(url)
    except (SQLAlchemyError, ImportError, OSError) as error:
        raise Refused(f"The store {shown(url)} cannot be opened.", [reason(error)]) from None
    sql.event.listen(engine, "connect", _settings)
    sql.event.listen(engine, "begin", _begin)
    return engine


def shown(url: sql.URL) -> str:
    """The address for people, without a password."""
    if url.get_backend_name() == "sqlite":
        return url.database or "in memory"
    return url.render_as_string(hide_password=True)


def reason(error: Exception) -> str:
    """What went wrong, in the driver's words, on one line."""
    inner = getattr(error, "orig", None) or error
    return " ".join(str(inner).split()) or type(inner).__name__


def patiently(work: Callable[[], None]) -> None:
    """Runs *work* again while another holds the store: the change to write-ahead logging does not wait."""
    until = time.monotonic() + _PATIENCE
    while True:
        try:
            work()
        except OperationalError as error:
            if "locked" not in str(error.orig) or time.monotonic() > until:
                raise
            time.sleep(0.02)
        else:
            return


def _settings(connection: Any, _record: object) -> None:
    """What SQLite forgets with every connection. Full sync: what is acknowledged is on disk."""
    connection.isolation_level = None  # the driver begins nothing by itself
    cursor = connection.cursor()
    for pragma in (
        f"busy_timeout={int(_PATIENCE * 1000)}",
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin(connection: sql.Connection) -> None:
    """Who will write says so at once, and waits his turn; readers never wait."""
    writes = connection.get_execution_options().get(WRITE, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
