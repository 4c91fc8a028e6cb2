"""The fuel's way through the opened machine: what comes in goes out, and each valve does what it can."""

from __future__ import annotations

import pytest

from whatif_world import answer, now, state

SHEETS = ("flat-six", "flat-six-oxygen", "vee-eight")


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("setting", ["mixture_screw=+0.2turn", "filter_restricted=0.8", "pump_weak=1"])
@pytest.mark.parametrize("name", ["rest", "opening_part"])
def test_all_that_the_pump_brings_is_injected_or_goes_back(sheet: str, setting: str, name: str) -> None:
    found = now(answer(setting, sheet=sheet), name)
    spent = found.control_ml_per_min + found.return_ml_per_min + found.fuel_ml_per_min
    assert spent == pytest.approx(found.pump_ml_per_min, rel=1e-3, abs=1.0)
    assert found.return_ml_per_min >= 0.0


def test_a_clogged_filter_shows_before_it_and_hardly_behind() -> None:
    found, healthy = now(answer("filter_restricted=0.7"), "rest"), now(answer(), "rest")
    assert found.pump_pressure_bar > healthy.pump_pressure_bar + 0.5
    assert found.system_pressure_bar == pytest.approx(healthy.system_pressure_bar, abs=0.15)


def test_a_silent_relay_stops_the_engine_and_not_the_pump_that_is_bridged_past_it() -> None:
    silent = answer("pump_relay_silent=1")
    assert all(state(silent, name).now is None for name in ("idle_warm", "road_steady", "full_load"))
    assert now(silent, "rest") == now(answer(), "rest")


def test_a_pump_without_flow_brings_nothing() -> None:
    found = now(answer("pump_flow=0.1ml/s"), "rest")
    assert found.pump_ml_per_min < 10.0
    assert found.system_pressure_bar < 0.5


def test_the_voltage_that_was_set_stands_at_the_pump() -> None:
    assert now(answer("pump_voltage=9.5V"), "rest").pump_voltage_v == pytest.approx(9.5)


def test_the_screw_is_told_where_it_stands() -> None:
    assert now(answer("mixture_screw=+0.5turn"), "idle_warm").screw_turn == pytest.approx(0.5)
    assert now(answer(), "idle_warm").screw_turn == 0.0


def test_a_pressure_valve_opens_with_the_flow_and_wide_where_too_little_is_left_for_it() -> None:
    healthy = answer()
    shares = [now(healthy, name).ports[0].valve_open for name in ("idle_warm", "road_steady", "full_load")]
    assert shares == sorted(shares)
    assert 0.0 < shares[0] < 0.1
    assert shares[-1] < 1.0
    clogged = now(answer("injector_restricted[4]=1"), "full_load").ports
    assert clogged[3].valve_open == 1.0
    assert clogged[3].slit_drop_bar < 0.15 * clogged[2].slit_drop_bar
    assert clogged[2].valve_open == pytest.approx(shares[-1], rel=0.02)
