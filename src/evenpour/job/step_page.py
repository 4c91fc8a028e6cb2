"""A step as a page needs it: what it says, what is to be entered, how far it is, its place in the book."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from evenpour import data
from evenpour.job.answers import ClaimAnswer, PutBackAnswer, StageAnswer, StepTold
from evenpour.job.asking import AskedReading, Choice, asked_reading
from evenpour.job.forms import ACTIONS, APPROACHES
from evenpour.job.pathway import exchanging_step
from evenpour.job.unsettled import Unsettled, unsettled
from evenpour.job.wording import filled, key_words
from evenpour.measure.showing import shown
from evenpour.measure.units import parse
from evenpour.path.pieces import Part, split_reference
from evenpour.path.plan import Step
from evenpour.path.staleness import Claims, claim_states
from evenpour.path.steps import left_off_words, left_on_words

if TYPE_CHECKING:
    from evenpour.job.job import Job

SCREW = "mixture_screw"
NO_PRESSURE = "no_pressure"  # the claim that fuel lines may be opened
_TELLING = 10  # things that a claim may rest on and still tell of one of them; our choice
_TRIED = 3  # steps named at most that try a part
BEHIND = ("proved", "overridden")  # states of a stage that is done with
_TURNED_AT = frozenset({"onset", "idle_adjustable"})  # readings between which the screw is turned


@dataclass(frozen=True, slots=True)
class Timer:
    """A time that matters: marks in s after the start, and each in words."""

    title: str
    marks: tuple[int, ...]
    words: tuple[str, ...]
    lead_in: int
    fills: str


@dataclass(frozen=True, slots=True)
class AskedCatch:
    """A catch that a step asks for."""

    through: str
    opening: str
    words: str


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A step beside this one, in the order of the book."""

    step: str
    number: str
    title: str


@dataclass(frozen=True, slots=True)
class Lacking:
    """A claim that the step needs and that does not stand, with the steps that bring it about."""

    claim: ClaimAnswer
    brought_by: tuple[Neighbour, ...]


@dataclass(frozen=True, slots=True)
class StepPage:
    """Everything the page of a step shows.

    ``number`` is the step's place in the book: "7.3" is the third step of the seventh stage. ``parts``
    are the things that can be entered as handled, those of this step first. ``on_list``: what must come off
    the put-back list before it or be on it, in the words of the first page. ``unsettled``: what was read for
    it and cannot be told.
    """

    number: str
    told: StepTold
    stage_title: str
    before: Neighbour | None
    after: Neighbour | None
    reads: tuple[AskedReading, ...]
    catches: tuple[AskedCatch, ...]
    timers: tuple[Timer, ...]
    clock: int
    lacking: tuple[Lacking, ...]
    on_list: tuple[str, ...]
    proves: tuple[ClaimAnswer, ...]
    unsettled: tuple[Unsettled, ...]
    disturbs: tuple[str, ...]
    puts_on: tuple[str, ...]
    takes_off: tuple[str, ...]
    cylinders: tuple[int, ...]
    turns_screw: bool
    parts: tuple[Choice, ...]
    mends: bool


def step_page(job: Job, name: str) -> StepPage:
    """The page of one step.

    Raises:
        UnknownName: this engine's path has no such step.
    """
    told = job.step(name)
    step = job.plan.step[name]
    order = list(job.plan.step)
    place = order.index(name)
    path = job.path()
    return StepPage(
        number=step_number(job, name),
        told=told,
        stage_title=next(stage.title for stage in job.plan.stages if stage.id == step.stage),
        before=_neighbour(job, order[place - 1]) if place else None,
        after=_after(job, order[place + 1 :]),
        reads=tuple(asked_reading(job, check, _claims_of(step)) for check in step.checks if _is_read(check)),
        catches=tuple(_catch(check) for check in step.checks if ":" in check),
        timers=timers_of(name),
        clock=clock_minutes(name, told.minutes),
        lacking=tuple(_lacking(job, step, path.claims)),
        on_list=_on_list(job, step),
        proves=tuple(claim for claim in path.claims if claim.claim in step.proves),
        unsettled=unsettled(step, job.state, claim_states(job.state), job.judged),
        disturbs=tuple(_names(job, step.touches)),
        puts_on=tuple(_names(job, step.puts_on)),
        takes_off=tuple(_names(job, (*step.takes_off, *step.also_off))),
        cylinders=job.plan.all_cylinders if job.plan.is_per_cylinder(step) else (),
        turns_screw=SCREW in step.touches or bool(_TURNED_AT & set(step.checks)),
        parts=handled_parts(job, step),
        mends=bool(step.mends),
    )


@dataclass(frozen=True, slots=True)
class Exchanging:
    """The step that says how parts are exchanged for a catch, and what of its needs does not stand."""

    step: Neighbour
    lacking: tuple[Lacking, ...]


