"""Which of a job's readings tell where the mixture screw stands, and where it stood at each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from evenpour.job.causes.facts import home_of
from evenpour.job.facts import ReadingFact
from evenpour.job.screw.facts import SCREW, fitted_at, mixture_book
from evenpour.machine.asking import query
from evenpour.machine.kind import Kind
from evenpour.machine.situation import Situation
from evenpour.measure.limits import Band, Limit, band
from evenpour.measure.readings import Condition
from evenpour.tune.screw_advice import Window
from evenpour.tune.screw_ledger import Ledger, Line
from evenpour.tune.screw_posterior import PLAYS, Seen
from evenpour.tune.screw_response import Response, responses

if TYPE_CHECKING:
    from evenpour.job.job import Job

CHECKS = ("exhaust_co", "exhaust_lambda", "lambda_duty")
CLAIM = "idle_mixture_right"
BESIDE = (SCREW, "idle_air_screw")  # screws whose moves are followed, or hardly change the mixture
AIR_DOUBT = 3.0  # K, of the air at the plate where nobody said how warm it was; common practice, no source
NEWEST = 12  # readings; older ones tell little more
WIDTHS = {"exhaust_co": 0.01, "exhaust_lambda": 0.02, "lambda_duty": 0.2}  # of a window open on one side; cp


@dataclass(frozen=True, slots=True)
class Usable:
    """A reading of the warm idle that the sheet has a window for."""

    fact: ReadingFact
    window: Window
    source: str

    @property
    def rank(self) -> int:
        """Its place in the order of the job."""
        return self.fact.told.rank


@dataclass(frozen=True, slots=True)
class Sorted:
    """The readings that tell something, oldest first; why others do not, in words, each once."""

    usable: tuple[Usable, ...]
    left_out: tuple[str, ...]
    since: int


def windows(job: Job) -> list[Limit]:
    """The sheet's windows for a warm idle that the screw is set by."""
    return [limit for check in CHECKS for limit in job.sheet.limits_for(check) if _is_window(limit)]


def _is_window(limit: Limit) -> bool:
    state, sensor = limit.when.get("state"), limit.when.get("sensor")
    idles = state is not None and "idle_warm" in state.choices
    controls = limit.check != "lambda_duty" or sensor is None or "connected" in sensor.choices
    return idles and controls and (limit.low is not None or limit.high is not None)


def sorted_readings(job: Job) -> Sorted:
    """Which readings count, and which do not."""
    limits = windows(job)
    since, because = _since(job)
    usable: list[Usable] = []
    left_out: dict[str, None] = {}
    for fact in job.facts.readings:
        mine = [limit for limit in limits if limit.check == fact.check.id]
        if not mine or not fact.reading.values or _elsewhere(fact):
            continue
        if fact.told.rank < since:
            left_out[f"readings of the idle from before {because} tell nothing of it now"] = None
            continue
        found = _held(fact, mine, job.system)
        if isinstance(found, Usable):
            usable.append(found)
        else:
            left_out[f"{fact.check.title} {', '.join(fact.typed)}: {found}"] = None
    return Sorted(tuple(usable[-NEWEST:]), tuple(left_out), since)


def _elsewhere(fact: ReadingFact) -> bool:
    """Read in another state than a warm idle, or of a duty that is held: never meant for the screw."""
    state, sensor = (fact.reading.conditions.get(name) for name in ("state", "sensor"))
    elsewhere = state is not None and state.choice != "idle_warm"
    held = fact.check.id == "lambda_duty" and sensor is not None and sensor.choice != "connected"
    return elsewhere or held


def _held(fact: ReadingFact, limits: Sequence[Limit], system: str) -> Usable | str:
    """The reading with the window it is held against, or why there is none."""
    conditions = fact.reading.conditions
    probe = conditions.get("probe")
    if fact.check.id != "lambda_duty" and probe is not None and probe.choice == "after_catalyst":
        return "behind the catalyst it says nothing about the screw; read it before"
    why = ""
    for limit in limits:
        here = band(limit, conditions, system)
        if isinstance(here, Band):
            return Usable(fact, _window(limit.check, here), limit.source)
        why = here.settle
    return why


def _window(check: str, here: Band) -> Window:
    """Both sides; one that the sheet leaves open lies as far off as is usual."""
    width = WIDTHS[check]
    low = here.low if here.low is not None else max((here.high or 0.0) - width, 0.001)
    return Window(check, low, here.high if here.high is not None else low + width)


def _since(job: Job) -> tuple[int, str]:
    """Where the idle's readings begin to count: after what was last done to a part that it rests on."""
    claim = job.plan.claim[CLAIM]
    found = [(-1, "")]
    for name in claim.rests_on:
        for item in job.plan.items(name, None) if name not in BESIDE else ():
            found += [(one.rank, one.words) for one in job.state.touched.get(item, ())]
    for what in claim.ages_on:
        found += [(one.rank, what.replace("_", " ")) for one in job.state.happened.get(what, ())]
    return max([*found, (fitted_at(job.facts), "the mixture screw was replaced")])


def seen_of(job: Job, kind: Kind, usable: Sequence[Usable], book: Ledger) -> list[Seen]:
    """The same readings as the search for the screw takes them, repeats one by one."""
    home = home_of(job)
    situations = [_situation(kind, one.fact, home) for one in usable]
    distinct = list(dict.fromkeys(situations))
    curves = dict(zip(distinct, responses(kind, home, distinct), strict=True))
    first = fitted_at(job.facts)
    books = [mixture_book(job.facts, job.state, play) for play in PLAYS]
    return [
        Seen(
            check=one.window.check,
            turns=position(book, first, one.rank) - book.total,
            lags=tuple(_lag(of, first, one.rank, play) for of, play in zip(books, PLAYS, strict=True)),
            value=value,
            u=one.fact.reading.u_b,
            response=curves[situation],
            u_lift=_air_doubt(one.fact, curves[situation]),
        )
        for one, situation in zip(usable, situations, strict=True)
        for value in one.fact.reading.values
    ]


def _situation(kind: Kind, fact: ReadingFact, home: Situation) -> Situation:
    stated = {name: _plain(one) for name, one in fact.reading.conditions.items()}
    asked = query(kind, fact.check.id, None, stated, home)
    return replace(asked.situation, engine="idle_warm", sensor="connected")


def _plain(one: Condition) -> float | str:
    return one.choice if one.choice is not None else one.value if one.value is not None else ""


def _air_doubt(fact: ReadingFact, response: Response) -> float:
    """What is not known of the air at the plate, in lift: lambda goes with the root of its temperature."""
    air = fact.reading.conditions.get("intake_temperature")
    kelvin, at = (air.u, air.value) if air is not None and air.value is not None else (AIR_DOUBT, 300.0)
    ends = [float(response.at("exhaust_lambda", lift)) for lift in (-0.05, 0.05)]
    return 0.5 * kelvin / at / (abs(ends[1] - ends[0]) / 0.1)


def position(book: Ledger, first: int, rank: int) -> float:
    """Where the key stood at *rank*, in the count of the screw that was fitted at *first*."""
    line = _line(book, first, rank)
    return line.total if line else 0.0


def _lag(book: Ledger, first: int, rank: int, play: float) -> tuple[float, float]:
    line = _line(book, first, rank)
    return line.lag if line else (0.0, play)


def _line(book: Ledger, first: int, rank: int) -> Line | None:
    """The last move of that screw before *rank*."""
    return next((line for line in reversed(book.lines) if first < line.turn.rank < rank), None)
