"""Catches of a job weighed together: which part stood where in each run, and what that says of every part."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from evenpour.errors import FieldProblem
from evenpour.job.catch.facts import CatchFact
from evenpour.job.catch.kept import kept_or_weighed
from evenpour.job.engine_model import kind_of_sheet
from evenpour.job.facts import Facts, TouchFact
from evenpour.job.wording import even_words
from evenpour.machine.line_map import LineMap, line_map_of
from evenpour.machine.sheet import Sheet
from evenpour.machine.visibility import sight
from evenpour.measure.evenness import Evenness, Part, Run, evenness
from evenpour.measure.visibility import PLAIN, Sight

# After these a part is another one as far as its flow goes; taking it off and putting it back changes
# nothing in it.
ANOTHER = frozenset({"replaced", "cleaned", "adjusted"})
REST_SECONDS = 55.0  # "nothing for a minute", with a thumb on the watch (common practice, no source)
# Whose touch changes which kind of path; without a cylinder, all of the kind.
KIND_OF = {
    "injector": "injector",
    "line": "line",
    "port": "port",
    "pressure_valve": "port",
    "fuel_distributor": "port",
    "plunger": "port",
}


@dataclass(slots=True)
class _Fitted:
    """Which identity stands at each number, as touches go by."""

    line_map: LineMap
    now: dict[str, list[int]] = field(default_factory=dict)
    made: dict[str, list[int]] = field(default_factory=dict)  # own number of every identity ever, by kind

    def __post_init__(self) -> None:
        for kind in ("port", "line", "injector"):
            self.now[kind] = list(range(len(self.line_map.fed)))
            self.made[kind] = list(range(1, len(self.line_map.fed) + 1))

    def touched(self, touch: TouchFact) -> None:
        kind = KIND_OF.get(touch.part)
        if kind is None or touch.action not in ANOTHER:
            return
        every = range(1, len(self.line_map.fed) + 1)
        numbers = every if touch.cylinder is None else (self.line_map.port(touch.cylinder),)
        for number in numbers:
            self.now[kind][number - 1] = len(self.made[kind])
            self.made[kind].append(number)

    def row(self, kind: str, swaps: Iterable[tuple[str, int, int]]) -> tuple[int, ...]:
        """Identity at each port for one run."""
        places = list(self.now[kind])
        for swapped, first, second in swaps:
            if swapped == kind:
                # Swaps are told one after the other by the parts' own numbers.
                a, b = (places.index(self.now[kind][number - 1]) for number in (first, second))
                places[a], places[b] = places[b], places[a]
        return tuple(places)


@dataclass(frozen=True, slots=True)
class Weighed:
    """The catches that count, as runs, with what they say. ``runs`` and ``facts`` run alike."""

    facts: tuple[CatchFact, ...]
    runs: tuple[Run, ...]
    evenness: Evenness
    outdated: frozenset[str]  # kinds of catch whose newest run still had a part in it that was changed since

    @property
    def doubted(self) -> frozenset[str]:
        """Kinds of catch whose newest run has an amount that is better not believed."""
        newest = {fact.key: fact for fact in self.facts}
        return frozenset(key for key, fact in newest.items() if _doubted(self, fact))


def weigh(facts: Facts, sheet: Sheet, *, until: int | None = None) -> Weighed | None:
    """Weigh the catches up to rank *until* (all, if None); None where there is none.

    Catches marked as discarded (purge runs) are left out. A part that was replaced, cleaned or adjusted is
    another
    part from then on: older runs still tell of all the others.
    """
    caught = [
        fact for fact in facts.catches if not fact.discard and (until is None or fact.told.rank <= until)
    ]
    if not caught:
        return None
    last = caught[-1].told.rank if until is None else until
    touches = [touch for touch in facts.touches if until is None or touch.told.rank <= last]
    fitted = _Fitted(line_map_of(sheet))
    runs: list[Run] = []
    happenings: list[CatchFact | TouchFact] = sorted([*caught, *touches], key=lambda one: one.told.rank)
    for one in happenings:
        if isinstance(one, CatchFact):
            runs.append(_run(one, fitted))
        else:
            fitted.touched(one)
    parts = [
        Part(kind, number, identity, current=fitted.now[kind][number - 1] == identity)
        for kind, numbers in fitted.made.items()
        for identity, number in enumerate(numbers)
    ]
    swappable = sheet.word("lines_swappable") != "no"
    limits = _limits(sheet, runs)
    seen, remarks = _sight(sheet, limits)
    result = _evenness(tuple(runs), tuple(parts), tuple(limits.items()), swappable, seen)
    result = replace(result, notes=(*remarks, *result.notes))
    return Weighed(tuple(caught), tuple(runs), result, _outdated(runs, parts))


@lru_cache(maxsize=64)
def _evenness(
    runs: tuple[Run, ...],
    parts: tuple[Part, ...],
    limits: tuple[tuple[str, float | None], ...],
    swappable: bool,
    seen: Sight,
) -> Evenness:
    """Weighing takes a tenth of a second, and one question asks for the same catches several times."""

    def weigh_them() -> Evenness:
        return evenness(runs, parts, dict(limits), lines_swappable=swappable, sight=seen)

    return kept_or_weighed(weigh_them, runs, parts, limits, swappable, seen)


def _sight(sheet: Sheet, openings: Iterable[str]) -> tuple[Sight, tuple[str, ...]]:
    """How strongly each fault shows, and a remark where the sheet's values make no engine to ask."""
    try:
        return sight(kind_of_sheet(sheet), openings), ()
    except FieldProblem as problem:
        remark = f"How strongly each fault shows is not from this engine, which cannot be computed: {problem}"
        return PLAIN, (remark,)


