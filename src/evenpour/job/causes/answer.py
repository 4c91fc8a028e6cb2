"""All readings of a job explained together, and the test that tells most a minute: put into words."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial

import numpy as np

from evenpour.causes.aside import Often, weighed
from evenpour.causes.explanation import explain
from evenpour.causes.next_test import ranked
from evenpour.causes.normal import log_sum
from evenpour.causes.not_known import not_known
from evenpour.causes.reasons import as_it_is, evidence, if_mended, undivided, weighs_at_once
from evenpour.causes.suspects import Suspect
from evenpour.job.causes.answers import CauseLine, CauseName, CausesAnswer
from evenpour.job.causes.asked import asked_now
from evenpour.job.causes.at_cylinder import at_one_cylinder
from evenpour.job.causes.candidates import asked_of, next_lines
from evenpour.job.causes.case import Case, kept
from evenpour.job.causes.clashes import clashes, slip_words, told_clashes
from evenpour.job.causes.dividing import what_divides
from evenpour.job.causes.expected import Expectations
from evenpour.job.causes.groups import ALIKE, alike, close_calls, rivals, whole
from evenpour.job.causes.listed import Listed, listed, named
from evenpour.job.causes.naming import name_of, things
from evenpour.job.causes.not_known import LEADS, beside, moved_lines, notes
from evenpour.job.causes.passed_over import passed_over
from evenpour.job.causes.prior import Prior, shipped_prior
from evenpour.job.causes.reasons_told import (
    CLEARLY,
    Weighing,
    joint_reasons,
    reasons_of,
    speaking,
    speaks_for,
    whole_weight,
)
from evenpour.job.causes.repair_costs import Costs, shipped_costs
from evenpour.job.causes.repairs import STOPPED_AS, repairs_in_order, worth_doing
from evenpour.job.causes.ticked import ticked_since
from evenpour.job.causes.words import each_words, mended_words, most_moved, severity_words, spanned
from evenpour.job.job import Job
from evenpour.machine.faults import Cause
from evenpour.machine.set_up import is_set_for
from evenpour.measure.verdicts import NO_LIMIT

UNCLEAR = 0.1  # that something not known here is wrong, from which not all is well
LOWERED = 0.7  # share left of that nothing is wrong, from which the readings say that something is
PLAINLY = 0.9  # share of a cause's probability from which its way is told
ROUGH = 0.25  # of all probability, from which it is told that it could not be put right by draws
TELLING = 0.02  # that nothing is wrong, from which it matters how well that was worked out


def case_of(job: Job, prior: Prior | None = None, *, tell: Callable[[str], None] | None = None) -> Case:
    """Explain all readings of a job that tell of the car as it is now."""
    prior = shipped_prior() if prior is None else prior
    say = tell or _silent
    say("going through the readings")
    asked = asked_now(job, prior)
    told, observed = asked.told, [one.observation for one in asked.told]
    say(f"trying {len(asked.guesses) - 1} causes on {len(told)} readings")
    explained = explain(asked.kind, asked.listed, asked.guesses, observed, asked.home)
    say("trying several causes at once, and weighing the likely ones by draws")
    found = weighed(explained, Often(prior.pairs, prior.several, asked.beside, asked.ran))
    main = found.parts[found.main]
    joint = tuple(found.joint_of(which) for which in found.joint)
    return Case(
        job, asked.kind, asked.home, told, found, main.told, kept(told, main), joint,
        asked.left_out, dict(enumerate(map(float, found.probability))), tuple(found.joint.values()),
        slips=main.way.slips,
    )  # fmt: skip


def causes_answer(
    job: Job,
    prior: Prior | None = None,
    own_costs: Costs | None = None,
    *,
    tell: Callable[[str], None] | None = None,
    hold: Callable[[Case], None] | None = None,
) -> CausesAnswer:
    """What may be wrong with the car, why, and what to read next.

    A face asks :func:`evenpour.job.causes.kept.kept_answer`, which keeps what this works out.

    Args:
        prior: What is believed before any reading; as shipped if not given.
        own_costs: What repairs take; as shipped if not given.
        tell: Called with what is being done, in words.
        hold: Given the explained job as soon as it is weighed, before it is put into words.
    """
    prior = shipped_prior() if prior is None else prior
    known = shipped_costs() if own_costs is None else own_costs
    say = tell or _silent
    case = case_of(job, prior, tell=tell)
    say("looking for readings that clash")
    clashing = clashes(case)
    strange = not_known(case.weighed, prior.not_known)
    case = beside(case, strange)
    if hold is not None:
        hold(case.lean())
    say("weighing what speaks for and against")
    lines = _lines(case)
    listed = math.fsum(line.probability for line in lines)
    nothing = case.probability[0] * (1.0 - case.odd)
    unexplained = case.probability[0] * case.odd + strange.probability
    repairs = repairs_in_order(case, known)
    say("looking for the check that tells most")
    candidates = asked_of(case)
    order = ranked(case.weighed.held(), [one.candidate for one in candidates])
    following = next_lines(case, candidates, order, clashing)
    told = told_clashes(case, clashing)
    clashing_lines = told + (moved_lines(case, strange, told) if unexplained > LEADS else [])
    unclear = list(_undivided(case, lines))
    return CausesAnswer(
        sheet=job.sheet.title,
        notice=job.sheet.notice,
        causes=lines,
        nothing_wrong=nothing,
        unexplained=unexplained,
        others=max(1.0 - nothing - unexplained - listed, 0.0),
        clashes=clashing_lines,
        undivided=unclear,
        divided_by=[what_divides(case, candidates, close_calls(names, lines)) for names in unclear],
        next_checks=following,
        repairs=repairs,
        worth_doing=worth_doing(
            repairs, following, {step.id: step.minutes for step in job.plan.step.values()}
        ),
        readings=len({one.entry for one in case.read}),
        left_out=list(case.left_out),
        notes=[
            *_wrong_all_the_same(case, nothing, lines),
            *(passed_over(case, lines, clashing_lines) if unexplained <= LEADS else []),
            *at_one_cylinder(case),
            *_notes(case),
            *ticked_since(case),
            *(notes() if unexplained > LEADS else []),
        ],
        all_well=_all_well(case.job, nothing, lines) if not told and unexplained < UNCLEAR else "",
        experience=prior.told,
        hour_of_work=known.hour,
    )


def _all_well(job: Job, nothing: float, lines: Sequence[CauseLine]) -> str:
    """That all that was read is as it should be, where it is, and nothing being wrong is the likeliest. What
    lies too near a limit to be sure of it does so on the right side.
    """
    groups = [one for one in job.judged if one.stands and one.verdict.settle != NO_LIMIT]
    near = [
        one for one in groups if one.verdict.verdict == "cannot_tell" and (one.verdict.p_within or 0.0) > 0.5
    ]
    fine = [one for one in groups if one.verdict.verdict == "within"] + near
    likeliest = max((whole(one) for one in alike(lines)), default=0.0)
    if not fine or len(fine) < len(groups) or job.uneven or nothing < likeliest:
        return ""
    many = (
        f"All {len(fine)} readings that have a limit are"
        if len(fine) > 1
        else "The one reading with a limit is"
    )
    close = f", {len(near)} of them too near its end to be sure" if near else ""
    if _speaks_of_a_fault(lines):
        return f"{many} inside it{close}."
    return (
        f"{many} inside it{close}, and nothing that was read speaks clearly for a fault. What is "
        "left are faults that it would hardly show."
    )


def _speaks_of_a_fault(lines: Sequence[CauseLine]) -> bool:
    return any(reason.weight > CLEARLY for line in lines for reason in line.for_)


def _wrong_all_the_same(case: Case, nothing: float, lines: Sequence[CauseLine]) -> Iterator[str]:
    """That something is wrong, where the readings say so and nothing being wrong is the likeliest line."""
    likeliest = max((whole(one) for one in alike(lines)), default=0.0)
    prior = case.explanation.fitted.grid.log_prior
    before = float(np.exp(prior[0] - log_sum(prior)))
    if likeliest <= nothing < min(LOWERED * before, 0.5) and _speaks_of_a_fault(lines):
        yield (
            f"That something is wrong is likelier than not: {1.0 - nothing:.0%}. Nothing being wrong only "
            "comes first because what it is, is not told apart yet."
        )


def _silent(_: str) -> None:
    pass


def _undivided(case: Case, lines: Sequence[CauseLine]) -> Iterator[list[CauseName]]:
    """What the readings cannot tell apart; not what is rather told as being wrong at once."""
    for group in undivided(case.explanation):
        left = rivals([name_of(case, h) for h in group], lines)
        if len(left) > 1:
            yield left


def _lines(case: Case) -> list[CauseLine]:
    """Each cause is told from the readings that belong where it is likeliest."""
    chosen = listed(case)
    parts = [case.weighed.part_of(one.which) for one in chosen]
    found: dict[int, CauseLine] = {}
    for part in case.weighed.parts:
        own = [number for number, its in enumerate(parts) if its is part]
        if not own:
            continue
        some, seen = [chosen[number] for number in own], case.told_from(part)
        weighs = evidence(part.told, part.joint)
        place: dict[tuple[int, ...], int] = {(h,): h for h in range(len(part.told.hypotheses))}
        place |= {one.which: len(place) + n for n, one in enumerate(part.joint.sets)}
        expect = Expectations(seen, sorted({h for one in some for h in one.which}))
        its = []
        for same in _alike(seen, some):
            told = [place[which] for one in same for which in (one.which, *one.untold) if which in place]
            chance = math.fsum(one.probability for one in same)
            at_once = partial(weighs_at_once, part.told, part.joint, told)
            its.append(Weighing(chance, weighs.weighs(told), at_once))
        expect.prepare([
            g
            for one, mine in zip(some, its, strict=True)
            if one.joint is None
            for g, _ in speaking(seen, mine.each)
        ])  # fmt: skip
        found |= {
            number: _line(seen, one, mine, expect) for number, one, mine in zip(own, some, its, strict=True)
        }
    return [found[number] for number in range(len(chosen))]


def _alike(case: Case, lines: Sequence[Listed]) -> list[list[Listed]]:
    """Of each line all that is told, and weighed, together: the same at other cylinders that are about as
    likely.
    """
    listed = case.explanation.suspects

    def together(one: Listed, other: Listed) -> bool:
        if one is other:
            return True
        h, o = one.which[0], other.which[0]
        return (
            one.joint is None
            and other.joint is None
            and listed[h].cylinder is not None
            and listed[h].id == listed[o].id
            and one.probability < ALIKE * other.probability < ALIKE**2 * one.probability
        )

    return [[other for other in lines if together(one, other)] for one in lines]


def _line(case: Case, listed: Listed, weighed: Weighing, expect: Expectations) -> CauseLine:
    explained, which, joint = case.explanation, listed.which, listed.joint
    main = which[0]
    one = explained.suspects[main]
    assert one.cause is not None
    severity, u = explained.severity(main) if joint is None else (joint.severities[0], None)
    if joint is None:
        now, mended = as_it_is(explained, main), if_mended(explained, main)
    else:
        now, mended = case.weighed.cars_of(which)
    some = [explained.suspects[h] for h in which]
    of_one = len({one.id for one in some}) == 1
    moved = most_moved(case, now, mended) if of_one else 0.0  # of several, nobody knows whose it is
    severities = (severity,) if joint is None else joint.severities
    bad = [severity_words(one, u, moved) for one in severities]
    how = each_words([spanned([bad[some.index(each)] for each in thing]) for thing in things(some)])
    second = [explained.second_form(main)] if joint is None else joint.second
    reasons = (
        reasons_of(case, main, weighed, expect, (now, mended))
        if joint is None
        else joint_reasons(case, weighed, (now, mended))
    )
    told = {
        **named(case, listed),
        "severity": severity,
        "severity_u": u,
        "severity_words": how,
        "way": _way(one.cause, second) if of_one else "",
        "for": sorted((r for r in reasons if speaks_for(r)), key=lambda r: -whole_weight(r)),
        "against": sorted((r for r in reasons if not speaks_for(r)), key=lambda r: r.weight),
        "if_mended": mended_words(case, now, mended),
        "severities": [] if joint is None else list(joint.severities),
        "part": one.cause.part,
        "remedy": _remedies(some),
    }
    return CauseLine.model_validate(told)  # "for" and "with" are words of the language


def _way(cause: Cause, second: Sequence[float]) -> str:
    """In which of its two ways a cause is wrong, where that is nearly sure and the same at all its places.

    Args:
        second: At each, the share of its probability that is its second form's.
    """
    forms = {1 if share > PLAINLY else 0 if share < 1.0 - PLAINLY else None for share in second}
    form = forms.pop()
    if not cause.ways or form is None or forms or (form == 0 and is_set_for(cause.forms[1])):
        return ""  # open, or that nothing is otherwise than it was
    return cause.ways[form]


def _remedies(some: Sequence[Suspect]) -> str:
    """What mends them, the screw last: set before the rest is mended, it only hides that."""
    screw = [one for one in some if one.id in STOPPED_AS]
    rest = [one for one in some if one not in screw]
    parts = (
        "; and ".join(dict.fromkeys(one.cause.remedy for one in its if one.cause is not None))
        for its in (rest, screw)
    )
    return "; then ".join(filter(None, parts))


def _notes(case: Case) -> list[str]:
    found = []
    if not case.read:
        which = "No reading yet that the model can use" if not case.left_out else "No reading counts any more"
        found.append(f"{which}: these are the causes by how common they are.")
    elif not case.told:
        found.append(
            "What was read is rather wrong than right: read it again first. If it is wrong, each cause is "
            "as likely as it is common; one that stands out does so only if it is right."
        )
    if case.slips:
        words = "; and ".join(slip_words(case, slip) for slip in case.slips)
        found.append(
            f"Likelier than not a slip: {words}. The rest is told as if that were put right; correct the "
            "entry if it was one."
        )
    if case.probability[0] > TELLING and not bool(case.explanation.fitted.modes.arrived[0]):
        found.append(
            "How a sound car would come to these readings was not worked out to the end: that nothing is "
            "wrong is a rough figure."
        )
    if case.weighed.rough > ROUGH:
        found.append(
            "How likely each cause is, is a rough figure here: too few of the cars that were tried come as "
            "near to these readings as yours."
        )
    return found
