"""One cause at several cylinders: told as that, and not as what starves or shuts them all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from evenpour.causes.aside import Often, weighed
from evenpour.causes.explanation import explain
from evenpour.causes.severe import going_together
from evenpour.causes.suspects import Suspect, hypotheses, suspects
from evenpour.job import job_of_text
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.causes.groups import alike, group_says, named_by
from evenpour.job.causes.naming import at_once, things
from evenpour.job.causes.words import spanned
from evenpour.job.engine_model import causes_of, kind_for
from evenpour.job.job_file import read_text
from job_examples import head, job_with
from simulated_cars import HOME, questions, read

KIND = kind_for("flat-six")
LISTED = suspects(KIND, causes_of(KIND))
READ = ("system_pressure", "control_pressure_warm", "pump_delivery", "catch", "exhaust_co", "idle_speed")
HIDDEN = ("air_leak_common", "spark_none")
RUNNING = (
    "exhaust_lambda", "exhaust_co", "exhaust_hc", "idle_speed", "manifold_vacuum", "intake_smoke",
    "plug_look", "start_outcome",
)  # fmt: skip
HEAD = head()


def of(name: str, cylinder: int) -> int:
    return next(h for h, one in enumerate(LISTED) if one.id == name and one.cylinder == cylinder)


def weight(one: Suspect) -> float:
    """How common one suspect is: causes of a cylinder share theirs among all."""
    assert one.cause is not None
    return one.cause.weight / (KIND.design.cylinders if one.cylinder else 1.0)


def drips(words: Sequence[str], what: str = "injector_drip") -> CausesAnswer:
    text = "".join(
        f'[[reading]]\nwhat = "{what}"\nvalue = "{word}"\ncylinder = {number}\nsure = true\n'
        for number, word in enumerate(words, start=1)
    )
    return causes_answer(job_with(text))


@pytest.mark.parametrize("severe", [(0.6, 0.75, 0.9), (0.8, 0.65, 0.7)])
def test_three_clogged_injectors_are_told_as_three_and_the_pump_is_left_alone(
    severe: tuple[float, ...],
) -> None:
    which = [of("injector_restricted", cylinder) for cylinder in (2, 4, 6)]
    first, *others = zip(which, severe, strict=True)
    read_on = read(KIND, LISTED, *first, questions(KIND, READ), np.random.default_rng(4), others=others)
    guesses = hypotheses(LISTED, 0.25, weight)
    found = weighed(explain(KIND, LISTED, guesses, read_on, HOME), Often(pairs=0.25, several=0.1))
    # what an injector lets through and at what it opens hardly differ in a catch; nor does its line
    paths = {"injector_restricted", "injector_opens_high", "line_restricted"}
    right = math.fsum(
        p
        for some, p in found.joint.items()
        if {LISTED[h].id for h in some} <= paths and {LISTED[h].cylinder for h in some} >= {2, 4, 6}
    )
    assert right > 0.9
    own = found.part_of(tuple(which))
    how = found.joint_of(tuple(which)).severities
    assert own.way.aside == ()
    assert how == pytest.approx(severe, abs=0.1)  # each its own; the catches read one to a few hundredths


def test_a_little_at_every_cylinder_is_tried_as_a_little() -> None:
    """Six leaks of the least cell together are far too much: begun there, the set was never found."""
    which = [of("air_leak_runner", cylinder) for cylinder in range(1, 7)]
    asked = questions(KIND, (*READ, "exhaust_lambda", "plug_look", "intake_smoke"))
    others = [(h, 0.1) for h in which[1:]]
    read_on = read(KIND, LISTED, which[0], 0.1, asked, np.random.default_rng(6), others=others)
    guesses = hypotheses(LISTED, 0.25, weight)
    found = weighed(explain(KIND, LISTED, guesses, read_on, HOME), Often(pairs=0.25, several=0.1))
    leaks = {some: p for some, p in found.joint.items() if set(some) <= set(which) and len(some) > 2}
    assert max(leaks, key=lambda some: leaks[some]) == tuple(which)


def test_two_causes_are_found_whose_effects_do_not_add() -> None:
    """Dead ignition beside an air leak: what the leak does to an exhaust that burns, it does not do here."""
    leak, dead = (next(h for h, one in enumerate(LISTED) if one.id == id_) for id_ in HIDDEN)
    asked = questions(KIND, RUNNING)
    read_on = read(KIND, LISTED, dead, 0.7, asked, np.random.default_rng(3), others=[(leak, 0.84)])
    guesses = hypotheses(LISTED, 0.25, weight)
    found = weighed(explain(KIND, LISTED, guesses, read_on, HOME), Often(pairs=0.1, several=0.1))
    assert max(found.joint, key=lambda which: found.joint[which]) == tuple(sorted((leak, dead)))
    leaks = {h for h, one in enumerate(LISTED) if one.id.startswith("air_leak")}  # wherever they are
    assert sum(p for which, p in found.joint.items() if dead in which and leaks & set(which)) > 0.95


def test_three_injectors_that_drip_are_one_line_and_nothing_clashes() -> None:
    answer = drips(["drips", "drips", "dry", "drips", "dry", "dry"])
    line = answer.causes[0]
    assert line.says == "the injector leaks when shut (cylinders 1, 2 and 4)"
    assert [one.cylinder for one in named_by(line)] == [1, 2, 4]
    assert len(line.severities) == 3
    assert line.probability > 0.5
    assert not answer.clashes
    assert group_says(alike(answer.causes)[0]).startswith(line.says.removesuffix(")"))  # then other sets
    first = [one for one in answer.repairs if "injector" in one.remedy and one.probability > 0.9]
    assert {one.cylinder for one in first} == {1, 2, 4}


def test_two_that_drip_are_a_pair_and_one_is_one() -> None:
    two = drips(["drips", "drips", "dry", "dry", "dry", "dry"]).causes[0]
    assert (two.cylinder, two.with_ and two.with_.cylinder, two.also) == (1, 2, [])
    drip = "the injector leaks when shut (cylinder {})"
    assert two.says == f"two things are wrong at once: {drip.format(1)}, and {drip.format(2)}"
    one = drips(["drips", "dry", "dry", "dry", "dry", "dry"]).causes[0]
    assert (one.cylinder, one.with_, one.also) == (1, None, [])


def test_two_causes_at_once_are_told_in_one_sentence_with_one_colon() -> None:
    case: Any = SimpleNamespace(kind=KIND)
    leak = LISTED[of("air_leak_runner", 3)]
    screw = next(
        one for one in LISTED if one.cause and one.cause.title == "the mixture screw stands too rich"
    )
    assert at_once(case, [screw, leak]) == (
        "two things are wrong at once: the mixture screw stands too rich, and air gets in at one cylinder,"
        " its injector's seat or its runner (cylinder 3)"
    )


def test_parts_of_one_engine_go_together() -> None:
    """Six injectors that all open low are one thing, however little lower each is than it may be."""
    values = (2.6, 2.5, 2.7, 2.6, 2.55, 2.6)
    text = "".join(
        f'[[reading]]\nwhat = "injector_opening_pressure"\nvalue = "{bar} bar"\ncylinder = {number}\n'
        for number, bar in enumerate(values, start=1)
    )
    line = causes_answer(job_with(text)).causes[0]
    assert line.cause == "injector_opens_low"
    assert [one.cylinder for one in named_by(line)] == [1, 2, 3, 4, 5, 6]
    assert line.probability > 0.5


def test_numbers_that_go_together_keep_their_own_spread_and_any_order() -> None:
    random = np.random.default_rng(3)
    z = random.standard_normal((200_000, 4))
    alike = np.array([[0.7, 0.7, 0.7, 0.0]]).repeat(len(z), axis=0)
    v = going_together(z, alike)
    right = np.eye(4)
    right[:3, :3] += 0.7 * (1.0 - np.eye(3))
    assert np.cov(v.T) == pytest.approx(right, abs=0.02)  # three standard errors of 200,000 draws are 0.01
    np.testing.assert_allclose(going_together(v, alike, back=True), z, atol=1e-12)
    order = [2, 0, 1, 3]
    np.testing.assert_allclose(going_together(z[:, order], alike[:, order]), v[:, order], atol=1e-12)


def test_injectors_that_all_give_nothing_on_the_hand_pump_are_believed() -> None:
    """After years of standing that is what one finds; nothing else was read that they could contradict."""
    answer = drips(["none"] * 6, "injector_spray")
    assert answer.causes[0].cause == "injector_shut"
    assert len(answer.causes[0].also) == 5
    assert answer.causes[0].probability > 0.7
    assert not answer.clashes


def both(words: Sequence[str], what: str, then: str = "") -> CausesAnswer:
    """Words of all cylinders, and a cold control pressure that is plainly too high."""
    at = "at = 2026-05-03T10:00:00\n"
    wide = 'conditions = { throttle = "wide" }\n' * (what == "compression")
    text = "".join(
        f'[[reading]]\nwhat = "{what}"\nvalue = "{word}"\ncylinder = {number}\n{at}{wide}'
        for number, word in enumerate(words, start=1)
    )
    high = (
        '[[reading]]\nwhat = "control_pressure_cold"\nvalue = "2.7 bar"\n'
        f'{at}conditions = {{ regulator_temperature = "18 degC" }}\n'
    )
    head = HEAD.replace("flat-six", "inline-six")
    return causes_answer(job_of_text(read_text(head + text + high + then, "job.toml")))


@pytest.mark.parametrize(
    ("words", "what", "cause", "where"),
    [
        (["drips"] * 6, "injector_drip", "injector_leaks", [1, 2, 3, 4, 5, 6]),
        (["strings"] * 6, "injector_spray", "injector_sprays_poorly", [1, 2, 3, 4, 5, 6]),
        (["11 bar", "5 bar", "11 bar", "5.2 bar"] + ["11 bar"] * 2, "compression", "compression_low", [2, 4]),
    ],
)
def test_one_cause_at_several_cylinders_beside_another_is_two_things_and_both_belong(
    words: Sequence[str], what: str, cause: str, where: Sequence[int]
) -> None:
    """Neither explains the other's readings, and neither is to be dismissed for that."""
    answer = both(words, what)
    line = answer.causes[0]
    assert line.says.startswith("two things are wrong at once")
    assert [(one.cause, one.cylinder) for one in named_by(line)][:-1] == [(cause, number) for number in where]
    assert named_by(line)[-1].cause.startswith("control_")
    beside = [one for one in answer.causes if set(where) <= {each.cylinder for each in named_by(one)}]
    assert math.fsum(one.probability for one in beside) > 0.5
    assert all(one.probability < 0.5 for one in answer.clashes)


