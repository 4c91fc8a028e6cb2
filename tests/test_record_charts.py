"""The charts: what they say in words, and that a grey print loses nothing."""

from __future__ import annotations

import re

import pytest

import record_samples as samples
from evenpour.record.charts import Chart, _best_band, flow_charts


def charts(units: str = "metric", *, uneven: bool = False) -> list[Chart]:
    catch = samples.catches(units, uneven=uneven)
    return flow_charts(catch.runs, catch.limit_by_run, units)


def test_every_run_that_counts_is_drawn_and_a_discarded_one_is_not() -> None:
    drawn = "".join(chart.svg for chart in charts())
    assert [number for number in range(1, 7) if f"Catch {number}: " in drawn] == [2, 3, 4, 5, 6]


def test_the_words_of_a_chart_give_every_flow_with_unit_and_doubt() -> None:
    words = " ".join(chart.alt for chart in charts())
    assert "Catch 2, bare lines, idle opening: port 1 8.00 ± 0.24 ml/min" in words
    assert "port 5 lost" in words
    assert "limit 15 %" in words


def test_flows_are_labelled_in_the_users_unit() -> None:
    first = charts("us")[0]
    assert "US fl oz/min" in first.caption
    assert "port 1 0.271 ± 0.008 US fl oz/min" in first.alt


def test_lines_and_injectors_are_told_apart_without_colour() -> None:
    assert set(re.findall(r"#[0-9a-f]{6}", "".join(chart.svg for chart in charts()))) <= {
        "#1a1a1a", "#6b6b6b", "#e6e6e6", "#ffffff",
    }  # fmt: skip
    lines, *_, injectors = charts()
    assert "bare lines" in lines.svg
    assert "injectors" in injectors.svg


def test_no_two_charts_share_an_id() -> None:
    ids = [name for chart in charts() for name in re.findall(r'\bid="([^"]+)"', chart.svg)]
    assert len(ids) == len(set(ids))


def test_the_band_holds_all_points_exactly_when_the_spread_is_within_the_limit() -> None:
    assert _best_band([-2.0, 1.0, 3.0], 6.0) == {"low": -2.5, "high": 3.5}
    band = _best_band([-15.0, 2.0, 3.0, 4.0], 8.0)
    assert band == {"low": -1.0, "high": 7.0}


@pytest.mark.parametrize("units", ["metric", "us", "imperial"])
def test_the_same_runs_give_the_same_drawing(units: str) -> None:
    assert charts(units, uneven=True) == charts(units, uneven=True)


def test_no_drawing_asks_for_anything_from_outside() -> None:
    for chart in charts():
        assert set(re.findall(r"https?://[^\s\"']+", chart.svg)) <= {
            "http://www.w3.org/2000/svg",
            "http://www.w3.org/1999/xlink",
        }
