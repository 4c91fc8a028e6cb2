"""``evenpour add``: one entry typed at the car, judged at once."""

from __future__ import annotations

import click

from evenpour.cli import show
from evenpour.cli.catch import is_uneven, print_catch
from evenpour.cli.judge import print_rows
from evenpour.cli.path import WORDS, print_next, print_put_back
from evenpour.job.answers import AddAnswer
from evenpour.job.wording import key_inside

EXAMPLES = """
\b
  evenpour add 3 system 4.9 bar with=gauge
  evenpour add 3 cold 1.45bar regulator_temperature=18C with=gauge
  evenpour add 3 drip 4 dry
  evenpour add 3 catch injectors full 35s 80 81 79.5 66 80 80.5 ml
  evenpour add 3 catch lines idle 60s 8 8.2 - 8 8 7.9 ml swap="line 3 with 5"
  evenpour add 3 move +1/8 turn
  evenpour add 3 replaced injector 4
  evenpour add 3 done spark_disabled who=AB
  evenpour add 3 passed valve_clearances reason="hydraulic"
  evenpour add 3 happened backfire
  evenpour add 3 read fire who=AB
  evenpour add 3 override holding_right who=AB reason="accumulator on order"
  evenpour add 3 withdraw reading-c260c78dcfa0 reason="wrong car"
  evenpour add 3 correct reading-c260c78dcfa0 reason="misread" system 4.8 bar
  evenpour add 3 note "Smells of varnish."
  evenpour add 3 instrument gauge pressure gauge range="6 bar" class=1.0
"""


@click.command("add", context_settings={"ignore_unknown_options": True}, epilog=EXAMPLES)
@click.argument("job")
@click.argument("words", nargs=-1, required=True, metavar="WHAT VALUE ...")
@click.option("--at", help="When it was so on the car, like 2026-05-03T10:12; now, if not given.")
@click.option("--sure", is_flag=True, help="It is so, odd as it looks.")
@click.option("--id", "entry_id", help="The entry's id, made by the sender: the same sent twice counts once.")
@show.answer_options
def command(
    job: str,
    words: tuple[str, ...],
    at: str | None,
    sure: bool,
    entry_id: str | None,
    as_json: bool,
    units: str | None,
) -> int:
    """Add a reading, catch, move or action to the stored JOB, and judge it at once."""
    from evenpour.job import add_words

    answer = add_words(job, words, at=at, sure=sure, entry_id=entry_id, units=units)
    if as_json:
        show.print_json(answer)
    else:
        _print(answer, job)
    outside = any(row.stands and row.verdict == "outside" for row in answer.readings)
    uneven = answer.catch is not None and is_uneven(answer.catch)
    return int(outside or uneven or bool(answer.went_stale))


def _print(answer: AddAnswer, job: str) -> None:
    show.line(f"Kept as {answer.entry}.")
    print_rows(answer.readings)
    if answer.catch:
        print_catch(answer.catch)
    print_difference(answer, job)
    show.notice(answer.notice)


def print_difference(answer: AddAnswer, job: str) -> None:
    """What more entries changed: what to mend, what went stale, what comes next."""
    for step in answer.on_trust:
        show.wrapped(f"Done on your word, without its reading: {step.title} [{step.step}]", hang="  ")
    for step in answer.mend:
        show.wrapped(f"To put it right, or to find out: {step.title} [{step.step}]", hang="  ")
    if answer.catch_again:
        again = "; ".join(key_inside(key) for key in answer.catch_again)
        show.wrapped(f"Caught before this part was changed; catch again: {again}", hang="  ")
    _print_changes(answer)
    fresh = answer.went_stale and answer.repeat
    if fresh:
        show.heading(f"To repeat, {answer.repeat_minutes} minutes in all")
        print_next(answer.repeat)
    elif answer.repeat:
        show.line()
        show.wrapped(f"Still to repeat, {answer.repeat_minutes} minutes in all: see evenpour path {job}")
    following = [one for one in answer.next if not one.repeat]
    if following:
        show.heading("Next")
        print_next(following[:2])


def _print_changes(answer: AddAnswer) -> None:
    """What the entry changed on the car's list and in the order of the work."""
    for claim in answer.went_stale:
        where = f", cylinder {claim.cylinder}" if claim.cylinder else ""
        show.wrapped(f"STALE now: {claim.says}{where}: {claim.why}", hang="  ")
    if answer.put_on:
        show.line("On the put-back list:")
        print_put_back(answer.put_on)
    for name in answer.taken_off:
        show.wrapped(f"Off the put-back list: {name}.")
    for item in answer.stays:
        show.wrapped(f"Stays on the car: {item.name}; {item.overridden}.")
    for stage in answer.stages:
        show.wrapped(f"Stage “{stage.title}” is {WORDS[stage.state]} now.")
    for words in answer.questions:
        show.wrapped(f"? {words}", hang="  ")
