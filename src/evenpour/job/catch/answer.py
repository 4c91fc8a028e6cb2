"""What the catches say, as it is answered."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import cast

from evenpour.job.answers import (
    CatchAnswer,
    NextCatchAnswer,
    PartAnswer,
    PartKind,
    PartName,
    RunAnswer,
    SticksOut,
    SuspectAnswer,
    Word,
)
from evenpour.job.catch.catching import Weighed, leaking
from evenpour.job.catch.facts import CatchFact
from evenpour.job.exchanges import KINDS, Swap, hangs_after, swap_words
from evenpour.job.facts import Facts
from evenpour.job.wording import key_words, part_name
from evenpour.machine.line_map import LineMap, line_map_of
from evenpour.machine.sheet import Sheet
from evenpour.measure.next_catch import NextCatch
from evenpour.measure.true_spread import observed_spread
from evenpour.measure.units import in_unit, label, unit_for
from evenpour.measure.verdicts import word_for

ML_PER_MIN = 60e6  # from m³/s
_PART = re.compile(r"\b([Pp]ort|[Ll]ine|[Ii]njector) ([0-9]+)\b(?! with)")


def catch_answer(
    facts: Facts,
    weighed: Weighed | None,
    sheet: Sheet,
    units: str | None = None,
    standing: Sequence[Swap] = (),
) -> CatchAnswer:
    """The whole answer; catches are counted from 0 in the order of the job, discarded ones included.

    *units* is the system in which amounts are shown; None shows them as they were typed. *standing* is what
    was exchanged for a catch and is not back.
    """
    counted = list(facts.catches)
    runs = [_run(index, fact, weighed, units) for index, fact in enumerate(counted)]
    limits = sheet.evenness_limits()
    if weighed is None:
        return CatchAnswer(
            sheet=sheet.id, notice=sheet.notice, spread_by_run={}, u_by_run={}, even_by_run={},
            limit_by_run={},
            spread=None, even=None, verdict="cannot_tell", parts=[], undivided=[], suspect_amounts=[],
            next_catch=None, runs=runs, notes=["Nothing has been caught yet."],
        )  # fmt: skip
    found = weighed.evenness
    place = [counted.index(fact) for fact in weighed.facts]
    even = {key: found.even_by_run.get(key) for key in found.spread_by_run}
    old = sorted(weighed.outdated)
    line_map = line_map_of(sheet)
    leaks = leaking(facts, line_map)
    notes = [
        *(
            f"Port {port} lets fuel through with the plate at rest: it fills its cylinder. Pump off, turn no "
            "starter, and find out why before anything else."
            for port in leaks
        ),
        *_forgotten_exchange(weighed),
        *_numbers_of(found.next_catch, line_map),
        *found.notes,
        *(f"{key_words(key)}: caught before a part in it was changed; catch again." for key in old),
    ]
    now = {key: p for key, p in even.items() if p is not None and key not in old}
    least = found.least_even
    return CatchAnswer(
        sheet=sheet.id,
        notice=sheet.notice,
        spread_by_run={key: spread.value for key, spread in found.spread_by_run.items()},
        u_by_run={key: spread.u for key, spread in found.spread_by_run.items()},
        even_by_run=even,
        limit_by_run={key: limits.get(key.split(":")[1]) for key in found.spread_by_run},
        outdated=old,
        spread=found.spread_by_run[least].value if least is not None else None,
        even=even.get(least) if least is not None else None,
        verdict=_verdict(min(now.values(), default=None), weighed, leaks),
        parts=[
            PartAnswer(
                part=cast(PartKind, part.kind),
                cylinder=part.number,
                feeds=_feeds(line_map, part.number),
                hangs=_hangs(line_map, part.kind, part.number, standing),
                deviation=part.deviation,
                u=part.u,
                p_off=part.p_off if part.p_off is not None else 0.0,
            )
            for part in found.parts
        ],
        undivided=[
            [
                PartName(
                    part=cast(PartKind, kind),
                    cylinder=number,
                    feeds=_feeds(line_map, number),
                    hangs=_hangs(line_map, kind, number, standing),
                )
                for kind, number in group
            ]
            for group in found.undivided
        ],
        suspect_amounts=[
            SuspectAnswer(
                catch=place[suspect.run],
                position=suspect.position + 1,
                why=suspect.why,
                offer=None if suspect.offer is None else f"{in_unit(suspect.offer, 'ml'):.3g} ml",
            )
            for suspect in found.suspect_amounts
        ],
        next_catch=None if leaks else _next_catch(weighed, line_map, standing),
        repeat_scatter=None if found.repeats is None else found.repeats.sd_within,
        runs=runs,
        notes=notes,
    )


def _next_catch(weighed: Weighed, line_map: LineMap, standing: Sequence[Swap]) -> NextCatchAnswer | None:
    """The catch that tells most; the newest one again before the plain order goes on, if it is doubted. One
    from before a part in it was changed is caught again for that.
    """
    after = weighed.evenness.next_catch
    doubted = weighed.doubted - weighed.outdated
    if doubted and (after is None or not after.information):
        through, opening = min(doubted).split(":", 1)
        why = "An amount of the newest catch is not to be trusted: catch the same once more."
        return NextCatchAnswer(through=through, opening=opening, swaps=[], why=why)
    if after is None:
        return None
    swaps = [swap_words(one) for one in after.swaps]
    why = " ".join([_named(line_map, after.why), *_hung(line_map, after, standing)])
    return NextCatchAnswer(through=after.through, opening=after.opening, swaps=swaps, why=why)


def _named(line_map: LineMap, words: str) -> str:
    """Each part by the name that it has everywhere else; in an exchange the ports' numbers do, see below."""

    def name(found: re.Match[str]) -> str:
        kind, number = cast(PartKind, found[1].lower()), int(found[2])
        feeds = _feeds(line_map, number)
        named = part_name(PartName(part=kind, cylinder=number, feeds=feeds))
        said = named if feeds is None or kind == "port" else f"the {named}"
        return said if found[1].islower() else f"{said[:1].upper()}{said[1:]}"

    return _PART.sub(name, words)


