"""Readings of one exhaust gas analysis, kept in a stored job like any others: all or none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from evenpour.errors import FieldProblem, Questioned
from evenpour.job.adding import add_all
from evenpour.job.catalogue import Catalogue, catalogue
from evenpour.job.desk import number_of
from evenpour.job.entries import Draft, new_id
from evenpour.job.gas.answer import GasAsked, answer_from, fuel_of, readings_of
from evenpour.job.gas.answers import GasAnswer
from evenpour.job.gas.reading import GasRead, kept_text
from evenpour.job.job import Job
from evenpour.job.opening import own_store, stored_job
from evenpour.job.quick_entry import entry_of
from evenpour.job.typed_words import split_pairs
from evenpour.measure.slips import IF_SO

INSTRUMENT_WORDS = ("with", "instrument")


def gas_into_job(ref: str, asked: GasAsked, words: Sequence[str] = (), *, at: str | None = None) -> GasAnswer:
    """What the gases say, and what they change in the stored job that now holds them.

    Args:
        ref: The job's number.
        asked: The readings; a fuel that the job states need not be said again.
        words: Conditions and fields as for ``evenpour add``: ``state=idle_warm with=analyser who=AB``.
        at: When it was so on the car.
    Raises:
        Problems, FieldProblem, Questioned: something cannot be understood, or is odd.
        Refused: the job is a file, or closed.
    """
    plain, pairs = split_pairs(words)
    if plain:
        raise FieldProblem(
            "gas", " ".join(plain), "does not belong here", allowed="words like state=idle_warm"
        )
    number = number_of(ref)
    with own_store() as store:
        job = stored_job(store, number)
        answer, drafts = gas_drafts(job, asked, pairs, at)
        added = add_all(store, number, drafts, sure=asked.sure, before=job)
    return answer.model_copy(update={"added": added, "kept": [one.id for one in drafts]})


def gas_of_job(job: Job, asked: GasAsked, pairs: Mapping[str, str]) -> GasAnswer:
    """What the gases say of a job's engine; nothing is kept.

    Args:
        pairs: Conditions and fields, as text by name.
    """
    said = _with_the_jobs_own(asked, job, pairs)
    return answer_from(said, fuel_of(said), readings_of(said), job.known, job.facts)


def gas_drafts(
    job: Job, asked: GasAsked, pairs: Mapping[str, str], at: str | None
) -> tuple[GasAnswer, list[Draft]]:
    """The same, and the readings as the job may keep them: one for each gas, and one for the display.

    Raises:
        Questioned: one of the readings is surely wrong, and nobody said that it is so.
    """
    said = _with_the_jobs_own(asked, job, pairs)
    read = readings_of(said)
    answer = answer_from(said, fuel_of(said), read, job.known, job.facts)
    if not asked.sure:
        _question(answer)
    return answer, list(_drafts(said, read, answer, pairs, at))


def _question(answer: GasAnswer) -> None:
    """Readings of which one is surely wrong are not kept in silence."""
    for sign in answer.signs:
        if sign.kind == "not_together":
            raise Questioned("gas", None, "was not kept", remedy=f"{sign.says} {sign.look} {IF_SO}")


def _with_the_jobs_own(asked: GasAsked, job: Job, pairs: Mapping[str, str]) -> GasAsked:
    """The fuel and the instrument that the job knows, where they were not said otherwise."""
    stated = job.facts.general.get("fuel")
    named = next((pairs[word] for word in INSTRUMENT_WORDS if word in pairs), "")
    instrument = job.facts.instruments.get(named)
    scale = f"{instrument.scale:g} AFR at lambda 1" if instrument and instrument.scale else None
    return replace(
        asked,
        fuel=asked.fuel or (stated.choice if stated else None),
        meter_scale=asked.meter_scale or (scale if not asked.gases else None),
        analyser=replace(asked.analyser, instrument=instrument),
    )


def _drafts(
    asked: GasAsked,
    read: Mapping[str, GasRead],
    answer: GasAnswer,
    pairs: Mapping[str, str],
    at: str | None,
) -> Iterator[Draft]:
    """One reading for each gas, and one for the display."""
    known = catalogue()
    checks = {one.check for one in read.values()}
    for one in read.values():
        words = _words_for(one.check, checks, pairs, known)
        yield _draft(one.check, kept_text(one, asked.analyser), words, one.converted, asked, at)
    if answer.meter is not None:
        shown_as = (f"the display, {answer.meter.scale:g} AFR at lambda 1, showed {answer.meter.typed}",)
        other = INSTRUMENT_WORDS if read else ()  # then it is the analyser that was named
        own = {name: text for name, text in pairs.items() if name not in other}
        yield _draft("exhaust_lambda", f"{answer.meter.lambda_:.4f} lambda", own, shown_as, asked, at)


def _words_for(check: str, checks: set[str], pairs: Mapping[str, str], known: Catalogue) -> dict[str, str]:
    """What belongs to this gas: a condition that only the others ask for is left to them."""
    own = {*known.checks[check].conditions, *known.everywhere}
    others = {name for one in checks for name in known.checks[one].conditions} - own
    return {name: text for name, text in pairs.items() if name not in others}


def _draft(
    check: str,
    text: str,
    words: Mapping[str, str],
    notes: Sequence[str],
    asked: GasAsked,
    at: str | None,
) -> Draft:
    known = catalogue()
    kind, content = entry_of([check, text, *(f"{name}={value}" for name, value in words.items())], known)
    said: dict[str, Any] = {**content, **({"sure": True} if asked.sure else {})}
    if notes:
        said["note"] = "; ".join([*([said["note"]] if "note" in said else []), *notes])
    if asked.fuel in known.kinds["fuel"].choices:
        said["conditions"] = {"fuel": asked.fuel, **said.get("conditions", {})}
    return Draft(kind, said, new_id(kind), at)
