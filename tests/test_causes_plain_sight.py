"""What one sees with one's own eyes: how much a word weighs, and that its misreading is counted once."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenpour.causes.explanation import Explanation, explain
from evenpour.causes.observed import Observation
from evenpour.causes.suspects import Suspect, hypotheses, suspects
from evenpour.causes.unexplained import STRAY, doubts_of
from evenpour.errors import FieldProblem
from evenpour.job.engine_model import causes_of, checks_predicted, kind_for
from evenpour.job.sheet.found import known_checks
from evenpour.machine.asking import query
from evenpour.machine.checks import ChoiceCheck, predicted_checks
from simulated_cars import HOME, questions, read

KIND = kind_for("flat-six")
LISTED = suspects(KIND, causes_of(KIND))


def told(observations: tuple[Observation, ...]) -> Explanation:
    def weight(one: Suspect) -> float:
        assert one.cause is not None
        return one.cause.weight / (KIND.design.cylinders if one.cause.per_cylinder else 1)

    return explain(KIND, LISTED, hypotheses(LISTED, 0.25, weight), observations, HOME)


def word(check: str, choice: str, cylinder: int | None = None) -> Observation:
    return Observation(
        checks_predicted()[check], query(KIND, check, cylinder, {}, HOME), None, 0.0, choice, cylinder or 0
    )


def test_one_drip_among_dry_injectors_is_believed() -> None:
    drips = tuple(word("injector_drip", "drips" if k == 3 else "dry", k) for k in range(1, 7))
    found = told(drips)
    leaks = [h for h, one in enumerate(LISTED) if one.id == "injector_leaks" and one.cylinder == 3]
    others = np.delete(found.probability, leaks)
    assert found.probability[leaks].sum() > others.max()


def test_a_word_has_no_second_doubt_of_its_own_and_six_of_one_check_may_be_wrong_together() -> None:
    numbers = read(KIND, LISTED, 0, 0.0, questions(KIND, ("system_pressure",)), np.random.default_rng(2))
    plugs = tuple(word("plug_look", "sooty", k) for k in range(1, 7))
    columns = told((*numbers, word("plate_travel", "binds"), *plugs)).seen.columns
    number, plate, six = doubts_of(columns)
    assert plate.log_flat == -math.inf
    assert number.log_flat == pytest.approx(math.log(STRAY) - math.log(columns.flat[0]))
    sooty = checks_predicted()["plug_look"]
    assert isinstance(sooty, ChoiceCheck)
    assert six.log_flat == pytest.approx(math.log(sooty.misread) - 6.0 * math.log(4.0))


def test_of_a_check_with_several_numbers_all_may_be_wrong_or_any_one_of_them() -> None:
    numbers = read(KIND, LISTED, 0, 0.0, questions(KIND, ("compression",)), np.random.default_rng(2))
    columns = told(numbers).seen.columns
    whole, *each = doubts_of(columns)
    assert whole.whole
    assert list(whole.rows) == list(range(6))
    assert [list(one.rows) for one in each] == [[row] for row in range(6)]
    density = [math.log(width) for width in columns.flat]
    assert whole.log_flat == pytest.approx(math.log(STRAY) - math.fsum(density))
    one_of_them = math.fsum(math.exp(one.log_flat + width) for one, width in zip(each, density, strict=True))
    assert one_of_them == pytest.approx(STRAY)  # as often as all of them together


def test_every_word_may_be_misread_but_seldom() -> None:
    words = [one for one in checks_predicted().values() if isinstance(one, ChoiceCheck)]
    assert all(0.0 < one.misread < 0.1 for one in words)
    by_id = {one.check: one.misread for one in words}
    assert by_id["injector_drip"] < by_id["plug_look"]  # held in the hand, and judged by its look


@pytest.mark.parametrize("misread", [None, -0.1, 1.0, math.nan])
def test_a_choice_without_a_share_of_misread_words_is_refused(misread: float | None) -> None:
    checks, _ = known_checks()
    choice = {"check": "plate_travel", "order": [["binds"], ["free"]], "cuts": [0]}
    table = choice if misread is None else {**choice, "misread": misread}
    with pytest.raises(FieldProblem, match="misread"):
        predicted_checks({"number": [], "choice": [table], "not_predicted": []}, checks)
