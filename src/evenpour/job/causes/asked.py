"""What a job asks of the search for causes: which readings still count, and how common each cause is."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.explanation import asked_model
from evenpour.causes.mended import SCREW
from evenpour.causes.observed import Observation
from evenpour.causes.problem import Hypothesis
from evenpour.causes.ran import Ran, as_it_ran
from evenpour.causes.suspects import Suspect, hypotheses, suspects
from evenpour.causes.touched import is_touched, reach_of
from evenpour.causes.two_faults import Beside
from evenpour.job.causes.facts import Told, contradict, home_of, moves, observations
from evenpour.job.causes.heater_volts import HEATER_VOLTAGE
from evenpour.job.causes.prior import Prior, only_by_hand, set_for
from evenpour.job.causes.ran_since import HOT_START, IDLE_SPEED, IN_THE_HAND, START, STARTED, tried_in_vain
from evenpour.job.causes.touches import Handled, ends, handled, mends, read_again
from evenpour.job.causes.turned import FOUND, believed, read_far_off, turned
from evenpour.job.causes.words import named, reading_words, value_words
from evenpour.job.engine_model import causes_of, checks_not_predicted, kind_of_sheet, unstated, why_nothing
from evenpour.job.job import Job
from evenpour.job.judging import Judged, alike
from evenpour.job.sheet.found import form
from evenpour.machine.checks import NumberCheck
from evenpour.machine.kind import Kind
from evenpour.machine.situation import Situation
from evenpour.measure.uncertainty import combine
from evenpour.path.words import action_words, items_were

RAN_ON = frozenset({"runs", "runs_rough", "hunts"})  # how a start went after which the engine ran
#: Pressure with the pump running, and what of it stays; from what on something stays, [Pa].
SYSTEM, HOLDING, SOME = "system_pressure", "holding_pressure", 0.2e5
#: Of the checks of a running engine, those that say by themselves whether it ran, or are read in the hand or
#: in the seconds before it dies.
SAYS_ITSELF = frozenset({START, IDLE_SPEED, "pump_voltage", HEATER_VOLTAGE}) | IN_THE_HAND


@dataclass(frozen=True, slots=True)
class Asked:
    """What is explained, by what. ``left_out``: in words, the readings that tell of the car no more;
    ``beside``: what may be so beside any cause, since somebody turned the screw; ``ran``: states in which the
    engine ran, and what may have changed since.
    """

    kind: Kind
    home: Situation
    listed: tuple[Suspect, ...]
    told: tuple[Told, ...]
    left_out: tuple[str, ...]
    guesses: tuple[Hypothesis, ...]
    beside: Beside | None
    ran: tuple[Ran, ...]


def asked_now(job: Job, prior: Prior) -> Asked:
    """What the job's readings ask as it stands now."""
    kind, home = kind_of_sheet(job.sheet), home_of(job)
    listed = suspects(kind, causes_of(kind))
    told, left_out = _of_now(job, kind, home, listed, prior)
    done = handled(job)
    left = _left_as_set(job, listed, done, prior)
    plain = hypotheses(listed, prior.nothing_wrong, lambda one: _weight(one, kind, prior, done, left))
    guesses, beside = believed(turned(job, told), listed, plain)
    ran = ran_in(job, kind, listed, told, prior)
    once = ran_in(job, kind, listed, told, prior, since_it_died=False)
    running = as_it_ran(kind, listed, guesses, home, ran)
    stood = running if once == ran else as_it_ran(kind, listed, guesses, home, once)
    guesses = tuple(
        was if one.cause is not None and one.cause.id in only_by_hand() else now
        for one, was, now in zip(listed, stood, running, strict=True)
    )
    return Asked(kind, home, listed, told, left_out, guesses, beside, ran)


def ran_in(
    job: Job,
    kind: Kind,
    listed: Sequence[Suspect],
    told: Sequence[Told],
    prior: Prior,
    *,
    since_it_died: bool = True,
) -> tuple[Ran, ...]:
    """The states in which the engine ran, the last of each kind: something was read in them; and one in which
    the pump had built up pressure, where all that was read of that is what stayed.

    What work on a part can have brought about or mended since may have been otherwise then. Where it was
    tried since and did not run on, it tells nothing. For what does not change by itself (*since_it_died*
    false) a start in vain says nothing, but a turn of the screw does.

    Args:
        told: The readings that still tell of the car.
    """
    counted = {one.entry for one in told}
    system = any(one.observation.check.check == SYSTEM for one in told)
    read = [one for one in observations(job, kind) if not read_far_off(one)]
    tried = [one for one in read if one.observation.check.check == START]
    since = -1 if since_it_died else max((rank for rank, _ in moves(job)), default=-1)
    if since_it_died and tried and tried[-1].observation.choice not in RAN_ON:
        since = tried[-1].rank
    done = handled(job)
    states: dict[str, Ran] = {}
    for one in read:
        situation = _ran_at(one.observation, counts=one.entry in counted) or (
            None if system else _pressed_at(one.observation)
        )
        if situation is not None and one.rank > since:
            later = [touch for touch in done if touch.rank > one.rank]
            states[situation.engine] = Ran(situation, _changed(listed, later, prior))
    return tuple(states.values())


