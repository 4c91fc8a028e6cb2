"""``evenpour repairs``: what each repair takes in your workshop."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.cli.groups import Group
from evenpour.job.causes.experience_answers import RepairsAnswer


@click.group("repairs", cls=Group, invoke_without_command=True)
@show.json_option
@click.pass_context
def command(context: click.Context, as_json: bool) -> None:
    """What each repair takes, in minutes and parts: shipped, or as you have it.

    `evenpour causes` puts repairs in order by how likely they mend the car for what they take.
    """
    if context.invoked_subcommand is None:
        _show(as_json=as_json)


@command.command("set")
@click.argument("cause")
@click.option("--minutes", type=float, default=None, help="Work, in minutes.")
@click.option("--parts", type=float, default=None, help="Parts, in your money.")
@show.json_option
def set_(cause: str, as_json: bool, minutes: float | None, parts: float | None) -> None:
    """Say what mending CAUSE takes in your workshop."""
    from evenpour.job.causes.repair_costs import set_cost

    set_cost(cause, minutes=minutes, parts=parts)
    _show(cause, as_json=as_json)


@command.command("shipped")
@click.argument("cause")
@show.json_option
def shipped(cause: str, as_json: bool) -> None:
    """Go back to the shipped figures of what mends CAUSE."""
    from evenpour.job.causes.repair_costs import shipped_again

    shipped_again(cause)
    _show(cause, as_json=as_json)


@command.command("hour")
@click.argument("money", type=float, required=False)
@show.json_option
def hour(money: float | None, as_json: bool) -> None:
    """Say what an hour of your work is worth, in the money of the parts; without MONEY, as shipped."""
    from evenpour.job.causes.repair_costs import set_hour

    set_hour(money)
    _show(as_json=as_json, rows=False)


def _show(cause: str | None = None, *, as_json: bool, rows: bool = True) -> None:
    from evenpour.job.causes.repair_costs import repairs_told

    answer = repairs_told(cause)
    if as_json:
        show.print_json(answer)
        return
    if rows:
        _table(answer)
    whose = "as you said" if answer.hour_is_own else "shipped, a round figure"
    show.wrapped(f"An hour of work counts as {answer.hour_of_work:g} in the money of the parts ({whose}).")
    if cause is None and rows:
        show.wrapped(
            "Say what it takes in your workshop: evenpour repairs set pump_weak --minutes 50 --parts 120"
        )


def _table(answer: RepairsAnswer) -> None:
    sources = show.Sources()
    show.table(
        (
            [
                one.remedy,
                ", ".join(one.causes),
                f"{one.minutes:g} min",
                f"{one.parts:g}",
                sources.mark(one.source),
            ]
            for one in answer.repairs
        ),
        ["repair", "mends", "work", "parts", "from"],
    )
    sources.show()
