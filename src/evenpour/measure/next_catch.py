"""The catch to make next: the swap that would tell, or the next one in the plain order.

While parts share a blame, a short list of catches is scored by how much doubt each is expected to leave
(``catch_gain``) and the quickest of the good ones is taken. With nothing to divide the plain order holds:
bare lines first, then through the injectors, each from the smallest opening to the largest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.measure import arrangements, catch_gain
from evenpour.measure.arrangements import Candidate, Swap
from evenpour.measure.catch_gain import Foreseen
from evenpour.measure.catch_words import use_of
from evenpour.measure.catches import THROUGH, Part, Run
from evenpour.measure.dry_paths import Blocked
from evenpour.measure.part_findings import PartFinding
from evenpour.measure.suspects import Suspect
from evenpour.measure.verdicts import SURE
from evenpour.measure.visibility import PLAIN, Sight

#: Candidates this close to the best are as good; the quickest of them is taken.
AS_GOOD = 0.85
#: Expected gain below which catching tells nothing more, [nat].
NOTHING = 0.03
#: A part is named from here on, doubtful from there on; even is believed from 0.95.
NAMED, DOUBTFUL, BELIEVED = 0.9, 0.2, SURE
#: A line that looks perfect bare passes the full load at its full head, so behind it at a third of that head
#: the injector still gets more than this share of its fuel: sqrt(1.6 / 4.9) is 0.57, and some reserve.
STARVED = 0.5
#: An undivided group this likely is divided before a doubtful amount is caught again.
LIKELY = 0.5


@dataclass(frozen=True, slots=True)
class NextCatch:
    """A catch worth making. ``swaps`` count from the home arrangement, by the parts' own numbers, in turn.

    ``spare``: own number of a line to be replaced by a known good one for this catch, if any.
    ``mended``: the parts that are put right before it, kind and own number.
    """

    through: str
    opening: str
    swaps: tuple[Swap, ...]
    why: str
    minutes: float
    information: float  # expected fall of the doubt, [nat]; 0 in the plain order
    spare: int | None = None
    mended: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Situation:
    """What the choice of the next catch looks at."""

    runs: Sequence[Run]
    used: Sequence[int]
    parts: Sequence[Part]
    limits: Mapping[str, float | None]
    foreseen: Foreseen | None
    blocked: Blocked
    findings: Sequence[PartFinding]
    undivided: Sequence[Sequence[tuple[str, int]]]
    even_by_run: Mapping[str, float]
    suspects: Sequence[Suspect]
    lines_swappable: bool
    sight: Sight = PLAIN


def choose(now: Situation) -> tuple[NextCatch | None, tuple[str, ...]]:
    """The next catch and remarks; ``None`` when everything was caught and nothing is in doubt."""
    if not now.used:
        first = _openings(now)[:1] or ("idle",)
        return NextCatch(
            "lines", first[0], (), "Nothing usable has been caught yet.", arrangements.CATCH, 0.0
        ), ()
    unproved = _unproved_suspect(now)
    if unproved is not None and _heaviest_blame(now) < LIKELY:
        return unproved, ()
    if now.undivided or _doubtful(now):
        found = _telling(now)
        if found is not None:
            return found, ()
    named = [finding for finding in now.findings if (finding.p_off or 0.0) >= NAMED]
    if named:
        return _before_buying(now, named) or _after_repair(now, named), ()
    return _plain_order(now)


def _unproved_suspect(now: Situation) -> NextCatch | None:
    """A suspect amount without a second, sound one of the same catch: the same again comes first."""
    doubted = {(suspect.run, suspect.position) for suspect in now.suspects}
    standing = _standing(now)
    for suspect in now.suspects:
        run = now.runs[suspect.run]
        if run.key not in standing:
            continue  # caught again anyway, for a part that was changed
        sound = any(
            now.runs[index].key == run.key
            and now.runs[index].amounts[suspect.position] is not None
            and (index, suspect.position) not in doubted
            for index in now.used
        )
        if not sound:
            why = (
                f"The amount at port {suspect.position + 1} of catch {suspect.run + 1} is not to be trusted: "
                "mend it if it is a slip of the pen, else catch the same once more."
            )
            return NextCatch(run.through, run.opening, (), why, arrangements.CATCH, 0.0)
    return None


def _doubtful(now: Situation) -> bool:
    unsure = any(DOUBTFUL <= (finding.p_off or 0.0) < NAMED for finding in now.findings)
    standing = _standing(now)
    cannot_tell = any(1.0 - BELIEVED < p < BELIEVED for key, p in now.even_by_run.items() if key in standing)
    return unsure or cannot_tell


def _heaviest_blame(now: Situation) -> float:
    """Probability that the most blamed undivided group holds a part that is off."""
    chances = {(finding.kind, finding.number): finding.p_off or 0.0 for finding in now.findings}
    return max((sum(chances.get(part, 0.0) for part in group) for group in now.undivided), default=0.0)


def _standing(now: Situation) -> set[str]:
    """Keys whose newest catch ran through nothing that has been changed since."""
    gone = {(part.kind, part.identity) for part in now.parts if not part.current}
    newest = {now.runs[index].key: now.runs[index] for index in now.used}
    return {
        key
        for key, run in newest.items()
        if not any(part in gone for position in range(run.size) for part in run.path(position))
    }


def _telling(now: Situation) -> NextCatch | None:
    suspicion: dict[str, dict[int, float]] = {}
    for finding in now.findings:
        suspicion.setdefault(finding.kind, {})[finding.number] = finding.p_off or 0.0
    newest = now.runs[now.used[-1]]
    listed = candidates(
        now.parts,
        now.runs,
        _openings(now),
        _largest(now, newest.through),
        newest.through,
        suspicion,
        lines_swappable=now.lines_swappable,
        sight=now.sight,
    )
    scored = [(candidate, _gain(now, candidate)) for candidate in listed]
    found = best(scored)
    if found is None:
        return None
    candidate, information = found
    why = _why(now, candidate)
    return NextCatch(
        candidate.through,
        candidate.opening,
        candidate.swaps,
        why,
        candidate.minutes,
        information,
        candidate.spare,
    )


def _gain(now: Situation, candidate: Candidate) -> float:
    total = catch_gain.dry_gain(now.blocked, candidate, now.parts)
    if now.foreseen is not None:
        current = np.array([float(part.current) for part in now.foreseen.model.parts])
        total += catch_gain.gain(now.foreseen, current, candidate, now.parts, now.runs, now.sight)
    return total


def candidates(
    parts: Sequence[Part],
    runs: Sequence[Run],
    openings: Sequence[str],
    showing: str,
    through: str,
    suspicion: Mapping[str, Mapping[int, float]],
    *,
    lines_swappable: bool,
    sight: Sight = PLAIN,
) -> list[Candidate]:
    """The short list.

    Args:
        openings: Openings of the sheet, smallest first.
        showing: Opening at which the leading suspect shows best among those caught.
        through: How the newest catch was made.
        suspicion: Kind -> own number -> probability of being off.
    """
    found = [Candidate(through, showing, (), arrangements.CATCH, "again")]
    caught = {run.key for run in runs}
    lift = sight.lift(showing)
    larger = [
        opening for opening in openings if f"{through}:{opening}" not in caught and sight.lift(opening) > lift
    ]
    if larger:
        found.append(Candidate(through, larger[0], (), arrangements.CATCH, "opening"))
    if through == "injectors":
        found.append(
            Candidate("lines", showing, (), arrangements.CATCH + arrangements.FIT_INJECTORS, "through")
        )
    elif arrangements.numbers(parts, "injector"):
        found.append(
            Candidate("injectors", showing, (), arrangements.CATCH + arrangements.FIT_INJECTORS, "through")
        )
    kinds = [kind for kind in ("injector", "line") if kind == "injector" or lines_swappable]
    for kind in kinds:
        order = arrangements.numbers(parts, kind)
        row = {number: suspicion.get(kind, {}).get(number, 0.0) for number in order}
        if not order:
            continue
        worst = max(order, key=lambda number: row[number])
        least = min(range(len(order)), key=lambda place: row[order[place]])
        for way in ("injectors",) if kind == "injector" else (through,):
            fitting = arrangements.FIT_INJECTORS if way != through else 0.0
            for name, swaps in arrangements.moved(kind, order, worst if row[worst] > 0.02 else None, least):
                minutes = arrangements.CATCH + fitting + arrangements.swap_minutes(swaps)
                found.append(Candidate(way, showing, swaps, minutes, name))
    lines = suspicion.get("line", {})
    if not lines_swappable and lines:
        spare = max(lines, key=lambda number: lines[number])
        minutes = arrangements.CATCH + arrangements.SPARE_LINE
        found.append(Candidate(through, showing, (), minutes, "spare", spare))
    return found


def best(scored: Sequence[tuple[Candidate, float]]) -> tuple[Candidate, float] | None:
    """The quickest of those that tell about as much as the best; ``None`` if none tells anything."""
    top = max((information for _, information in scored), default=0.0)
    if top < NOTHING:
        return None
    good = [item for item in scored if item[1] >= AS_GOOD * top]
    return min(good, key=lambda item: (item[0].minutes, -item[1]))


def _openings(now: Situation) -> tuple[str, ...]:
    """Openings with a limit, smallest first."""
    known = [opening for opening, limit in now.limits.items() if limit is not None]
    return tuple(sorted(known, key=lambda opening: (now.sight.lift(opening), opening)))


def _largest(now: Situation, through: str) -> str:
    """The largest opening caught in one way, with a limit if any has: restrictions show best there."""
    alike = [now.runs[index].opening for index in now.used if now.runs[index].through == through]
    return max(alike, key=lambda opening: (now.limits.get(opening) is not None, now.sight.lift(opening)))


def _why(now: Situation, candidate: Candidate) -> str:
    blamed = _blamed(now)
    trouble = (
        f"These catches cannot tell {blamed} apart." if blamed else "One more catch is needed to be sure."
    )
    return f"{trouble} {use_of(candidate)}"


def _blamed(now: Situation) -> str:
    chances = {(finding.kind, finding.number): finding.p_off or 0.0 for finding in now.findings}
    groups = sorted(now.undivided, key=lambda group: -sum(chances.get(part, 0.0) for part in group))
    return _listed([f"{kind} {number}" for kind, number in groups[0]]) if groups else ""


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _before_buying(now: Situation, named: Sequence[PartFinding]) -> NextCatch | None:
    """Exchange an injector that pours too little, where only its own line was ever before it.

    A starving line can look perfect bare, so however likely the injector is, a swap costs less than a part.
    """
    order = arrangements.numbers(now.parts, "injector")
    for finding in named:
        starved = finding.kind == "injector" and STARVED - 1.0 < finding.deviation < 0.0
        if not starved or len(order) < 2 or len(_lines_before(now, finding.number)) > 1:
            continue
        swaps = arrangements.farthest("injector", order, finding.number)
        candidate = Candidate("injectors", _largest(now, "injectors"), swaps, arrangements.CATCH, "farthest")
        why = (
            f"Injector {finding.number} has only been caught behind its own line, and a line that starves "
            f"its injector can look perfect bare: exchange it before buying. {use_of(candidate)}"
        )
        minutes = candidate.minutes + arrangements.swap_minutes(swaps)
        return NextCatch(candidate.through, candidate.opening, swaps, why, minutes, 0.0)
    return None


def _lines_before(now: Situation, injector: int) -> set[int]:
    """Identities of the lines before the injector that now bears this number, over all catches."""
    (identity,) = (
        part.identity
        for part in now.parts
        if part.kind == "injector" and part.current and part.number == injector
    )
    runs = [now.runs[index] for index in now.used]
    return {
        run.lines[run.injectors.index(identity)]
        for run in runs
        if run.injectors and identity in run.injectors
    }


def _after_repair(now: Situation, named: Sequence[PartFinding]) -> NextCatch:
    parts = tuple((finding.kind, finding.number) for finding in named)
    names = _listed([f"{kind} {number}" for kind, number in parts])
    ways = {now.runs[index].through for index in now.used}
    through = "injectors" if "injectors" in ways else "lines"
    opening = _largest(now, through)
    why = f"Put {names} right first, everything back in its own place; then this catch proves it."
    return NextCatch(through, opening, (), why, arrangements.CATCH, 0.0, mended=parts)


def _plain_order(now: Situation) -> tuple[NextCatch | None, tuple[str, ...]]:
    openings = _openings(now)
    caught, standing = {now.runs[index].key for index in now.used}, _standing(now)
    for through in THROUGH:
        for opening in openings:
            if f"{through}:{opening}" not in standing:
                fitting = (
                    arrangements.FIT_INJECTORS
                    if through == "injectors" and not _any(caught, through)
                    else 0.0
                )
                return NextCatch(
                    through,
                    opening,
                    (),
                    _plain_why(now, through, opening, caught),
                    arrangements.CATCH + fitting,
                    0.0,
                ), ()
    if not openings:
        return None, ("The sheet gives no limit for any opening, so nothing says what to catch next.",)
    uneven = [key for key, p in now.even_by_run.items() if p < BELIEVED]
    if uneven:
        return None, (f"Further catches would tell little more; not shown to be even: {', '.join(uneven)}.",)
    return None, ("Every opening has been caught, bare and through the injectors, and all are even.",)


def _plain_why(now: Situation, through: str, opening: str, caught: set[str]) -> str:
    if f"{through}:{opening}" in caught:
        return "A part of it has been changed since this was caught: catch the same once more."
    if through == "injectors" and not _any(caught, through):
        return (
            "Bare lines are done at every opening: now through the injectors, from the smallest opening on."
        )
    if not caught:
        return "Start with bare lines at the smallest opening."
    lifts = [now.sight.lift(key.partition(":")[2]) for key in caught if key.startswith(f"{through}:")]
    if not any(lift < now.sight.lift(opening) for lift in lifts):
        return "Nothing stands out so far. This opening has not been caught yet."
    return (
        "Nothing stands out so far. An even catch at a small opening clears no line and no injector: "
        "catch at the next larger one."
    )


def _any(caught: set[str], through: str) -> bool:
    return any(key.startswith(f"{through}:") for key in caught)