def exchanging(job: Job, through: str, opening: str) -> Exchanging | None:
    """How parts are exchanged for such a catch; None where no step of this engine's path says it."""
    step = exchanging_step(job.plan, f"{through}:{opening}")
    if step is None:
        return None
    return Exchanging(_neighbour(job, step.id), tuple(_lacking(job, step, job.path().claims)))


def step_number(job: Job, name: str) -> str:
    """``7.3``: the third step of the seventh stage."""
    stages = [stage.id for stage in job.plan.stages]
    stage = job.plan.step[name].stage
    steps = [step.id for step in job.plan.step.values() if step.stage == stage]
    return f"{stages.index(stage) + 1}.{steps.index(name) + 1}"


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the work stands: the stage of the next step, or the first that is not behind the car.

    ``left``: an earlier one that the work has gone past and that is not behind the car. ``again``: an earlier
    one that is behind it, from which the next step is done once more.
    """

    at: StageAnswer
    left: StageAnswer | None = None
    again: StageAnswer | None = None


def where_it_stands(job: Job) -> Standing | None:
    """Where the work stands; None once all stages are behind the car."""
    path = job.path()
    order = [stage.stage for stage in path.stages]
    first = next((stage for stage in path.stages if stage.state not in BEHIND), None)
    if first is None or not path.upcoming:
        return None if first is None else Standing(first)
    following = path.stages[order.index(path.upcoming[0].stage)]
    ahead = order.index(following.stage) - order.index(first.stage)
    if ahead > 0:
        return Standing(following, left=first)
    return Standing(first, again=following if ahead < 0 else None)


def _after(job: Job, following: Sequence[str]) -> Neighbour | None:
    """The next step of the book, but no search or adjustment that nothing calls for."""
    claims = claim_states(job.state)
    wanted = (one for one in following if _called_for(job, job.plan.step[one], claims))
    found = next(wanted, None)
    return None if found is None else _neighbour(job, found)


def _called_for(job: Job, step: Step, claims: Claims) -> bool:
    """Whether the step is of the order of the work, or something speaks against what it puts right."""
    return not step.mends or any(claims[key].refuted for name in step.mends for key in job.plan.keys_of(name))


def onward(job: Job, name: str) -> Neighbour | None:
    """The step to go on with from one that is done with; None while it is not, and where none is left."""
    if any(row.state not in ("done", "passed_over") for row in job.step(name).state):
        return None
    following = next((one.step for one in job.path().upcoming if one.step != name), None)
    return None if following is None else _neighbour(job, following)


def cautioning_steps(job: Job, check: str) -> tuple[str, ...]:
    """The steps whose cautions go before a reading that is entered by itself.

    Not a search or an adjustment that nothing calls for: a start that failed is not warned of before every
    cold pressure. Where only such steps read it, theirs go.
    """
    reading = [step for step in job.plan.step.values() if check in step.checks]
    claims = claim_states(job.state)
    called_for = [step for step in reading if _called_for(job, step, claims)]
    return tuple(step.id for step in called_for or reading)


def step_reason(job: Job, name: str) -> str:
    """Why the step is done at all, with this sheet's figures in it."""
    return filled(job.plan.step[name].why, job.sheet, job.known, job.system)


def handled_parts(job: Job, step: Step | None = None) -> tuple[Choice, ...]:
    """Everything that can be entered as handled, what the step works on first."""
    own = _ids(step) if step else []
    parts = sorted(job.plan.parts, key=lambda part: (part.id not in own, part.title))
    return tuple((part.id, _title(part)) for part in parts if part.kind != "state")


def actions() -> tuple[Choice, ...]:
    """What can be done to a part."""
    return tuple((word, word.replace("_", " ")) for word in ACTIONS)


def sides() -> tuple[Choice, ...]:
    """From which side a screw may come to where it stands."""
    return tuple((word, f"from the {word} side") for word in APPROACHES)


def steps_at(job: Job, part: str) -> tuple[Neighbour, ...]:
    """The steps in which a part is handled, those that search for what is wrong with it first."""
    near = {part, *(split_reference(name)[0] for name in job.plan.part[part].opens)}
    searching = [one for one in job.plan.step.values() if one.mends and near & set(_ids(one))]
    handling = [one for one in job.plan.step.values() if part in _ids(one)]
    return tuple(_neighbour(job, name) for name in dict.fromkeys(one.id for one in searching + handling))


def tried_in(job: Job, part: str) -> tuple[Neighbour, ...]:
    """The steps that try a part: those of the claims that rest on it and on little else first."""
    most = _trying(job, part)[:_TRIED]
    return tuple(_neighbour(job, one.id) for one in job.plan.step.values() if one.id in most)


def tells_most(job: Job, part: str) -> str | None:
    """The one of those steps that is most about the part itself: what it warns of is met at the part."""
    return next(iter(_trying(job, part)), None)


