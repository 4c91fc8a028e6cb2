"""``evenpour schema``: the JSON Schema of a file or an answer."""

from __future__ import annotations

import json

import click

from evenpour.cli import show


@click.command("schema")
@click.argument("name", required=False)
def command(name: str | None) -> None:
    """Print the JSON Schema NAME; without NAME, list them."""
    from evenpour.job.schemas import schema, schema_names

    if name is None:
        show.table(schema_names().items())
        return
    click.echo(json.dumps(schema(name), indent=2, ensure_ascii=False))
