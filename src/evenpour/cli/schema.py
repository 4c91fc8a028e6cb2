"""``evenpour schema``: the JSON Schema of a file or an answer."""

from __future__ import annotations

import json

import click

from evenpour.cli import show


@click.command("schema")
@click.argument("name", required=False)
@show.json_option
def command(name: str | None, as_json: bool) -> None:
    """Print the JSON Schema NAME; without NAME, list them."""
    from evenpour.job.schemas import schema, schema_names

    if name is None and not as_json:
        show.table(schema_names().items(), ["schema", "of what"])
        return
    if name is None:
        click.echo(json.dumps({"schemas": schema_names()}, indent=2))
        return
    click.echo(json.dumps(schema(name), indent=2, ensure_ascii=False))
