"""Which checks can be done now, how, and what they cost: the path's word, handed to the search for causes."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

from evenpour.job.causes.asked import RAN_ON
from evenpour.job.causes.lean_pull import would_be_lean
from evenpour.job.causes.ran_since import IN_THE_HAND, shows_it_ran, tried_in_vain
from evenpour.job.engine_model import checks_predicted, unstated
from evenpour.job.job import Job
from evenpour.machine.asking import RUNNING
from evenpour.measure.checks import Check
from evenpour.path.bringing import all_brought_by
from evenpour.path.pieces import Claim, Proof, Span, Step
from evenpour.path.put_back import waiting_items
from evenpour.path.staleness import Claims, claim_states
from evenpour.path.steps import unread_cautions

#: Minutes for a condition that is prepared besides the reading itself; common practice, no source.
SWAP_MINUTES = 6.0
#: Checks made on a running engine although their name does not say so.
_ALSO_RUNNING = frozenset({"timing_running", "advance", "hot_restart", "start_outcome"})
#: What only a running engine shows; a plug's look is read in the hand.
_OF_RUNNING = (RUNNING | _ALSO_RUNNING) - IN_THE_HAND
#: How an engine ran of whose reading nobody says so.
_USUAL: Mapping[str, str] = {"state": "idle_warm"}
#: The run of an engine as found, and the search after a start that failed: both stand without what makes
#: the fuel's own work safe, so they are ways to a reading only where an engine did run, or was tried.
_AS_FOUND, _START_FAILED = "as_found_run", "start_fails"
#: What may be on the car while it runs as found, besides what may be on it at its first start.
_GAUGES = ("gauge", "gauge_valve", "vacuum_gauge")
#: Conditions that no claim wants but that tell something, where the engine may run.
_WHERE_IT_RUNS: Mapping[str, tuple[dict[str, float | str], ...]] = {
    "battery_voltage": ({"load": "charging"},)
}
#: Where the fuel is looked at and, if unfit, drained; what is drained; what stands where the pump may run.
_TANK, _FUEL, _PUMP_RUNS = "tank_sample", ("fuel", "fuel_tank"), "pump_by_hand"
#: What shows fuel in the intake, and the caution of steps that blow smoke into it: vapour and smoke burn.
_WET, _SMOKE = "fuel_wet_meter", "smoke_vapour"
#: The caution of steps that pull at full load, and how a reading says that it is of such a pull.
_PULL, _AT_FULL_LOAD = "lean_pull", (("state", "full_load"), ("after", "cut_at_load"))
#: Stages in which the engine is cranked or runs, and the pump with it; before, its fuse is out for that.
_ON_THE_ENGINE = frozenset({"first_fire", "idle", "road"})
#: Stages that make the car safe to work on: a reading shows that somebody did without them, or that they held
#: then; only who was at the car can say that they hold now.
_MADE_SAFE = frozenset({"intake", "safe", "dry", "put_back"})


@dataclass(frozen=True, slots=True)
class Possible:
    """A reading that could be taken. ``stated``: its conditions, words or SI; ``before``: steps to do first.

    ``cautions``: those to be read first. ``swaps``: of a catch, what is exchanged for it. ``in_turn``: of
    what is read several times over in one step, what each is stated with besides.
    """

    check: str
    cylinder: int | None
    stated: Mapping[str, float | str]
    minutes: float
    step: str
    before: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    swaps: tuple[str, ...] = field(default=())
    in_turn: tuple[Mapping[str, str], ...] = ()


def possible_checks(job: Job) -> tuple[Possible, ...]:
    """Every check that the model can read and this job can do, cheapest way each.

    Left out: what is not fitted, what needs a running engine where none has run and the path does not yet
    let it, ways by an engine that runs or was tried where none is known to, steps whose needs nothing can
    bring about, and all at full load while it would be lean there: pistons burn. A check of a step
    whose needs do not stand costs the minutes of the steps that bring them about as well.
    """
    may_run = _may_run(job)
    claims = claim_states(job.state)
    closed = _not_a_way(job, may_run=may_run)
    evident = _evident(job, claims, closed)
    drained = _drained_first(job, claims)
    lean = would_be_lean(job)
    found: dict[tuple[object, ...], Possible] = {}
    for step in job.plan.step.values():
        if step.id in closed:
            continue
        for one in _of_step(job, step, claims, evident, drained, may_run=may_run):
            if lean and _pulls(job, one):
                continue
            key = (
                one.check,
                one.cylinder,
                tuple(sorted((name, str(v)) for name, v in one.stated.items())),
                one.swaps,
                bool(one.in_turn),
            )
            if key not in found or one.minutes < found[key].minutes:
                found[key] = one
    return (*found.values(), *_exchanged(job, found.values()))


def _pulls(job: Job, one: Possible) -> bool:
    """Whether the engine is pulled at full load for it."""
    steps = (job.plan.step[name] for name in (*one.before, one.step))
    return any(one.stated.get(name) == word for name, word in _AT_FULL_LOAD) or any(
        _PULL in step.cautions for step in steps
    )


def _exchanged(job: Job, found: Iterable[Possible]) -> Iterator[Possible]:
    """The catch with the exchange that the catches so far call for: there is one advice on that, and this is
    it.
    """
    advised = job.catch().next_catch
    if advised is not None and advised.swaps:
        stated = {"through": advised.through, "opening": advised.opening}
        for one in found:
            if one.check == "catch" and one.stated == stated:
                yield replace(one, minutes=one.minutes + SWAP_MINUTES, swaps=tuple(advised.swaps))


def _may_run(job: Job) -> bool:
    """Whether the engine has run in this job, or nothing but its first start stands before it."""
    if _ran(job):
        return True
    states = {one.stage: one.state for one in job.path().stages}
    return states.get("first_fire") not in ("blocked", None)


def _ran(job: Job) -> bool:
    """Whether the engine ran as it now is: something was read on it, and it did not fail to fire since."""
    return tried_in_vain(job.judged) is None and any(map(shows_it_ran, job.judged))


def _not_a_way(job: Job, *, may_run: bool) -> frozenset[str]:
    """Steps for an engine that runs, ran as found or was tried, where nothing lets it or says that it did.

    A typed pressure does not: the pump ran, by whatever switch, and nobody said that the engine did.
    """
    starts = [group.reading.choice for group in job.judged if group.check.id == "start_outcome"]
    ran = bool(starts and starts[-1] in RAN_ON) or _ran(job)
    first = next(stage for stage in job.plan.stages if stage.id == "first_fire")
    stripped = waiting_items(job.state, (*(first.put_back_empty_except or ()), *_GAUGES))
    closed = {step.id for step in job.plan.step.values() if not may_run and _OF_RUNNING & {*step.checks}}
    if _fuel_in_the_intake(job):
        closed |= {step.id for step in job.plan.step.values() if _SMOKE in step.cautions}
    states = {one.stage: one.state for one in job.path().stages}
    if stripped or not ran or states.get("first_fire") in ("proved", "overridden"):
        closed.add(_AS_FOUND)  # while its first start by the stages stands, those are the way
    if not starts or starts[-1] in RAN_ON:
        closed.add(_START_FAILED)
    return frozenset(closed)


def _fuel_in_the_intake(job: Job) -> bool:
    """Whether fuel was last seen where smoke would be blown in."""
    looks = [group for group in job.judged if group.check.id == _WET]
    return bool(looks) and looks[-1].verdict.verdict == "outside"


def _evident(job: Job, claims: Claims, closed: Collection[str]) -> frozenset[str]:
    """Steps that must have been done, since something was read that needs them, though nobody noted them.

    What may have been read in one step or in another shows only what both need. Never a step that makes the
    car safe, nor one whose work was touched since that reading.
    """
    found: set[str] = set()
    open_steps = [step for step in job.plan.step.values() if step.id not in closed]
    needed = {step.id: (*(all_brought_by(job.state, claims, step) or ()), step.id) for step in open_steps}
    for read_in, rank in _read_in(job, open_steps):
        by_all = set.intersection(*(set(needed[step.id]) for step in read_in))
        found |= {name for name in by_all if _still_as_read(job, job.plan.step[name], rank)}
    return frozenset(found)


def _read_in(job: Job, steps: Sequence[Step]) -> Iterator[tuple[list[Step], int]]:
    """For each reading and each catch of which there is any, the steps in which it may have been taken, and
    its rank.
    """
    for group in job.judged:
        stated = {name: one.choice for name, one in group.reading.conditions.items()}
        some = [step for step in steps if group.check.id in step.checks]
        some = [step for step in some if _reads_so(job, step, group.check.id, stated)]
        if some:
            yield some, group.rank
    for fact in job.facts.catches:
        some = [step for step in steps if fact.key in step.checks]
        if some:
            yield some, fact.told.rank


def _reads_so(job: Job, step: Step, check: str, stated: Mapping[str, str | None]) -> bool:
    """Whether a reading of which so much is *stated* may be one that the step takes.

    What a claim wants need not have been stated; what makes another reading of it must have been.
    """
    if check in step.beside:
        return False
    if wanted := _of_claims(job, step, check):
        return any(all(stated.get(name) in (word, None) for name, word in one.items()) for one in wanted)
    return any(
        all(stated.get(name, _USUAL.get(name)) == word for name, word in so.items())
        for so in step.reads_in.get(check, ({},))
    )


def _still_as_read(job: Job, step: Step, rank: int) -> bool:
    """Whether what the step brings about, which a reading at *rank* needed, may be taken to hold still."""
    if step.stage in _MADE_SAFE or (step.puts_on and _may_be_back(job, step, rank)):
        return False
    resting = (item for claim in step.proves for item in job.plan.claim[claim].rests_on)
    items = {item for name in resting for item in job.plan.items(name, None)}
    return all(touch.rank <= rank for item in items for touch in job.state.touched.get(item, ()))


def _may_be_back(job: Job, step: Step, rank: int) -> bool:
    """Whether what the step takes off or fits came back after *rank*, or the engine ran since."""
    items = (item for name in step.puts_on for item in job.plan.items(name, None))
    back = any(item in job.state.last_off and job.state.last_off[item].rank > rank for item in items)
    return back or any(shows_it_ran(group) and group.rank > rank for group in job.judged)


def _drained_first(job: Job, claims: Claims) -> tuple[str, ...]:
    """Steps that drain the tank, where its fuel was seen to be unfit and nobody drained or cleaned it since.

    What the pump sucks in goes through the finest slits of the engine, and water rusts them.
    """
    looks = [group for group in job.judged if group.check.id == "fuel_look" and group.stands]
    if not looks or looks[-1].verdict.verdict != "outside" or _TANK not in job.plan.step:
        return ()
    items = (item for name in _FUEL for item in job.plan.items(name, None))
    if any(touch.rank > looks[-1].rank for item in items for touch in job.state.touched.get(item, ())):
        return ()
    return (*(all_brought_by(job.state, claims, job.plan.step[_TANK]) or ()), _TANK)


def _runs_the_pump(step: Step) -> bool:
    """Whether the pump runs in a step, by its switch, or by itself while the engine is cranked or runs."""
    by_itself = not _OF_RUNNING.isdisjoint(step.checks) or step.stage in _ON_THE_ENGINE
    return by_itself or _PUMP_RUNS in step.needs or "fuel_pressure" in step.touches


def _of_step(
    job: Job,
    step: Step,
    claims: Claims,
    evident: frozenset[str],
    drained: tuple[str, ...],
    *,
    may_run: bool,
) -> Iterator[Possible]:
    known = checks_predicted()
    names = [name for name in step.checks if (name in known and name not in step.beside) or ":" in name]
    if not names:
        return
    needed = all_brought_by(job.state, claims, step)
    if needed is None:
        return
    before = tuple(one for one in needed if one not in evident)
    after_drain = tuple(dict.fromkeys((*drained, *before)))
    if any(map(_runs_the_pump, (step, *(job.plan.step[name] for name in before)))):
        before = after_drain
    minutes_before, cautions = _beforehand(job, step, before)
    called_for = not step.mends or any(
        claims[key].refuted for one in step.mends for key in job.plan.keys_of(one)
    )
    for name in names:
        if name in step.reads_in and not called_for:
            continue  # a reading of the search alone, which nothing calls for
        if ":" in name:
            yield _catch(step, name, minutes_before, before, cautions)
            continue
        check = job.known.checks[name]
        if name in RUNNING | _ALSO_RUNNING and not may_run:
            continue
        if len(in_turn := step.reads_in.get(name, ())) > 1:
            minutes = minutes_before + max(check.minutes, step.minutes)
            yield Possible(name, None, {}, minutes, step.id, before, cautions, in_turn=in_turn)
            continue
        for stated in _conditions(job, step, name, may_run=may_run):
            first = after_drain if stated.get("load") == "cranking" else before  # the starter runs the pump
            taken, read = _beforehand(job, step, first)
            for cylinder in job.plan.all_cylinders if check.per_cylinder else (None,):
                minutes = taken + _minutes(step, check)
                yield Possible(name, cylinder, stated, minutes, step.id, first, read)


def _beforehand(job: Job, step: Step, before: Sequence[str]) -> tuple[float, tuple[str, ...]]:
    """Minutes of the steps before it, and the cautions of all that nobody has read."""
    cautions = dict.fromkeys(
        caution for name in (*before, step.id) for caution in unread_cautions(job.state, job.plan.step[name])
    )
    return sum(job.plan.step[name].minutes for name in before), tuple(cautions)


def _minutes(step: Step, check: Check) -> float:
    """What the reading takes: its own minutes, or where it takes the whole of a step those."""
    return max(check.minutes, step.minutes) if check.id in step.whole else check.minutes


def _conditions(job: Job, step: Step, check: str, *, may_run: bool) -> Iterator[dict[str, float | str]]:
    """The conditions in which the step takes the check; none stated where neither its claims nor it say.

    Where nobody could tell anything from a reading so stated, each choice that tells it is stated too.
    """
    found = _of_claims(job, step, check)
    if found and may_run:
        found += _WHERE_IT_RUNS.get(check, ())
    for stated in found or [dict[str, float | str](so) for so in step.reads_in.get(check, ({},))]:
        lacking = unstated(job.sheet, check, stated)
        limits = job.sheet.limits_for(check)
        ways = [dict.fromkeys(word for one in limits for word in one.when[name].choices) for name in lacking]
        yield from ({**stated, **dict(zip(lacking, words, strict=True))} for words in product(*ways))


def _of_claims(job: Job, step: Step, check: str) -> list[dict[str, float | str]]:
    return _wanted((job.plan.claim[name] for name in step.proves), check)


def _wanted(claims: Iterable[Claim], check: str) -> list[dict[str, float | str]]:
    """The conditions in which the claims want the check, each once."""
    found: list[dict[str, float | str]] = []
    for claim in claims:
        for proof in _proofs(claim.proof):
            if proof.check != check and proof.reading != check:
                continue
            stated = {name: _word(wanted) for name, wanted in proof.conditions.items()}
            plain = {name: value for name, value in stated.items() if value is not None}
            if plain not in found:
                found.append(plain)
    return found


def _proofs(listed: tuple[Proof, ...]) -> Iterator[Proof]:
    for proof in listed:
        if proof.any:
            yield from _proofs(proof.any)
        else:
            yield proof


def _word(wanted: str | float | Span) -> str | float | None:
    if not isinstance(wanted, Span):
        return wanted
    if wanted.low is not None and wanted.high is not None:
        return 0.5 * (wanted.low + wanted.high)
    return wanted.low if wanted.low is not None else wanted.high


def _catch(
    step: Step, name: str, minutes_before: float, before: tuple[str, ...], cautions: tuple[str, ...]
) -> Possible:
    through, opening = name.split(":")
    stated: dict[str, float | str] = {"through": through, "opening": opening}
    minutes = minutes_before + step.minutes  # all containers set, run and read
    return Possible("catch", None, stated, minutes, step.id, before, cautions)
