"""The charts: what they say in words, and that a grey print loses nothing."""

from __future__ import annotations

import re

import pytest
from PIL import ImageFont

import record_samples as samples
from evenpour.job.answers import RunAnswer
from evenpour.record.charts import CONFIG, Chart, flow_charts, together
from evenpour.record.drawing import FONTS
from evenpour.record.panels import AXIS, INK, PAPER, best_band, panel, subtitle, title


def charts(units: str = "metric", *, uneven: bool = False) -> list[Chart]:
    catch = samples.catches(units, uneven=uneven)
    return flow_charts(catch.runs, catch.limit_by_run, units)


LIMITS = {"lines:idle": 0.15, "injectors:idle": 0.15}
EVEN = [8.0, 8.2, 8.0, 8.2, 8.0, 8.1]


def run(
    number: int,
    flows: list[float | None] | None = None,
    through: str = "lines",
    opening: str = "idle",
    *,
    day: int = 3,
    swaps: list[str] | None = None,
    discarded: bool = False,
) -> RunAnswer:
    """A catch taken *number* minutes after ten."""
    one = samples.run(1, through, opening, flows or [*EVEN], swaps=swaps, discarded=discarded)
    return one.model_copy(update={"catch": number, "at": f"2026-05-0{day}T10:0{number}:00+02:00"})


def sharing(*runs: RunAnswer) -> list[list[int]]:
    return [[one.catch for one in group] for group in together(runs, LIMITS)]


def figures(*runs: RunAnswer) -> list[tuple[int, str]]:
    """The port and the words of every figure of a panel."""
    layer = panel(runs, 0.15, "metric")["layer"][-1]
    return [(said["x"], said["said"]) for said in layer["data"]["values"]]


def test_every_run_that_counts_is_drawn_and_a_discarded_one_is_not() -> None:
    drawn = "".join(chart.svg for chart in charts())
    assert [number for number in range(1, 7) if f"Catch {number}: " in drawn] == [2, 3, 4, 5, 6]
    words = " ".join(chart.alt for chart in charts())
    assert re.findall(r"Catch (\d)", words) == ["2", "3", "4", "5", "6"]


def test_repeats_taken_one_after_the_other_share_a_panel_and_three_at_most() -> None:
    assert sharing(*(run(number) for number in range(5))) == [[0, 1, 2], [3, 4]]


def test_a_catch_of_another_kind_in_between_parts_them_even_if_it_is_discarded() -> None:
    other = run(1, through="injectors")
    assert sharing(run(0), other, run(2)) == [[0], [1], [2]]
    assert sharing(run(0), run(1, through="injectors", discarded=True), run(2)) == [[0], [2]]
    assert sharing(other, run(2, discarded=True), run(3)) == [[1], [3]]
    assert sharing(run(0), run(1, discarded=True), run(2)) == [[0, 2]]


def test_what_was_exchanged_and_another_day_part_them() -> None:
    assert sharing(run(0), run(1, swaps=["line 1 with 2"])) == [[0], [1]]
    assert sharing(run(0), run(1, day=4)) == [[0], [1]]


def test_what_was_exchanged_is_told_by_that_word() -> None:
    assert "exchanged: line 1 with 2" in subtitle([run(1, swaps=["line 1 with 2"])], 0.08)


def test_they_part_where_one_band_would_make_an_even_catch_look_uneven() -> None:
    one_low: list[float | None] = [9.0, 9.0, 9.0, 9.0, 9.0, 7.85]  # both spread by 13 or 14 %, limit 15 %
    one_high: list[float | None] = [8.0, 8.0, 8.0, 8.0, 8.0, 9.1]
    assert sharing(run(0, one_low), run(1, one_low)) == [[0, 1]]
    assert sharing(run(0, one_low), run(1, one_high)) == [[0], [1]]


def test_a_catch_that_poured_nothing_at_all_has_no_chart() -> None:
    dry = run(0).model_copy(update={"flows": [0.0] * 6, "seen_spread": None})
    assert sharing(dry, run(1)) == [[1]]