def _pressed_at(one: Observation) -> Situation | None:
    """The state in which something stayed of a pressure, so that there had been one."""
    there = one.check.check == HOLDING and one.value is not None and one.value > SOME
    return one.query.situation if there else None


def _changed(listed: Sequence[Suspect], work: Sequence[Handled], prior: Prior) -> frozenset[int]:
    """The suspects, by number, that work can have brought about or mended."""
    return frozenset(
        number for number, one in enumerate(listed) if any(mends(one, touch, prior.along) for touch in work)
    )


def _ran_at(one: Observation, *, counts: bool) -> Situation | None:
    """The state in which the engine ran for a reading, if it did; what starts again hot ran, and runs. The
    idle speed says so itself, as long as it *counts*.
    """
    at = one.query.situation
    if one.check.check == HOT_START and one.choice in STARTED:
        return replace(at, engine="idle_warm")
    if one.check.check == IDLE_SPEED and not counts:
        return at if one.value else None
    return at if at.running and one.check.check not in SAYS_ITSELF else None


def _left_as_set(job: Job, listed: Sequence[Suspect], done: Sequence[Handled], prior: Prior) -> bool:
    """Whether something that was read wrong was mended, for which the mixture screw may have been set, and
    that was not set since.
    """
    turns = [rank for rank, _ in moves(job)]
    moved = max((*turns, *(one.rank for one in done if one.fact.part == SCREW)), default=-1)
    for one in (one for one in listed if one.id in set_for().read_by):
        work = [-1, *(touch.rank for touch in done if mends(one, touch, prior.along))]
        for before, rank in itertools.pairwise(work):
            if rank > moved and _read_wrong(job, one, before, rank):
                return True
    return False


def _read_wrong(job: Job, suspect: Suspect, since: int, rank: int) -> bool:
    """Whether any reading that shows a cause for which the screw may be set was last wrong before *rank*, of
    those *since* it was worked on before.
    """
    its = set_for().read_by[suspect.id]
    before = [one for one in job.judged if since < one.rank < rank and one.check.id in its]
    last = {alike(one): one for one in sorted(before, key=lambda one: one.rank)}
    return any(one.verdict.verdict == "outside" for one in last.values())


def _weight(one: Suspect, kind: Kind, prior: Prior, done: Sequence[Handled], left: bool) -> float:
    """How common a suspect is in this car: less so in a part that was just renewed, and a screw more so that
    is *left* as it was set for what was mended.
    """
    assert one.cause is not None
    weight = prior.weights[one.cause.id] / (kind.design.cylinders if one.cause.per_cylinder else 1)
    for touch in done:
        if mends(one, touch, prior.along):
            here = is_touched(one, touch.touched, prior.along)
            weight *= prior.after.get(touch.fact.action if here else "other", prior.after["other"])
    if left and one.cause.part == SCREW:
        weight *= set_for().times
    return max(weight, 1e-9)


def _of_now(
    job: Job, kind: Kind, home: Situation, listed: Sequence[Suspect], prior: Prior
) -> tuple[tuple[Told, ...], tuple[str, ...]]:
    """The readings that still tell of the car, and in words those that do not."""
    told, gone = _fitted(job, kind, observations(job, kind))
    told, before = _since_it_died(job, told)
    told, again = _read_anew(job, told)
    gone = [*gone, *before, *again, *_unread(job)]
    done = handled(job)
    if not done or not told:
        return told, tuple(gone)
    model, seen = asked_model(kind, listed, [one.observation for one in told], home)
    reach = reach_of(seen.asked, listed, lambda asked, faults: model.columns_of(asked)(
        faults, np.zeros((len(faults), len(model.free)))))  # fmt: skip
    kept = []
    for row, one in enumerate(told):
        its_own = reach.may_have_made(int(seen.columns.column[row]), float(seen.columns.y[row]))
        its = [suspect for suspect, is_its in zip(listed, its_own, strict=True) if is_its]
        spoilt = next((touch for touch in done if ends(touch, one, its, told, prior.along)), None)
        if spoilt is None:
            kept.append(one)
        else:
            were = items_were(job.plan, [(spoilt.fact.part, None)])
            said = action_words(spoilt.fact.action)
            gone.append(f"{reading_words(job, one)}: the {were} {said} since")
    return tuple(kept), tuple(dict.fromkeys(gone))


