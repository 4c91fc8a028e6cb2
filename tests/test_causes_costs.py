"""What repairs take: shipped figures, one's own beside them, and the order that comes of it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cli_world import Shop
from evenpour.errors import OutOfRange, Problems
from evenpour.job.causes.repair_costs import (
    FILE,
    OWN_SOURCE,
    SHIPPED_SOURCE,
    costs,
    repair_of,
    set_cost,
    set_hour,
    shipped_again,
    shipped_costs,
)


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("EVENPOUR_STORE", raising=False)
    return Shop(tmp_path / "home", capsys)


def test_own_figures_stand_beside_the_shipped_ones_with_where_they_come_from(shop: Shop) -> None:
    before = repair_of(costs(), "pump_weak")
    assert before.source == SHIPPED_SOURCE
    told = shop.answer("repairs", "repairs set pump_weak --minutes 25", status=0)["repairs"]
    assert [(one["repair"], one["minutes"], one["parts"]) for one in told] == [
        ("pump_weak", 25, before.parts)
    ]
    assert told[0]["source"] == f"minutes {OWN_SOURCE}, the rest {SHIPPED_SOURCE}"
    shop("repairs set pump_weak --parts 99.5")
    assert repair_of(costs(), "pump_weak").source == OWN_SOURCE
    shop("repairs shipped pump_weak")
    assert repair_of(costs(), "pump_weak") == before


def test_causes_with_one_remedy_have_one_cost(shop: Shop) -> None:
    set_cost("system_pressure_high", minutes=12)
    assert repair_of(costs(), "system_pressure_low").minutes == 12
    assert len(costs().repairs) == len(shipped_costs().repairs)


def test_figures_kept_under_any_cause_that_the_repair_mends_count_and_can_be_given_up(shop: Shop) -> None:
    set_cost("pump_weak", parts=150)
    path = shop.home / FILE
    held = json.loads(path.read_text())
    held["repairs"]["pump_relief_weak"] = {"minutes": 31, "parts": 1}
    path.write_text(json.dumps(held))
    one = repair_of(costs(), "pump_relief_weak")
    assert (one.id, one.minutes, one.parts) == ("pump_weak", 31, 150)
    assert shipped_again("pump_weak") == repair_of(shipped_costs(), "pump_weak")


def test_an_hour_s_worth_turns_parts_into_minutes(shop: Shop) -> None:
    assert costs().effort(30.0, 60.0) == pytest.approx(90.0)
    assert shop.answer("repairs", "repairs hour 120")["hour_of_work"] == 120
    assert costs().effort(30.0, 60.0) == pytest.approx(60.0)
    assert "as you said" in shop("repairs hour 90").out
    assert set_hour(None).hour == shipped_costs().hour


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("set pump_weak --minutes 0", "minutes '0' lies where it cannot. Allowed: 1 to 6,000 min."),
        ("set pump_weak --minutes nan", "minutes 'nan' lies where it cannot"),
        ("set pump_weak --parts -1", "parts '-1' lies where it cannot"),
        ("set pump_weak --parts inf", "parts 'inf' lies where it cannot"),
        ("set pump_weak", "or parts must be given"),
        ("set pump_week --minutes 5", "Did you mean pump_weak"),
        ("shipped pump_week", "Did you mean pump_weak"),
        ("hour 0", "hour '0' lies where it cannot"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_and_nothing_is_kept(shop: Shop, words: str, says: str) -> None:
    assert says in shop.bad(f"repairs {words}")
    assert costs() == shipped_costs()
    assert not (shop.home / "repairs.json").exists()


def test_everything_wrong_in_the_file_is_named_at_once(shop: Shop) -> None:
    shop.home.mkdir(parents=True)
    own = {"pump_weak": {"minutes": -3}, "pump_week": {}, "filter_restricted": {"price": 3}, "spark_none": 4}
    held = {"format": "evenpour-repairs/1", "hour": "dear", "repairs": own}
    (shop.home / "repairs.json").write_text(json.dumps(held))
    with pytest.raises(Problems) as raised:
        costs()
    said = str(raised.value)
    for words in ("minutes '-3'", "pump_week", "price", "spark_none", "hour"):
        assert words in said
    (shop.home / "repairs.json").write_text("{")
    assert "cannot be read" in shop.bad("repairs")


def test_a_cheap_repair_comes_before_a_dear_one_that_is_as_likely(shop: Shop) -> None:
    shop.begin()
    shop("add 1 system 4.2 bar")
    before = [one["remedy"] for one in shop.answer("causes", "causes 1")["repairs"]]
    last = before[-1]
    cause = next(one for one in costs().repairs.values() if one.remedy == last)
    set_cost(cause.id, minutes=1, parts=0)
    after = shop.answer("causes", "causes 1")["repairs"]
    assert [one["remedy"] for one in after].index(last) < before.index(last)
    assert next(one for one in after if one["remedy"] == last)["source"] == OWN_SOURCE


def test_a_figure_is_held_to_its_bounds_from_python_too(shop: Shop) -> None:
    with pytest.raises(OutOfRange):
        set_cost("pump_weak", minutes=float("nan"))