def test_a_shared_panel_says_in_words_whose_points_are_which() -> None:
    runs = [run(0), run(1, [8.0, None, 8.0, 8.2, 8.0, 8.1]), run(2)]
    assert title(runs) == "Catches 1, 2 and 3: bare lines, idle opening"
    assert " ".join(subtitle(runs, 0.15)) == (
        "3 May 2026, band: limit 15 % "
        "filled: catch 1, 10:00; "
        "hollow: catch 2, 10:01 (port 2 lost); triangle: catch 3, 10:02"
    )
    points = panel(runs, 0.15, "metric")["data"]["values"]
    at_one = [(point["fill"], point["shape"]) for point in points if point["port"] == 1]
    assert at_one == [(INK, "circle"), (PAPER, "circle"), (INK, "triangle-up")]
    places = [point["x"] for point in points]
    assert places[:6] == pytest.approx([port - 0.26 for port in range(1, 7)])
    assert len(set(places)) == len(places) == 17


def test_a_port_has_one_figure_where_its_catches_read_the_same_and_else_the_largest_and_smallest() -> None:
    first, second = run(0), run(1, [8.0, 8.0, None, 8.2, 8.0, 8.1])
    assert figures(first, second) == [
        (1, "8.00"), (2, "8.20"), (2, "8.00"), (3, "8.00"), (4, "8.20"), (5, "8.00"), (6, "8.10"),
    ]  # fmt: skip
    assert (3, "lost") in figures(second)


def test_no_line_strikes_a_figure_out() -> None:
    drawn = panel([run(0, [8.0, 8.5, 7.4, 8.2, 8.6, 7.6]), run(1)], 0.15, "metric")
    most = drawn["layer"][-1]["encoding"]["y"]["scale"]["domain"][1]
    away = [said["away"] for said in drawn["layer"][-1]["data"]["values"]]
    flows = [point["away"] for point in drawn["data"]["values"]]
    lines = [0.0, *best_band([flows], 15.0)]
    half = 5.0 * 2.0 * most / drawn["height"]  # 5 px, half the height of the letters
    assert all(abs(figure - line) > half for figure in away for line in lines)


@pytest.mark.parametrize("spread", [0.01, 0.05, 0.11, 0.2, 0.5])
def test_the_axis_always_names_the_mean(spread: float) -> None:
    (chart,) = flow_charts([run(0, [8.0, 8.0 * (1.0 + spread), 8.0])], {}, "metric")
    assert ">mean</text>" in chart.svg


def test_more_ports_than_fit_beside_each_other_have_the_width_of_the_page() -> None:
    eight, twelve = ([8.0 + 0.01 * port for port in range(ports)] for ports in (8, 12))
    wide, narrow = (panel([run(0, [*flows])], 0.15, "metric")["width"] for flows in (twelve, eight))
    assert wide > 2 * narrow
    assert len(flow_charts([run(0, [*twelve]), run(1, [*twelve], "injectors")], LIMITS, "metric")) == 2


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
    assert best_band([[-2.0, 1.0, 3.0]], 6.0) == (-2.5, 3.5)
    assert best_band([[-15.0, 2.0, 3.0, 4.0]], 8.0) == (-1.0, 7.0)


@pytest.mark.parametrize("units", ["metric", "us", "imperial"])
def test_the_same_runs_give_the_same_drawing(units: str) -> None:
    assert charts(units, uneven=True) == charts(units, uneven=True)


def test_no_drawing_asks_for_anything_from_outside() -> None:
    for chart in charts():
        assert set(re.findall(r"https?://[^\s\"']+", chart.svg)) <= {
            "http://www.w3.org/2000/svg",
            "http://www.w3.org/1999/xlink",
        }


@pytest.mark.parametrize("label", ["+100 %", "−100 %", "mean"])
def test_the_axis_has_room_for_its_widest_label(label: str) -> None:
    letters = ImageFont.truetype(str(FONTS / "Inter-Regular.ttf"), CONFIG["axis"]["labelFontSize"])
    tick_and_gap = 7  # px, as the drawing library has them
    assert letters.getlength(label) + tick_and_gap <= AXIS
