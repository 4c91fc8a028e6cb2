"""What a job says to the search for causes: each reading as a question to the model, with its value and
doubt.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from evenpour.causes.mended import SCREW
from evenpour.causes.observed import Observation
from evenpour.causes.unexplained import STRAY
from evenpour.job.catch.facts import CatchFact
from evenpour.job.causes.heater_volts import Volts, volts_at_the_heater
from evenpour.job.causes.ran_since import PLUG, RUNS, tried_in_vain
from evenpour.job.engine_model import checks_predicted
from evenpour.job.job import Job
from evenpour.job.judging import Judged
from evenpour.machine.asking import query
from evenpour.machine.checks import NumberCheck
from evenpour.machine.kind import Kind
from evenpour.machine.line_map import LineMap
from evenpour.machine.readout import Query
from evenpour.machine.situation import Situation
from evenpour.measure.readings import Condition
from evenpour.measure.uncertainty import combine
from evenpour.physics.blend import ethanol_share

OPEN_CIRCUIT = 1e6  # ohm, what an open circuit counts as
OPEN_FROM = (
    1e5  # ohm, from where none of these windings, heaters and leads lets anything through; a round figure
)
#: Conditions whose doubt moves a reading; those of the surroundings are known well enough.
DOUBTED = (
    "regulator_temperature", "body_temperature", "voltage", "pump_voltage", "after", "temperature",
    "intake_temperature", "vacuum", "opening", "soak",
)  # fmt: skip
AT_ODDS = 6.0  # standard uncertainties between two readings of the same, from which they contradict


@dataclass(frozen=True, slots=True)
class Told:
    """One observation with where it stands in the job. ``group`` is what was judged; None for a catch."""

    observation: Observation
    rank: int
    entry: str
    group: Judged | None = None
    caught: CatchFact | None = None


def observations(job: Job, kind: Kind) -> tuple[Told, ...]:
    """Everything read in the job that the model can read too, in order."""
    home = home_of(job)
    turns = moves(job)
    found = [*_readings(job, kind, home, turns), *_catches(job, kind, home, turns)]
    found.sort(key=lambda one: one.rank)
    numbers: dict[str, int] = {}
    return tuple(
        replace(
            one, observation=replace(one.observation, reading=numbers.setdefault(one.entry, len(numbers)))
        )
        for one in found
    )


def home_of(job: Job) -> Situation:
    """Where the job's car stands: height, fuel and air as the job says for all its readings."""
    general = job.facts.general
    return plain_home({name: _plain(one) for name, one in general.items()}, job)


def plain_home(stated: Mapping[str, float | str], job: Job) -> Situation:
    """The same from plain conditions."""
    density = job.sheet.number("fuel_reference_density")
    home = Situation(fuel_density=745.0 if density is None else density)
    fuel = stated.get("fuel")
    if isinstance(fuel, str):
        home = replace(home, fuel=ethanol_share(fuel))
    altitude, air = stated.get("altitude"), stated.get("ambient_temperature")
    return replace(
        home,
        altitude=home.altitude if altitude is None else altitude,
        ambient_temperature=home.ambient_temperature if air is None else air,
    )


def moves(job: Job) -> Sequence[tuple[int, float]]:
    """Moves of the mixture screw: the rank of each, and its turns, clockwise positive."""
    return [
        (one.told.rank, one.turns) for one in job.facts.touches if one.part == SCREW and one.turns is not None
    ]


def _screw_at(rank: int, moves: Sequence[tuple[int, float]]) -> float:
    """Where the mixture screw stood at *rank*, in turns from where it stands now."""
    return -math.fsum(turns for when, turns in moves if when > rank)


def _plain(one: Condition) -> float | str:
    return one.choice if one.choice is not None else one.value if one.value is not None else ""


def _readings(job: Job, kind: Kind, home: Situation, moves: Sequence[tuple[int, float]]) -> Iterator[Told]:
    known = checks_predicted()
    volts = volts_at_the_heater(job)
    for group in volts.readings:
        check = known.get(group.check.id)
        if check is None or group.check.spread_of is not None or group.check.id == "catch":
            continue
        reading = group.reading
        stated = volts.stated(group, {name: _plain(one) for name, one in reading.conditions.items()})
        if _after_cranking(job, group, stated):
            stated["engine"] = "cranking"  # what lies on it came since
        rank = group.rank
        screw = _screw_at(rank, moves)
        asked = _asked(kind, group, stated, home, screw, volts)
        value, u = None, 0.0
        if isinstance(check, NumberCheck):
            estimate = combine(agreeing(check, reading.values, reading.u_b), reading.u_b)
            value, u = estimate.value, estimate.u
            if value >= OPEN_FROM and group.check.dimension == "resistance":
                value, u = OPEN_CIRCUIT, OPEN_CIRCUIT * _doubt_of_open(check, group.check.sense)
        shifted = tuple(
            _asked(kind, group, {**stated, name: one.value + one.u}, home, screw, volts)
            for name, one in reading.conditions.items()
            if name in DOUBTED and name in stated and one.value is not None and one.u > 0.0
        )
        observation = Observation(
            check, asked, value, u, reading.choice, 0, shifted, group.check.sense, group.check.named
        )
        yield Told(observation, rank, group.facts[-1].told.entry, group=group)


