"""Where the job stands, as it is answered."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evenpour.job.answers import (
    ClaimAnswer,
    NextAnswer,
    PathAnswer,
    PutBackAnswer,
    StageAnswer,
    StepAnswer,
)
from evenpour.job.catalogue import Catalogue
from evenpour.job.exchanges import KINDS, Swap, hangs_after, put_back_item, still_exchanged
from evenpour.job.facts import Facts
from evenpour.job.judging import Judged
from evenpour.job.pathway import exchanged_in
from evenpour.job.unsettled import unsettled
from evenpour.machine.line_map import LineMap, line_map_of
from evenpour.machine.sheet import Sheet
from evenpour.measure.verdicts import foresee
from evenpour.path.answer import NextStep, StageState
from evenpour.path.gates import may_close, stage_states, unmet_claims
from evenpour.path.next_steps import next_steps, repeat
from evenpour.path.plan import Plan, Stage
from evenpour.path.put_back import put_back, put_back_groups
from evenpour.path.staleness import Claims, claim_states
from evenpour.path.state import PathState


def path_answer(
    state: PathState,
    judged: Sequence[Judged],
    facts: Facts,
    sheet: Sheet,
    known: Catalogue,
    system: str,
    *,
    uneven: Sequence[str] = (),
) -> PathAnswer:
    """The whole answer; *uneven* are the catches that are outside, in words."""
    plan = state.plan
    claims = claim_states(state)
    stages = stage_states(state, claims)
    again = repeat(state, claims)
    times = _times(facts)
    on_list, line_map = put_back(state), line_map_of(sheet)
    swaps = still_exchanged(facts, line_map, [(item.part, item.cylinder) for item in on_list])
    beforehand = foreseen(facts, sheet, known, system)

    def following(one: NextStep) -> NextAnswer:
        step = plan.step[one.step]
        said = [words for check in step.checks for words in beforehand.get(check, ())]
        return NextAnswer(
            step=step.id,
            title=step.title,
            stage=step.stage,
            cylinders=list(one.cylinders),
            minutes=one.minutes,
            why=one.why,
            cautions=list(one.cautions),
            unmet=list(one.unmet),
            repeat=one.repeat,
            brings=one.brings,
            let_stand={name: plan.claim[name].stage for name in [one.let_stand] if name is not None},
            unsettled={said.claim: said.words for said in unsettled(step, state, claims, judged)},
            foresee=said,
        )

    upcoming = [following(one) for one in next_steps(state, claims)]
    return PathAnswer(
        sheet=sheet.id,
        notice=sheet.notice,
        stages=[
            StageAnswer(
                stage=stage.stage,
                title=next(one.title for one in plan.stages if one.id == stage.stage),
                state=stage.state,
                why=stage.why,
                short=_short(stage, state, claims),
                steps=[
                    StepAnswer(
                        step=step.step,
                        title=plan.step[step.step].title,
                        state=step.state,
                        cylinder=step.cylinder,
                        why=step.why,
                    )
                    for step in stage.steps
                ],
            )
            for stage in stages
        ],
        claims=[
            ClaimAnswer(
                claim=claim.claim,
                cylinder=claim.cylinder,
                stage=stage.stage,
                says=plan.claim[claim.claim].says,
                state=claim.state,
                why=claim.why,
                since=claim.since or None,
                entries=[one.entry for one in claim.proof],
            )
            for stage in stages
            for claim in stage.claims
        ],
        put_back=[
            PutBackAnswer(
                item=item.part,
                cylinder=item.cylinder,
                name=item.name,
                since=times.get(item.entry) or None,
                since_said=item.since,
                step=item.step or _exchanged_in(plan, facts, item.entry),
                words=item.words,
                entry=item.entry,
                overridden=None if item.override is None else f"{item.override.who}: {item.override.reason}",
                hangs=_hangs(item.part, item.cylinder, line_map, swaps),
            )
            for item in on_list
        ],
        next=[one for one in upcoming if not one.repeat] if not again.steps else upcoming,
        repeat=[one for one in upcoming if one.repeat],
        repeat_minutes=again.minutes,
        upcoming=upcoming,
        questions=[f"{question.words}" for question in state.questions],
        may_close=list(may_close(state, {one.id: one.title for one in known.cautions.values()}, claims)),
        outside=[*outside(judged), *uneven],
        foresee=[words for said in beforehand.values() for words in said],
    )


def _hangs(item: str, cylinder: int | None, line_map: LineMap, swaps: Sequence[Swap]) -> str:
    kind = next((kind for kind in KINDS if put_back_item(kind) == item), None)
    return "" if kind is None or cylinder is None else hangs_after(kind, cylinder, line_map, swaps)


def _times(facts: Facts) -> dict[str, str]:
    """By entry, the time it is of."""
    kinds = (facts.readings, facts.catches, facts.touches, facts.plain)
    return {told.entry: told.at for kind in kinds for told in (fact.told for fact in kind)}


def _exchanged_in(plan: Plan, facts: Facts, entry: str) -> str | None:
    step = exchanged_in(plan, facts, entry)
    return None if step is None else step.id


def _short(stage: StageState, state: PathState, claims: Claims) -> str:
    """The stage in one line: what is stale, what it waits for, or what is still to prove."""
    plan = state.plan
    if stage.state in ("proved", "overridden"):
        return stage.reasons[0] if stage.state == "overridden" else ""
    own = {word: _names(plan, stage, word) for word in ("stale", "open")}
    if stage.state == "stale":
        return _counted("to prove again: ", own["stale"], 1)
    if stage.state == "open":
        return _counted("to prove: ", own["open"])
    lacking = [plan.claim[name].says for name in unmet_claims(state, claims, stage.stage)]
    left = _left(state, next(one for one in plan.stages if one.id == stage.stage))
    return "; ".join(
        [
            *([_counted("still on the put-back list: ", left, 1)] if left else []),
            *([_counted("waits for: ", lacking, 1)] if lacking else []),
        ]
    )


def _left(state: PathState, stage: Stage) -> list[str]:
    """What of the put-back list holds the stage up, without its history."""
    allowed = stage.put_back_empty_except
    if allowed is None:
        return []
    return [
        group.name
        for group in put_back_groups(state)
        if group.override is None and group.items[0].part not in allowed
    ]


def _names(plan: Plan, stage: StageState, word: str) -> list[str]:
    asked = (
        one
        for one in stage.claims
        if one.state == word and not (plan.claim[one.claim].optional and not one.proof)
    )
    return list(dict.fromkeys(plan.claim[one.claim].says for one in asked))


def _counted(start: str, says: Sequence[str], most: int = 2) -> str:
    more = f"; and {len(says) - most} more" if len(says) > most else ""
    return f"{start}{'; '.join(says[:most])}{more}"


def outside(judged: Iterable[Judged]) -> Iterable[str]:
    """Readings that stand and are outside, in words."""
    for group in judged:
        if group.stands and group.verdict.verdict == "outside":
            where = f", cylinder {group.reading.cylinder}" if group.reading.cylinder else ""
            yield f"{group.check.title}{where}"


def foreseen(facts: Facts, sheet: Sheet, known: Catalogue, system: str) -> dict[str, list[str]]:
    """What this job's instruments can never call within, by check, said before anybody reads them."""
    found: dict[str, list[str]] = {}
    for limit in sheet.limits:
        check = known.checks[limit.check]
        if check.spread_of or check.dimension is None or check.id == "catch_evenness":
            continue
        fitting = [
            one for one in facts.instruments.values() if one.dimension == check.dimension and one.u > 0.0
        ]
        if not fitting:
            continue
        best = min(fitting, key=lambda one: one.u)
        words = foresee(limit, best.u, facts.general, system)
        if words:
            found.setdefault(check.id, []).append(f"{check.title}, read on {best.id}: {words}")
    return found
