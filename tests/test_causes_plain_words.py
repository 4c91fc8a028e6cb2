"""What the causes say is true of what was read, and says which part of a question a check settles."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from evenpour.job import job_of_text
from evenpour.job.causes import dividing
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CauseLine, CauseName, CausesAnswer, RepairLine
from evenpour.job.causes.groups import alike, group_says, told_repairs, whole
from evenpour.job.causes.repairs import worth_doing
from evenpour.job.causes.words import about, value_words
from evenpour.job.job_file import read_text
from evenpour.measure.choice_words import choice_words
from evenpour.path.words import listed
from job_examples import next_check

HEAD = """
format = "evenpour-job/1"
[engine]
sheet = "inline-six"
[conditions]
ambient_temperature = "18 degC"
fuel = "E5"
"""


def answer(*readings: tuple[str, str, str]) -> CausesAnswer:
    """What a job with these readings leads to: each a check, a value, and what else it states."""
    said = [
        f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"\n{more}\nat = 2026-05-03T09:{4 * n:02d}:00\n'
        for n, (what, value, more) in enumerate(readings, start=1)
    ]
    return causes_answer(job_of_text(read_text(HEAD + "\n".join(said), "job.toml")))


def test_a_lone_reading_that_is_doubted_does_not_clash_with_others_and_may_still_lead() -> None:
    found = answer(("system_pressure", "8.25 bar", 'conditions = { valve = "shut" }'))
    assert "other readings" not in found.clashes[0].words
    assert found.clashes[0].words.endswith("is far from what is usual of such a car")
    assert found.causes[0].cause == "return_restricted"
    assert not any("these are the causes by how common" in words for words in found.notes)
    assert any("rather wrong than right" in words for words in found.notes)


def test_a_resistance_has_a_unit_in_which_it_shows() -> None:
    job = job_of_text(read_text(HEAD, "job.toml"))
    assert value_words(job, "regulator_heater_resistance", 22.0, 90e3) == "22.0 Ω"
    assert value_words(job, "regulator_heater_resistance", 1644.0, 22.0).endswith("kΩ")
    assert value_words(job, "regulator_heater_resistance", 531e3) == "open circuit"
    assert about("open circuit") == "open circuit"


def test_a_start_that_fires_and_dies_is_called_so() -> None:
    assert choice_words("fires_dies") == "fires and dies"
    assert choice_words("no_fire") == "no fire"
    assert choice_words("cold_start_valve") == "cold-start valve"


@pytest.mark.parametrize(
    ("together", "said"),
    [
        ([], ""),
        (
            [{"spark_none", "fuel_water"}],
            ", but only whether the fuel is stale, or the battery is flat or worn",
        ),
        (
            [{"spark_none", "fuel_water"}, {"fuel_water", "battery_weak"}],
            ", but only whether the fuel is stale",
        ),
        ([{"spark_none", "fuel_water"}, {"fuel_stale", "battery_weak"}], ", but not each from each other"),
    ],
)
def test_a_check_is_told_to_part_only_what_it_parts_from_all_others(
    together: list[set[str]], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def parts(_case: object, _asked: object, pair: Sequence[CauseName]) -> bool:
        return {one.cause for one in pair} not in together

    monkeypatch.setattr(dividing, "_parts", parts)
    causes = ("fuel_stale", "spark_none", "fuel_water", "battery_weak")
    names = [CauseName(cause=one, cylinder=None) for one in causes]
    assert dividing._as_far_as(None, None, names) == said  # type: ignore[arg-type]


def test_a_check_that_parts_no_cause_from_each_other_one_is_not_said_to() -> None:
    found = answer(("start_outcome", "no_fire", ""))
    assert ", but " in found.divided_by[0]


def repair(remedy: str, cylinder: int | None, probability: float, effort: float) -> RepairLine:
    """A repair of invented cost."""
    part = "injector" if cylinder else "frequency_valve"
    return RepairLine(
        remedy=remedy, part=part, cylinder=cylinder, probability=probability, minutes=effort, cost=0.0,
        causes=[CauseName(cause="x", cylinder=cylinder)], effort=effort, source="invented",
    )  # fmt: skip


def test_a_single_cheap_repair_goes_before_the_same_new_part_at_many_cylinders_and_is_told() -> None:
    many = [repair("renew the injector", cylinder, 1.0, 70.0) for cylinder in (1, 2, 4, 6)]
    valve = repair("measure the winding", None, 0.89, 120.0)
    assert worth_doing([*many, valve], [next_check(30.0)], {}) == "Measure the winding"
    assert worth_doing(many, [next_check(30.0)], {}) == "Renew the injector, cylinders 1, 2, 4 and 6"
    assert told_repairs([*many, valve])[-1] is valve


def test_a_check_whose_first_steps_the_repair_wants_too_costs_only_what_it_adds() -> None:
    """Asked for 24 minutes, 20 of them for steps that come before the repair as well: 4 are less than what
    is lost, likely, by a repair in vain.
    """
    takes = {"fire_place": 15.0, "release_pressure": 5.0}
    valve = repair("renew the cold-start valve", None, 0.88, 105.0)
    beside = valve.model_copy(update={"before": list(takes)})
    assert worth_doing([valve], [next_check(24.0, *takes)], takes) == "Renew the cold-start valve"
    assert worth_doing([beside], [next_check(24.0, *takes)], takes) is None


def at_cylinders(probability: float, *cylinders: int) -> CauseLine:
    """One cause at these cylinders."""
    first, *rest = (CauseName(cause="compression_low", cylinder=one) for one in cylinders)
    where = listed([str(one) for one in cylinders])
    return CauseLine.model_validate({
        "cause": first.cause, "cylinder": first.cylinder, "probability": probability, "severity": 0.3,
        "says": f"the cylinder's compression is low (cylinders {where})", "severity_u": None,
        "severity_words": "slightly", "for": [], "against": [], "if_mended": [], "also": rest,
        "part": "compression", "remedy": None,
    })  # fmt: skip


def test_one_cause_at_several_sets_of_cylinders_is_one_line_with_all_that_it_may_be() -> None:
    lines = [at_cylinders(0.64, 1, 2, 4, 7), at_cylinders(0.04, 1, 2, 4, 7, 8), at_cylinders(0.03, 1, 2, 4)]
    (group,) = alike(lines)
    assert whole(group) == pytest.approx(0.71)
    assert group_says(group) == (
        "the cylinder's compression is low (cylinders 1, 2, 4 and 7 in 64 of these 71 %; or cylinders 1, "
        "2, 4, 7 and 8; or cylinders 1, 2 and 4)"
    )
    assert group_says([*group, at_cylinders(0.02, 1, 2, 8)]).endswith("; or cylinders 1, 2 and 4; or others)")