def _asked(
    kind: Kind,
    group: Judged,
    stated: Mapping[str, float | str],
    home: Situation,
    screw: float,
    volts: Volts,
) -> Query:
    check, cylinder = group.check.id, group.reading.cylinder
    return volts.asked(group, _ask(kind, check, cylinder, stated, home, screw))


def _after_cranking(job: Job, group: Judged, stated: Mapping[str, float | str]) -> bool:
    """Whether a plug's look is of cranking in vain; how warm the engine was does not say otherwise."""
    if group.check.id != PLUG or stated.keys() & {"after", "state"} or stated.get("engine") in RUNS:
        return False
    return tried_in_vain(job.judged, before=group.rank) is not None


def _doubt_of_open(check: NumberCheck, sense: tuple[float, float] | None) -> float:
    """Standard uncertainty of an open circuit, in logarithm.

    "Open" is a word rather than a number: what reads so may be open by whatever it likes, and a test lead
    that makes no contact reads the same. So wide that the word, where a stray reading might lie anywhere
    that makes *sense*, is as surely believed as a word is that is misread as often as its check says.
    """
    low, high = sense or (0.0, OPEN_CIRCUIT)
    anywhere = float(check.compared(high) - check.compared(low))
    return anywhere / math.sqrt(2.0 * math.pi) * check.misread / STRAY


def _finite(value: float) -> float:
    return value if math.isfinite(value) else OPEN_CIRCUIT


def _apart(check: NumberCheck, low: float, high: float, u: float) -> bool:
    """Whether two readings of one thing contradict each other, as they are compared."""
    low, high = _finite(low), _finite(high)
    doubt = math.hypot(*(check.compared_u(value, u) for value in (low, high))) / math.sqrt(2.0)
    between = float(check.compared(high) - check.compared(low))
    return between > AT_ODDS * math.hypot(doubt, check.repeats)


def contradict(check: NumberCheck, values: Sequence[float], u: float) -> bool:
    """Whether readings of one thing contradict each other; *u* is the instrument's standard uncertainty."""
    return _apart(check, min(values), max(values), u)


def agreeing(check: NumberCheck, values: Sequence[float], u: float) -> Sequence[float]:
    """The readings of one thing that count: where they contradict each other, what most of them agree on.

    All of them where they agree, or where no more than half do: then nobody knows which to believe.

    Args:
        u: Standard uncertainty of the instrument.
    """
    rising = sorted(values)
    together = [
        [two for two in rising[at:] if not _apart(check, rising[at], two, u)] for at in range(len(rising))
    ]
    most = max(together, key=len)
    as_many = [some for some in together if len(some) == len(most)]
    return most if 2 * len(most) > len(values) and len(as_many) == 1 else values


def torn(told: Told) -> bool:
    """Whether what was read twice or more contradicts itself, so that nobody knows which to believe."""
    check, group = told.observation.check, told.group
    if group is None or not isinstance(check, NumberCheck):
        return False
    values, u = group.reading.values, group.reading.u_b
    return contradict(check, values, u) and len(agreeing(check, values, u)) == len(values)


def _ask(
    kind: Kind,
    check: str,
    cylinder: int | None,
    stated: Mapping[str, float | str],
    home: Situation,
    screw: float,
) -> Query:
    found = query(kind, check, cylinder, stated, home)
    return replace(found, situation=replace(found.situation, screw=screw))


def _catches(job: Job, kind: Kind, home: Situation, moves: Sequence[tuple[int, float]]) -> Iterator[Told]:
    check = checks_predicted()["catch"]
    for caught in job.facts.catches:
        if caught.discard:
            continue
        screw = _screw_at(caught.told.rank, moves)
        lines, injectors = arranged(caught.swaps, kind.design.line_map)
        opening = _lift(caught.opening)
        for port, (amount, u, time) in enumerate(
            zip(caught.amounts, caught.u, caught.durations, strict=True), start=1
        ):
            if amount is None:
                continue
            stated: dict[str, float | str] = {
                "through": caught.through, "opening": opening, "duration": time
            }  # fmt: skip
            asked = _ask(kind, "catch", port, stated, home, screw)
            asked = replace(asked, situation=replace(asked.situation, line_at=lines, injector_at=injectors))
            marks = amount * caught.u_container
            observation = Observation(
                check, asked, amount, math.hypot(u, marks), None, 0, (), (0.0, 2e-3), "fuel caught"
            )
            yield Told(observation, caught.told.rank, caught.told.entry, caught=caught)


def _lift(opening: str) -> float | str:
    if opening.endswith("mm"):
        return float(opening.removesuffix("mm").strip()) * 1e-3
    return opening


def arranged(
    swaps: Iterable[tuple[str, int, int]], line_map: LineMap
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Whose line and whose injector serve each cylinder of a run so exchanged; empty where each its own.

    The *swaps* name them by the ports on which they belong.
    """
    own = tuple(range(len(line_map.fed)))
    places = {"line": list(own), "injector": list(own)}
    for kind, first, second in swaps:
        row = places[kind]
        a, b = row.index(first - 1), row.index(second - 1)
        row[a], row[b] = row[b], row[a]
    found = [line_map.by_cylinder(places[kind]) for kind in ("line", "injector")]
    lines, injectors = (() if row == own else row for row in found)
    return lines, injectors
