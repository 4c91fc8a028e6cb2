"""Stage by stage: proved, stale, open, blocked or overridden, and whether the job may be closed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from evenpour.path.answer import ClaimState, StageState, StageWord, StepState
from evenpour.path.plan import Plan, Stage
from evenpour.path.put_back import left_on, waiting_items
from evenpour.path.sentences import sentences
from evenpour.path.staleness import Claims, claim_states
from evenpour.path.state import PathState
from evenpour.path.steps import step_states, unread_cautions, was_done


def stage_states(state: PathState, claims: Claims | None = None) -> tuple[StageState, ...]:
    """Every stage of the plan, in order. Stale goes before blocked, then open, overridden, proved.

    *claims*, here and below, are those of *state*, where the caller has worked them out already.
    """
    claims = claims or claim_states(state)
    return tuple(stage_state(state, claims, stage) for stage in state.plan.stages)


def stage_state(state: PathState, claims: Claims, stage: Stage) -> StageState:
    """One stage, judged by its own claims and by its gate."""
    plan = state.plan
    own = _own(plan, claims, stage)
    blocked = blocked_by(state, claims, stage)
    steps = tuple(
        _behind_gate(answer) if blocked else answer
        for step in plan.step.values()
        if step.stage == stage.id
        for answer in step_states(state, claims, step)
    )
    words: dict[StageWord, list[str]] = {
        "stale": sentences(plan, _to_renew(plan, own)),
        "blocked": list(blocked),
        "open": _open(plan, own, steps),
        "overridden": sentences(plan, (claim for claim in own if claim.state == "overridden")),
    }
    word: StageWord = next((word for word, said in words.items() if said), "proved")
    reasons = tuple(reason for said in words.values() for reason in said)
    why = "; ".join(reasons) or _all_stand(own)
    return StageState(stage.id, word, why, steps, own, reasons)


def is_behind(state: PathState, claims: Claims, stage: Stage) -> bool:
    """Whether a stage that may begin is proved or overridden: the word of :func:`stage_state`, without its
    reasons.
    """
    plan, own = state.plan, _own(state.plan, claims, stage)
    if any(_to_renew(plan, own)):
        return False
    if own:
        return not any(_asked_and_open(plan, own))
    answers = (
        one
        for step in plan.step.values()
        if step.stage == stage.id
        for one in step_states(state, claims, step)
    )
    return not any(_waits(plan, answers))


def _own(plan: Plan, claims: Claims, stage: Stage) -> tuple[ClaimState, ...]:
    return tuple(claim for claim in claims.values() if plan.claim[claim.claim].stage == stage.id)


def is_blocked(state: PathState, claims: Claims, stage: Stage) -> bool:
    """Whether :func:`blocked_by` has a reason, without its words."""
    allowed = stage.put_back_empty_except
    return bool(
        unmet_claims(state, claims, stage.id) or (allowed is not None and waiting_items(state, allowed))
    )


def blocked_by(state: PathState, claims: Claims, stage: Stage) -> tuple[str, ...]:
    """Why the stage may not begin; empty if it may."""
    plan = state.plan
    needed = (claims[key] for name in stage.needs for key in plan.keys_of(name))
    lacking = (claim for claim in needed if not claim.satisfies)
    reasons = [f"needs {said}" for said in sentences(plan, lacking, ", which is")]
    if stage.put_back_empty_except is not None:
        left = left_on(state, stage.put_back_empty_except)
        if left:
            reasons.append(f"still on the put-back list: {', '.join(left)}")
    return tuple(reasons)


def unmet_claims(state: PathState, claims: Claims, stage: str) -> tuple[str, ...]:
    """Ids of the claims the stage waits for, in the order of its needs."""
    needs = next(one.needs for one in state.plan.stages if one.id == stage)
    return tuple(name for name in needs if not all(claims[key].satisfies for key in state.plan.keys_of(name)))


def may_close(
    state: PathState, titles: Mapping[str, str] | None = None, claims: Claims | None = None
) -> tuple[str, ...]:
    """The reasons why the job may not be closed; empty if it may. *titles* are the cautions' own, by id.

    An open item, a stale claim or an unread caution of a step that was done, each unless overridden. A claim
    that was never proved is no reason here; the gate of the last stage lists it.
    """
    plan = state.plan
    claims = claims or claim_states(state)
    reasons = [f"still on the put-back list: {item}" for item in left_on(state)]
    reasons += sentences(plan, _to_renew(plan, claims.values()))
    unread: dict[str, list[str]] = {}
    for step in plan.step.values():
        if step.cautions and was_done(state, step):
            for caution in unread_cautions(state, step):
                unread.setdefault(caution, []).append(f"“{step.title}”")
    reasons += [
        f"caution {_titled(caution, titles or {})} was not read (step {steps[0]}{_and_more(steps)})"
        for caution, steps in unread.items()
        if caution not in state.overrides
    ]
    return tuple(reasons)


def _to_renew(plan: Plan, claims: Iterable[ClaimState]) -> Iterator[ClaimState]:
    """The stale claims, but those that are renewed only for a step that needs them."""
    return (claim for claim in claims if claim.state == "stale" and not plan.claim[claim.claim].for_a_time)


def _titled(caution: str, titles: Mapping[str, str]) -> str:
    return f"“{titles.get(caution, caution)}”"


def _behind_gate(step: StepState) -> StepState:
    return replace(step, state="blocked", why="its stage is blocked") if step.state == "open" else step


def _open(plan: Plan, own: tuple[ClaimState, ...], steps: tuple[StepState, ...]) -> list[str]:
    if own:
        return sentences(plan, _asked_and_open(plan, own))
    waiting = dict.fromkeys(step.step for step in _waits(plan, steps))
    return [f"step “{plan.step[name].title}” is not done" for name in waiting]


def _asked_and_open(plan: Plan, own: Iterable[ClaimState]) -> Iterator[ClaimState]:
    asked = (claim for claim in own if claim.proof or not plan.claim[claim.claim].optional)
    return (claim for claim in asked if claim.state == "open")


def _waits(plan: Plan, steps: Iterable[StepState]) -> Iterator[StepState]:
    """The steps for which a stage waits that claims nothing: it is behind us when they are."""
    not_done = (step for step in steps if step.state not in ("done", "passed_over"))
    return (step for step in not_done if not plan.step[step.step].mends)


def _and_more(steps: Sequence[str]) -> str:
    return f" and {len(steps) - 1} more" if len(steps) > 1 else ""


def _all_stand(own: tuple[ClaimState, ...]) -> str:
    over = sum(claim.state == "over" for claim in own)
    if not own:
        return "all its steps are done or passed over"
    if not over:
        return "all that it is to prove stands"
    things = "one thing of it was" if over == 1 else f"{over} things of it were"
    return f"all that it is to prove stands, or stood as long as it had to: {things} so for a time only"
