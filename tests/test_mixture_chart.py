"""The chart of lambda over air flow: what it draws, and what it says to who cannot see it."""

from __future__ import annotations

from typing import Any

from evenpour.job.whatif.answers import MixtureCurve
from evenpour.record.mixture_chart import mixture_chart, mixture_spec
from whatif_world import answer


def lines(spec: dict[str, Any]) -> list[dict[str, Any]]:
    return [layer for layer in spec["layer"] if layer["mark"]["type"] == "line"]


def test_the_healthy_car_alone_is_one_dashed_line_in_its_band() -> None:
    curve = answer().curve
    spec = mixture_spec(curve, changed=False)
    (line,) = lines(spec)
    assert line["mark"]["strokeDash"] == [5, 3]
    assert [row["lambda"] for row in line["data"]["values"]] == curve.healthy
    band = spec["layer"][0]["data"]["values"]
    assert [(row["lambda"], row["high"]) for row in band] == list(zip(curve.low, curve.high, strict=True))


def test_what_is_set_is_a_full_line_that_differs_in_more_than_colour() -> None:
    spec = mixture_spec(answer("air_leak_common=0.5").curve)
    healthy, as_set = lines(spec)
    assert (healthy["mark"]["strokeDash"], as_set["mark"]["strokeDash"]) == ([5, 3], [])
    assert healthy["mark"]["strokeWidth"] < as_set["mark"]["strokeWidth"]
    fills = [layer["mark"]["fill"] for layer in spec["layer"] if layer["mark"]["type"] == "point"]
    assert len(set(fills)) == 2


def test_a_line_ends_where_the_engine_draws_no_more() -> None:
    curve: MixtureCurve = answer("altitude=3000m").curve
    _, as_set = lines(mixture_spec(curve))
    assert len(as_set["data"]["values"]) == sum(one is not None for one in curve.lambda_)


def test_the_drawing_is_told_in_words() -> None:
    chart = mixture_chart(answer("mixture_screw=-0.8turn").curve)
    assert chart.svg.startswith("<svg")
    assert "warm idle: does not run; healthy lambda 0.957" in chart.alt
    assert "steady road: lambda 1.0" in chart.alt
    assert "The engine does not hold: warm idle." in chart.caption
    assert "90 of 100 healthy cars" in chart.caption


def test_with_an_oxygen_sensor_the_caption_says_that_it_is_left_out() -> None:
    chart = mixture_chart(answer(sheet="flat-six-oxygen").curve, changed=False)
    assert chart.caption.startswith("Without correction by the oxygen sensor.")
