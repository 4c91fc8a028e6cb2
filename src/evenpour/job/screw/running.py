"""The mixture screw of a running engine: what the readings tell of it, and what comes before it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from evenpour import data
from evenpour.job.causes.facts import home_of
from evenpour.job.engine_model import checks_predicted, kind_of_sheet
from evenpour.job.gas.answer import sign_told
from evenpour.job.gas.answers import SignTold
from evenpour.job.judge_answer import judged_reading
from evenpour.job.screw.facts import fitted_at, mixture_book
from evenpour.job.screw.readings import (
    Sorted,
    Usable,
    position,
    seen_of,
    sorted_readings,
    windows,
)
from evenpour.job.spark.dwell_meter import SCALE
from evenpour.machine.checks import NumberCheck
from evenpour.measure.checks import Check, in_sentence
from evenpour.measure.exhaust_signs import LEANEST, meter_sign, signs_of
from evenpour.measure.mixture import LEAST_CO, GasValue, mixture_from_gas
from evenpour.measure.verdicts import NO_LIMIT
from evenpour.path.staleness import claim_state
from evenpour.physics.blend import blend
from evenpour.tune.screw_advice import Advice, Standing, Window, advise
from evenpour.tune.screw_ledger import ONSET_INJECTORS, Ledger, Line, Start
from evenpour.tune.screw_posterior import PLAYS, at_its_end, posterior
from evenpour.tune.screw_posterior import Start as Onset
from evenpour.tune.screw_response import responses, spread_of

if TYPE_CHECKING:
    from evenpour.job.job import Job

TOO = ("too_rich", "too_lean")  # stops for a screw that is wanted farther than it is ever off by itself
LOOKED_AT = ("control_warm_right", "intake_body_tight", "injector_seats_tight")
GASES = {"exhaust_co": "co", "exhaust_co2": "co2", "exhaust_o2": "o2", "exhaust_hc": "hc"}


@dataclass(frozen=True, slots=True)
class Halt:
    """Why nothing is turned: in words, what to do instead, and the checks to enter next."""

    reason: str
    says: str
    look: str
    checks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Idle:
    """What is known of the running engine's screw.

    Attributes:
        aimed: The window that is aimed at; ``read`` readings count; ``fresh`` of them since the last move.
        advice: None without any reading that counts.
        halt: What comes before the screw, whatever the advice.
        looked: Whether control pressure and tightness stand proved.
        first: Checks that are to be read before a screw is turned that way, and were not.
        answered: Whether all that its stop has looked at was read, and is as it should be.
        much: Whether it wants more than a starting point may be wrong by, and may be turned all the same.
        turned: Moves since the first reading that counts; ``span``: how far apart the places read at lie.
        from_start: Turns from the starting point, or from the first reading where it is not known.
    """

    aimed: Usable | None
    read: int
    fresh: int
    turned: int
    span: float
    advice: Advice | None
    halt: Halt | None
    looked: bool
    left_out: tuple[str, ...]
    from_start: float
    start_known: bool
    first: tuple[str, ...] = ()
    answered: bool = False
    much: bool = False

    @property
    def window(self) -> Window | None:
        """What is aimed at."""
        return self.aimed.window if self.aimed else None

    @property
    def air_said(self) -> bool:
        """Whether the newest reading says how warm the air at the plate was."""
        return self.aimed is not None and "intake_temperature" in self.aimed.fact.reading.conditions

    @property
    def little_co(self) -> bool:
        """Whether the newest reading is a CO too low to tell how lean it is."""
        if self.aimed is None or self.aimed.window.check != "exhaust_co" or self.fresh == 0:
            return False
        return self.aimed.fact.reading.values[-1] < LEAST_CO

    @property
    def scale(self) -> int | None:
        """Cylinders of the dwell meter's scale; None where it was read in per cent."""
        said = self.aimed.fact.reading.conditions.get(SCALE) if self.aimed else None
        return int(said.choice.partition("_")[0]) if said is not None and said.choice else None


def running_idle(job: Job, book: Ledger, aim: Start | None) -> Idle:
    """Weigh everything that was read on the warm idle."""
    sorted_ = sorted_readings(job)
    last_move = max((line.turn.rank for line in book.lines if _turned(line)), default=-1)
    aimed = _aimed(sorted_, last_move)
    looked = intake_and_pressure_looked_at(job)
    halt = _outside(job) or _gas_halt(job, max(sorted_.since, last_move))
    if aimed is None:
        return Idle(None, 0, 0, 0, 0.0, None, halt, looked, sorted_.left_out, 0.0, aim is not None)
    first = fitted_at(job.facts)
    places = [position(book, first, one.rank) for one in sorted_.usable]
    rank = sorted_.usable[0].rank
    begun = aim.position if aim is not None else places[0]
    standing = Standing(
        from_start=book.total - begun,
        turned=sum(line.turn.rank > rank and _turned(line) for line in book.lines),
        read=sum(
            len(one.fact.reading.values)
            for one in sorted_.usable
            if one.rank > last_move and one.window.check == aimed.window.check
        ),
        looked=looked,
        at_its_end=at_its_end(aimed.window.check, aimed.fact.reading.values[-1]),
    )
    advice, much = _advice(job, book, aim, sorted_, aimed, standing)
    stop = _side(advice)
    return Idle(
        aimed,
        len(sorted_.usable),
        standing.read,
        standing.turned,
        max(places) - min(places),
        advice,
        halt,
        looked,
        sorted_.left_out,
        standing.from_start,
        aim is not None,
        first=unread(job, stop) if stop else (),
        answered=bool(stop) and _answered(job, f"{stop}_still" if looked else stop),
        much=much,
    )