def _since_it_died(job: Job, told: Sequence[Told]) -> tuple[tuple[Told, ...], list[str]]:
    """All but what was read on the running engine, where it was tried since, did not fire at all and has not
    run again, and those in words: what stopped it may be no fault that it had then.
    """
    tried = tried_in_vain(job.judged)
    if tried is None or all(one.group is not tried for one in told):
        return tuple(told), []
    gone = [one for one in told if one.rank < tried.rank and _ran_then(one)]
    said = [f"{reading_words(job, one)}: the engine ran then, and did not fire since" for one in gone]
    return tuple(one for one in told if one not in gone), said


def _read_anew(job: Job, told: Sequence[Told]) -> tuple[tuple[Told, ...], list[str]]:
    """All but what was read again since something happened, or otherwise where a step sets it, and those in
    words: both may be right. And a start in vain before one of the same kind after which the engine ran.
    """
    happened = [
        (one.told.rank, job.known.happenings[one.content["what"]]) for one in job.facts.of_kind("happened")
    ]
    kept, gone = [], []
    for one in told:
        since = next((says for rank, says in happened if any(read_again(one, told, rank))), None)
        is_set = one.observation.check.check in job.plan.set_in_steps
        if since is not None:
            why = since.split(":")[0].rstrip(".")
            gone.append(f"{reading_words(job, one)}: {why[0].lower()}{why[1:]}, and it was read again since")
        elif is_set and any(_differ(one, again) for again in read_again(one, told, one.rank)):
            gone.append(f"{reading_words(job, one)}: set or renewed by hand, it was read otherwise since")
        elif any(_ran_where_it_did_not(one, two) for two in told):
            gone.append(f"{reading_words(job, one)}: the engine was started so since, and ran")
        else:
            kept.append(one)
    return tuple(kept), gone


def _differ(one: Told, other: Told) -> bool:
    """Whether two readings of the same say something else: one is out and the other is not, or they are
    further apart than both doubts tell.
    """
    out = [two.group is not None and two.group.verdict.verdict == "outside" for two in (one, other)]
    if out[0] != out[1]:
        return True
    check, a, b = one.observation.check, one.observation, other.observation
    if not isinstance(check, NumberCheck) or a.value is None or b.value is None:
        return a.choice != b.choice
    return contradict(check, (a.value, b.value), max(a.u, b.u))


def _ran_where_it_did_not(one: Told, later: Told) -> bool:
    """Whether one is of a start in vain, and a later one of one so far alike that went well."""
    if not (_is_start(one) and _is_start(later)) or later.rank < one.rank:
        return False
    if one.observation.choice in RAN_ON or later.observation.choice not in RAN_ON:
        return False
    assert one.group is not None
    assert later.group is not None
    return _start_of(one.group) == _start_of(later.group)


def _start_of(read: Judged) -> tuple[str | None, bool]:
    """Of what a start was: the engine cold, unless it is stated, and whether it had soaked."""
    stated = read.reading.conditions
    return (stated["engine"].choice if "engine" in stated else "cold"), "soak" in stated


def _is_start(one: Told) -> bool:
    return one.observation.check.check == START


def _ran_then(one: Told) -> bool:
    """Whether it was read on the running engine, or is the start by which that ran."""
    if one.observation.check.check == START:
        return one.observation.choice in RAN_ON
    return one.observation.query.situation.running


def _fitted(job: Job, kind: Kind, told: Sequence[Told]) -> tuple[tuple[Told, ...], list[str]]:
    """All but readings of what such an engine does not have by its sheet, of which nobody can say what they
    should be, or taken with the mixture screw far from where it stands now, and those in words.
    """
    kept, gone = [], []
    for one in told:
        device = form().device_of(one.observation.check.check)
        if device is not None and device.id not in kind.devices:
            gone.append(f"{reading_words(job, one)}: this engine has no {device.title} by its sheet")
        elif one.group is not None and unstated(
            job.sheet, one.observation.check.check, one.group.reading.conditions
        ):
            settle = one.group.verdict.settle
            gone.append(f"{reading_words(job, one)}: it is not known what it should be; {settle}")
        elif one.group is not None and (
            why := why_nothing(one.observation.check.check, one.group.reading.conditions)
        ):
            gone.append(f"{reading_words(job, one)}: {why}")
        elif read_far_off(one):
            gone.append(
                f"{reading_words(job, one)}: the mixture screw was turned by more than {FOUND:g} turns since"
            )
        else:
            kept.append(one)
    return tuple(kept), gone


def _unread(job: Job) -> Iterator[str]:
    """In words, the readings that the model knows nothing to make of; what is worked out of others is not
    missed.
    """
    unread = checks_not_predicted()
    for group in job.judged:
        check = group.check
        if check.id in unread and check.spread_of is None:
            value = group.reading.choice
            if value is None:
                value = value_words(job, check.id, combine(group.reading.values, group.reading.u_b).value)
            yield f"{named(check)}, {value.replace('_', ' ')}: {unread[check.id]}"