def test_what_explanations_have_in_common_is_not_told_where_a_check_divides_them() -> None:
    checks = both(["drips"] * 6, "injector_drip").next_checks
    why = " ".join(one.why for one in checks if one.what.startswith("control"))
    assert "bimetal" in why
    assert "leaks when shut" not in why


def test_several_are_told_by_the_things_that_are_wrong() -> None:
    leaks = [LISTED[of("injector_leaks", cylinder)] for cylinder in (1, 3)]
    spark = next(one for one in LISTED if one.id == "spark_none")
    assert things(leaks) == [[leaks[0]], [leaks[1]]]
    assert things([*leaks, spark]) == [leaks, [spark]]


def test_how_severe_one_cause_is_at_several_cylinders_is_a_word_or_a_span() -> None:
    assert spanned(["clearly", "clearly"]) == "clearly"
    assert spanned(["clearly", "barely", "slightly"]) == "barely to clearly"
    assert spanned(["cannot tell"]) == "cannot tell"


@pytest.mark.parametrize("count", [2, 6])
def test_a_turn_of_the_screw_mends_nothing_of_several_cylinders_and_another(count: int) -> None:
    """What may be so beside any cause is so beside all of them, or the others would gain by it."""
    words = [*["drips"] * count, *["dry"] * (6 - count)]
    turn = '[[move]]\npart = "mixture_screw"\nturns = "+1/8 turn"\nat = 2026-05-03T12:00:00\n'

    def both_likely(answer: CausesAnswer) -> float:
        causes = [{one.cause for one in named_by(line)} for line in answer.causes]
        return math.fsum(
            line.probability
            for line, its in zip(answer.causes, causes, strict=True)
            if "injector_leaks" in its and any(one.startswith(("control_", "gauge")) for one in its)
        )

    before, after = both(words, "injector_drip"), both(words, "injector_drip", turn)
    assert both_likely(before) > 0.5
    assert both_likely(after) == pytest.approx(both_likely(before), abs=0.15)
    assert all(one.probability < 0.5 for one in after.clashes)