def _side(advice: Advice) -> str:
    """The stop that speaks of a screw that stands as this one seems to; empty where it stands right."""
    if advice.reason in TOO:
        return str(advice.reason)
    turns = advice.move.turns if advice.move else 0.0
    return "" if not turns else "too_lean" if turns > 0.0 else "too_rich"


def unread(job: Job, reason: str) -> tuple[str, ...]:
    """What the stop for *reason* would have read first and nobody has; nothing where control pressure and
    tightness stand proved.
    """
    if intake_and_pressure_looked_at(job):
        return ()
    entered = {group.check.id for group in job.judged if group.stands}
    return tuple(one for one in _here(job, stop_checks(reason)) if one not in entered)


def _answered(job: Job, stop: str) -> bool:
    """Whether all that a stop has looked at was read, and is as it should be."""
    wanted = _here(job, tuple(_stop(stop)["checks"]))
    good: dict[str, bool] = {}
    for group in job.judged:
        if group.stands:
            name, verdict = group.check.spread_of or group.check.id, group.verdict
            fine = verdict.verdict == "within" or verdict.settle == NO_LIMIT
            good[name] = good.get(name, True) and fine
    return all(good.get(one, False) for one in wanted)


def _here(job: Job, checks: Sequence[str]) -> tuple[str, ...]:
    """Those that are read in some step of this car's work."""
    here = {check for step in job.plan.step.values() for check in step.checks}
    return tuple(one for one in checks if one in here)


def intake_and_pressure_looked_at(job: Job) -> bool:
    """Whether control pressure and tightness stand proved, or somebody lets them stand by name."""
    return all(
        claim_state(job.state, claim, cylinder).state in ("proved", "overridden")
        for claim, cylinder in job.plan.claim_keys
        if claim in LOOKED_AT
    )


def _turned(line: Line) -> bool:
    """Whether the key went round at all: also where it came back to the same place from the other side."""
    return line.turn.turns != 0.0 or bool(line.turn.approach)


def prior_of_start(job: Job, aim: Start) -> float | None:
    """Probability that the idle lies in the window once the screw stands at its starting point."""
    wanted = windows(job)
    if not wanted:
        return None
    duty = next((limit for limit in wanted if limit.check == "lambda_duty"), wanted[0])
    if duty.low is None or duty.high is None:
        return None
    kind, home = kind_of_sheet(job.sheet), home_of(job)
    onset = Onset(aim.mark.position - aim.position, aim.u, _through(aim))
    spread = spread_of(kind, home)
    known = posterior((), {}, duty.check, spread, onset, tuple((0.0, 0.0) for _ in PLAYS))
    (here,) = responses(kind, home, [home])
    window = Window(duty.check, duty.low, duty.high)
    return advise(known, window, here, None, Standing(0.0, 0, 0, looked=True)).p_now


def _aimed(found: Sorted, last_move: int) -> Usable | None:
    """Whose window is aimed at: of those read since the last move duty, CO that tells, then the newest."""

    def order(one: Usable) -> tuple[bool, int, int]:
        check, fresh = one.window.check, one.rank > last_move
        tells = check == "exhaust_co" and one.fact.reading.values[-1] >= LEAST_CO
        return fresh, (2 if check == "lambda_duty" else int(tells)) if fresh else 0, one.rank

    return max(found.usable, key=order, default=None)


def _advice(
    job: Job, book: Ledger, aim: Start | None, found: Sorted, aimed: Usable, standing: Standing
) -> tuple[Advice, bool]:
    """The advice, and whether it goes on although that is more than a starting point may be wrong by: what
    else makes it so was read, and is as it should be.
    """
    kind, home = kind_of_sheet(job.sheet), home_of(job)
    seen = seen_of(job, kind, found.usable, book)
    here = next(
        one.response
        for one, of in zip(reversed(seen), reversed(_repeated(found)), strict=True)
        if of is aimed
    )
    number = {name: one for name, one in checks_predicted().items() if isinstance(one, NumberCheck)}
    onset = None
    if aim is not None:
        doubt = math.hypot(aim.u, number["onset"].repeats)
        onset = Onset(aim.mark.position - book.total, doubt, _through(aim))
    known = posterior(seen, number, aimed.window.check, spread_of(kind, home), onset, _lags_now(job))
    click = job.sheet.click_turns
    wary = advise(known, aimed.window, here, click, replace(standing, looked=False))
    if wary.reason not in TOO or not (standing.looked or _answered(job, str(wary.reason))):
        return wary, False
    further = advise(known, aimed.window, here, click, replace(standing, looked=True))
    return further, further.verdict != "stop"


