"""Groups of commands: one that knows what was probably meant, and one that imports only what is asked for."""

from __future__ import annotations

import difflib
import importlib
from collections.abc import Mapping
from typing import Any

import click

from evenpour.cli.commands import Listed


class Group(click.Group):
    """A group that answers a mistyped command with the nearest ones."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command named first in *args*, and what is left of them."""
        names = self.list_commands(ctx)
        if args[0] not in names and not ctx.resilient_parsing:
            ctx.fail(_no_such(args[0], names))
        return super().resolve_command(ctx, args)


class LazyGroup(Group):
    """A group that takes names and help lines from a table, and imports a command when it is called."""

    def __init__(self, *, table: Mapping[str, Listed], **click_words: Any) -> None:
        super().__init__(**click_words)
        self.table = table

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names, in the order of the table: the order of the work."""
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported now; ``None`` for a name that is not in the table."""
        if cmd_name not in self.table:
            return None
        command = importlib.import_module(self.table[cmd_name].module).command
        if not isinstance(command, click.Command):
            raise TypeError(f"{self.table[cmd_name].module}.command is no click command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list in the help, from the table alone."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, listed.line) for name, listed in self.table.items()])


def _no_such(name: str, names: list[str]) -> str:
    near = difflib.get_close_matches(name, names, n=3, cutoff=0.5)
    remedy = f"Did you mean {' or '.join(near)}?" if near else f"There are: {', '.join(names)}."
    return f"There is no command {name!r}. {remedy}"