def _trying(job: Job, part: str) -> list[str]:
    """The steps that try a part, those that tell most of it first."""
    claims = sorted(
        (one for one in job.plan.claims if part in one.rests_on and len(one.rests_on) <= _TELLING),
        key=lambda one: len(one.rests_on),
    )
    return list(dict.fromkeys(step.id for claim in claims for step in job.plan.proved_by[claim.id]))


def letting_off(job: Job) -> Neighbour:
    """The step that lets the pressure off the fuel lines."""
    return _neighbour(job, job.plan.proved_by[NO_PRESSURE][0].id)


def undoing(part: Part) -> str:
    """The action that takes a thing off the put-back list."""
    return {"tool": "taken_out", "connection": "reconnected"}.get(part.kind, "refitted")


def _lacking(job: Job, step: Step, claims: Iterable[ClaimAnswer]) -> Iterator[Lacking]:
    """One for each claim, whatever the number of its cylinders that do not stand."""
    seen: set[str] = set()
    for claim in claims:
        if claim.claim not in step.needs or claim.state in ("proved", "overridden") or claim.claim in seen:
            continue
        seen.add(claim.claim)
        bringing = job.plan.proved_by[claim.claim] or _putting_on(job, claim.claim)
        yield Lacking(claim, tuple(_neighbour(job, one.id) for one in bringing))


def _on_list(job: Job, step: Step) -> tuple[str, ...]:
    """What the put-back list wants before the step, for the cylinders in which it is to be done."""
    cylinders = next((one.cylinders for one in job.path().upcoming if one.step == step.id), [])
    where = tuple(cylinders) or job.plan.all_cylinders
    return (*left_on_words(job.state, step, where), *left_off_words(job.state, step, where))


def back_by_hand(job: Job) -> list[PutBackAnswer]:
    """What is off and no step takes off the list. What a stage lets stay on it, such as the pump fuse for
    cranking without fuel, is among it only once the first step cannot be done, or none is left.
    """
    path = job.path()
    stay = frozenset[str]()
    if path.upcoming and not path.upcoming[0].unmet:
        stay = frozenset(part for one in job.plan.stages for part in one.put_back_empty_except or ())
    by_hand = (one for one in path.put_back if one.step is None and not one.overridden)
    return [one for one in by_hand if one.item not in stay]


def _putting_on(job: Job, claim: str) -> tuple[Step, ...]:
    """The steps that put on the list what a passing claim is held by."""
    held = job.plan.claim[claim].held_by
    return tuple(one for one in job.plan.step.values() if held is not None and held in one.puts_on)


@cache
def _timers() -> dict[str, tuple[Timer, ...]]:
    found: dict[str, tuple[Timer, ...]] = {}
    for table in data.shipped("timers.toml").values["timer"]:
        found[table["step"]] = (*found.get(table["step"], ()), _timer(table))
    return found


def timers_of(step: str) -> tuple[Timer, ...]:
    """The times that matter at a step."""
    return _timers().get(step, ())


def clock_minutes(step: str, minutes: float) -> int:
    """How long the clock of a step runs, [min], where that is longer than the *minutes* of work; else 0."""
    longest = max((mark for timer in timers_of(step) for mark in timer.marks), default=0)
    return round(longest / 60) if longest > 60 * minutes else 0


def timed_steps() -> tuple[str, ...]:
    """The steps that have a timer."""
    return tuple(_timers())


def _timer(table: dict[str, object]) -> Timer:
    if "every" in table:
        every, until = _seconds(table["every"]), _seconds(table["until"])
        marks = list(range(every, until + 1, every))
    else:
        listed = table["marks"]
        assert isinstance(listed, Sequence)
        marks = [_seconds(text) for text in listed]
    lead_in = table.get("lead_in", 0)
    assert isinstance(lead_in, int)
    return Timer(
        title=str(table["title"]),
        marks=tuple(marks),
        words=tuple(shown(float(mark), "time") for mark in marks),
        lead_in=lead_in,
        fills=str(table.get("fills", "")),
    )


def _seconds(text: object) -> int:
    return round(parse(text, "time", field="timer").value)


def _claims_of(step: Step) -> Sequence[str]:
    return step.proves or step.mends


def _is_read(check: str) -> bool:
    return ":" not in check and check != "catch"


def _catch(key: str) -> AskedCatch:
    through, _, opening = key.partition(":")
    return AskedCatch(through, opening, key_words(key))


def _neighbour(job: Job, name: str) -> Neighbour:
    return Neighbour(name, step_number(job, name), job.plan.step[name].title)


def _names(job: Job, references: Iterable[str]) -> Iterable[str]:
    for reference in references:
        part = job.plan.part[split_reference(reference)[0]]
        yield part.title


def _ids(step: Step) -> list[str]:
    return [split_reference(name)[0] for name in (*step.touches, *step.puts_on, *step.takes_off)]


def _title(part: Part) -> str:
    return f"{part.title[:1].upper()}{part.title[1:]}"