def _repeated(found: Sorted) -> list[Usable]:
    """Each reading as often as it has values."""
    return [one for one in found.usable for _ in one.fact.reading.values]


def _lags_now(job: Job) -> tuple[tuple[float, float], ...]:
    return tuple(mixture_book(job.facts, job.state, play).lag for play in PLAYS)


def _through(aim: Start) -> str:
    return "injectors" if aim.mark.name == ONSET_INJECTORS else "lines"


def _outside(job: Job) -> Halt | None:
    """The first thing read that stands outside its limit and comes before the screw."""
    touched = [(one.part, one.told.rank) for one in job.facts.touches]
    for check in _texts()["first"]:
        for group in job.judged:
            if group.check.id != check or not group.stands or group.verdict.verdict != "outside":
                continue
            if any(part in group.check.reads and rank > group.rank for part, rank in touched):
                continue  # something was done about it; whether it helped, the path asks
            row = judged_reading(group, job.units)
            cylinder = f", cylinder {row.cylinder}" if row.cylinder is not None else ""
            limit = f", outside {row.limit.words}" if row.limit else ""
            says = (
                f"Leave the screw: {in_sentence(row.title)}{cylinder} was read {row.shown}{limit}. See to "
                "that first; the screw would only hide it."
            )
            look = "Mend it and read it again. If it was misread, correct or withdraw that entry."
            return Halt("outside", says, look, (check,))
    return None


def _gas_halt(job: Job, since: int) -> Halt | None:
    """What the gases read since *since* show that comes before the screw."""
    gases: dict[str, GasValue] = {}
    meter: GasValue | None = None
    for fact in job.facts.readings:
        conditions = fact.reading.conditions
        state, probe = conditions.get("state"), conditions.get("probe")
        behind = probe is not None and probe.choice == "after_catalyst"
        if fact.told.rank < since or state is None or state.choice != "idle_warm" or behind:
            continue
        if fact.reading.values and fact.check.id in GASES:
            gases[GASES[fact.check.id]] = GasValue(fact.reading.values[-1], fact.reading.u_b)
        elif fact.reading.values and fact.check.id == "exhaust_lambda":
            meter = GasValue(fact.reading.values[-1], fact.reading.u_b)
    told = _sign(gases, meter, home_of(job).fuel)
    if told is None:
        return None
    return Halt(told.kind, f"Leave the screw. {told.says}", told.look, tuple(told.checks))


def _sign(gases: Mapping[str, GasValue], meter: GasValue | None, fuel: float) -> SignTold | None:
    if "co" not in gases or ("o2" in gases and "co2" not in gases) or not _burnt(gases):
        return None
    mixture = mixture_from_gas(gases, blend(fuel))
    signs = list(signs_of(mixture, gases, blend(fuel)))
    if meter is not None and (differs := meter_sign(mixture, meter)):
        signs.append(differs)
    lean = mixture.lambda_ is not None and mixture.lambda_.value > LEANEST
    wanted = [kind for kind in _texts()["signs"] if not (lean and kind == "misfire")]
    first = next((sign for sign in signs if sign.kind in wanted), None)
    return sign_told(first) if first else None


def _burnt(gases: Mapping[str, GasValue]) -> bool:
    """Enough CO2 to speak of, where it was read at all."""
    return "co2" not in gases or gases["co2"].value > max(0.02, gases["co2"].u)


@cache
def _texts() -> Mapping[str, Any]:
    return data.shipped("screw_stops.toml").values


def halt_of(idle: Idle, figures: Mapping[str, str], known: Mapping[str, Check]) -> Halt | None:
    """Why nothing is turned, with the figures to say it; None if something may be.

    Args:
        known: Checks by id, to name those that are to be read first.
    """
    if idle.halt is not None:
        return idle.halt
    if idle.advice is None or idle.advice.reason is None:
        return None
    reason = idle.advice.reason
    name: str = reason
    if reason in TOO and (idle.looked or idle.answered):
        name = f"{reason}_answered" if idle.answered else f"{reason}_still"
    row = _stop(name)
    look = f"{read_first(idle.first, known)} {row['look']}" if reason in TOO and idle.first else row["look"]
    return Halt(reason, row["says"].format_map(figures), look, tuple(row["checks"]))


def read_first(checks: Sequence[str], known: Mapping[str, Check]) -> str:
    """``Before it is turned, look at: the smell of the oil. The screw would only hide a fault there.``"""
    words = "; ".join(known[one].named for one in checks)
    return f"Before it is turned, look at: {words}. The screw would only hide a fault there."


def stop_checks(reason: str) -> tuple[str, ...]:
    """What is entered next where the screw is stopped for *reason*."""
    return tuple(_stop(reason)["checks"])


def _stop(name: str) -> Mapping[str, Any]:
    return next(one for one in _texts()["stop"] if one["id"] == name)