def _hung(line_map: LineMap, after: NextCatch, standing: Sequence[Swap]) -> Iterator[str]:
    """Where the parts hang now that are to be put right before the catch."""
    for kind, number in after.mended:
        hangs = _hangs(line_map, kind, number, standing)
        if hangs:
            yield f"{_named(line_map, f'{kind} {number}').capitalize()} is {hangs}."


def _hangs(line_map: LineMap, kind: str, port: int, standing: Sequence[Swap]) -> str:
    return hangs_after(kind, line_map.cylinder(port), line_map, standing) if kind in KINDS else ""


def _feeds(line_map: LineMap, port: int) -> int | None:
    cylinder = line_map.cylinder(port)
    return None if cylinder == port else cylinder


def _numbers_of(after: NextCatch | None, line_map: LineMap) -> Iterator[str]:
    """Which cylinders an exchange is about, where these have other numbers than the ports that it names."""
    ports = sorted({port for _, *both in after.swaps for port in both}) if after is not None else []
    if any(_feeds(line_map, port) for port in ports):
        fed = ", ".join(f"port {port} feeds cylinder {line_map.cylinder(port)}" for port in ports)
        yield f"An exchange names lines and injectors by their ports: {fed}."


def _forgotten_exchange(weighed: Weighed) -> Iterator[str]:
    """The same shortfall at two ports in two catches: perhaps an exchange that nobody wrote down."""
    for one, other in combinations(weighed.evenness.suspect_amounts, 2):
        runs = weighed.runs[one.run], weighed.runs[other.run]
        if runs[0].key != runs[1].key or one.run == other.run or one.position == other.position:
            continue
        amounts = runs[0].amounts[one.position], runs[1].amounts[other.position]
        if amounts[0] and amounts[1] and abs(amounts[0] - amounts[1]) <= 0.1 * max(amounts[0], amounts[1]):
            yield (
                f"{key_words(runs[0].key)}: the same shortfall at port {one.position + 1} and then at port "
                f"{other.position + 1}. Was something exchanged in between? If so, mend the catch with it."
            )


def _verdict(p: float | None, weighed: Weighed, leaks: Sequence[int]) -> Word:
    """Outside where fuel leaves a port at rest. Not within while a kind of catch tells of a part that is no
    longer there, or of an amount that is better not believed.
    """
    if leaks:
        return "outside"
    word = "cannot_tell" if p is None else word_for(p)
    return "cannot_tell" if word == "within" and (weighed.outdated or weighed.doubted) else word


def _run(index: int, fact: CatchFact, weighed: Weighed | None, units: str | None) -> RunAnswer:
    flows = [
        None if amount is None else amount / duration * ML_PER_MIN
        for amount, duration in zip(fact.amounts, fact.durations, strict=True)
    ]
    doubts = [
        None if amount is None else u / duration * ML_PER_MIN
        for amount, u, duration in zip(fact.amounts, fact.u, fact.durations, strict=True)
    ]
    place = weighed.facts.index(fact) if weighed and fact in weighed.facts else None
    run = weighed.runs[place] if weighed and place is not None else None
    return RunAnswer(
        catch=index,
        entry=fact.told.entry,
        at=fact.told.at or None,
        through=fact.through,
        opening=fact.opening,
        amounts=_millilitres(fact),
        typed=list(fact.typed),
        shown=_shown(fact, units),
        unit="ml",
        durations=list(fact.durations),
        flows=flows,
        u_flows=doubts,
        seen_spread=None if run is None else observed_spread(run),
        sticks_out=_sticks_out(weighed, place),
        swaps=[swap_words(one) for one in fact.swaps],
        discarded=fact.discard,
        basis=fact.basis,
        notes=list(fact.notes),
    )


def _sticks_out(weighed: Weighed | None, place: int | None) -> SticksOut | None:
    seen = weighed.evenness.outliers.get(place) if weighed and place is not None else None
    if seen is None or not seen.sticks_out:
        return None
    return SticksOut(position=seen.position + 1, g=seen.g, critical=seen.critical)


def _millilitres(fact: CatchFact) -> list[float | None]:
    return [None if amount is None else in_unit(amount, "ml") for amount in fact.amounts]


def _shown(fact: CatchFact, units: str | None) -> list[str | None]:
    if units is None:
        return [text or None for text in fact.typed]
    return [None if amount is None else _amount(amount, units) for amount in fact.amounts]


def _amount(amount: float, units: str) -> str:
    """To a hundredth of a fluid ounce or a tenth of a millilitre: what a container can be read to."""
    unit = unit_for("volume", units)
    return f"{in_unit(amount, unit):.{1 if unit == 'ml' else 2}f} {label(unit)}"