def _outdated(runs: Sequence[Run], parts: Sequence[Part]) -> frozenset[str]:
    gone = {(part.kind, part.identity) for part in parts if not part.current}
    newest = {run.key: run for run in runs}
    return frozenset(
        key
        for key, run in newest.items()
        if any(one in gone for position in range(run.size) for one in run.path(position))
    )


def _limits(sheet: Sheet, runs: Sequence[Run]) -> Mapping[str, float | None]:
    known = sheet.evenness_limits()
    return {**known, **{run.opening: known.get(run.opening) for run in runs}}


def _run(fact: CatchFact, fitted: _Fitted) -> Run:
    through_injectors = fact.through == "injectors"
    return Run(
        through=fact.through,
        opening=fact.opening,
        amounts=fact.amounts,
        u=fact.u,
        durations=fact.durations,
        u_duration=fact.u_duration,
        timed_each=fact.timed_each,
        ports=fitted.row("port", ()),
        lines=fitted.row("line", fact.swaps),
        injectors=fitted.row("injector", fact.swaps) if through_injectors else None,
        containers=fact.containers,
        u_container=fact.u_container,
        typed=fact.typed,
    )


@dataclass(frozen=True, slots=True)
class CatchProof:
    """What the catches of one kind said of evenness, between two touches of what they rest on."""

    key: str
    rank: int
    oldest: int
    at: str
    entry: str
    p: float | None
    words: str
    doubted: (
        bool  # an amount of the newest catch is better not believed: it proves nothing until caught again
    )


def catch_proofs(
    facts: Facts, sheet: Sheet, keys: Iterable[str], touches_of: Callable[[str], Sequence[int]]
) -> tuple[CatchProof, ...]:
    """One proof for each stretch between touches in which catches of a kind were made.

    Args:
        keys: ``lines:idle`` and so on.
        touches_of: Ranks of the touches that age evenness of that key.
    """
    weighed: dict[int, Weighed | None] = {}
    found = []
    for key in keys:
        caught = [fact for fact in facts.catches if fact.key == key and not fact.discard]
        for stretch, end in _stretches(caught, sorted(touches_of(key)), facts.last_rank):
            # Everything caught in the stretch counts, also later catches of another kind.
            until = max(fact.told.rank for fact in facts.catches if fact.told.rank <= end)
            if until not in weighed:
                weighed[until] = weigh(facts, sheet, until=until)
            found.append(_proof(key, stretch, weighed[until], sheet))
    return tuple(found)


def _stretches(
    caught: Sequence[CatchFact], touches: Sequence[int], last: int
) -> Iterable[tuple[list[CatchFact], int]]:
    ends = [*(rank for rank in touches), last + 1]
    begin = -1
    for end in ends:
        inside = [fact for fact in caught if begin < fact.told.rank <= end]
        if inside:
            yield inside, end
        begin = end


def _proof(key: str, stretch: Sequence[CatchFact], weighed: Weighed | None, sheet: Sheet) -> CatchProof:
    newest = stretch[-1].told
    p = weighed.evenness.even_by_run.get(key) if weighed else None
    spread = weighed.evenness.spread_by_run.get(key) if weighed else None
    limit = sheet.evenness_limits().get(key.split(":")[1])
    words = "cannot tell yet"
    if spread is not None and limit is not None and p is not None:
        words = (
            f"spread {100 * spread.value:.1f} ± {200 * spread.u:.1f} %, limit {100 * limit:.0f} %: "
            f"{', '.join(even_words(p))}"
        )
    doubted = weighed is not None and _doubted(weighed, stretch[-1])
    if doubted:
        words += "; an amount of the newest catch is not to be trusted, so catch again"
    return CatchProof(key, newest.rank, stretch[0].told.rank, newest.at, newest.entry, p, words, doubted)


def _doubted(weighed: Weighed, fact: CatchFact) -> bool:
    """Whether evenness rests on an amount of this catch having been spoilt.

    Two such catches in turn may as well be an exchange that nobody wrote down.
    """
    run = weighed.facts.index(fact)
    return any(suspect.run == run for suspect in weighed.evenness.suspect_amounts)


def at_rest(fact: CatchFact) -> dict[int, str]:
    """Port -> ``pours``, ``dry`` or ``cannot tell``; lost amounts are left out.

    Dry is nothing at all in the minute that the check asks for; a trace within the reading's doubt is
    neither.
    """
    found = {}
    for port, (amount, u) in enumerate(zip(fact.amounts, fact.u, strict=True), start=1):
        if amount is not None:
            whole = fact.durations[port - 1] >= REST_SECONDS and amount == 0.0
            found[port] = "pours" if amount > 2.0 * u else "dry" if whole else "cannot tell"
    return found


def leaking(facts: Facts, line_map: LineMap) -> tuple[int, ...]:
    """Ports that let fuel through at rest by the newest that was seen of each, and nothing put right
    since. What was seen without a catch was entered for the cylinder.
    """
    seen: dict[int, bool] = {}
    resting = (fact for fact in facts.catches if fact.opening == "rest" and not fact.discard)
    told = [(fact.told.rank, _poured(fact)) for fact in resting]
    told += [
        (one.told.rank, {line_map.port(one.reading.cylinder): one.reading.choice != "dry"})
        for one in facts.readings
        if one.check.id == "rest_delivery" and one.reading.cylinder is not None
    ]
    mended = [touch.told.rank for touch in facts.touches if touch.part in ("fuel_distributor", "plunger")]
    for rank, found in sorted(told, key=lambda one: one[0]):
        if not any(touched > rank for touched in mended):
            seen |= found
    return tuple(sorted(port for port, leaks in seen.items() if leaks))


def _poured(fact: CatchFact) -> dict[int, bool]:
    return {port: word == "pours" for port, word in at_rest(fact).items() if word != "cannot tell"}
