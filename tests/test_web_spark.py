"""The spark calculators in the pages: caution first, the answer at once, nothing kept."""

from __future__ import annotations

import pytest

from evenpour.job.spark.page import CALCULATORS, on_a_page
from test_web_pages import JARGON
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]


def test_every_calculator_opens_with_its_caution_before_anything_else(pages: Pages) -> None:
    for start in ("/spark", f"{pages.begin()}/spark"):
        listed = [link for link in pages.get(start).html.links if link.startswith(f"{start}/")]
        assert len(listed) == len(CALCULATORS)
        for link in listed:
            page = pages.get(link)
            assert page.status == 200, link
            assert page.text.index("CAUTION") < page.text.index("What you have"), link
            assert not JARGON.search(page.text), link
            assert "--" not in page.text, link


def test_an_engine_without_points_has_no_dwell(pages: Pages) -> None:
    assert "/spark/dwell" not in " ".join(pages.get("/spark?sheet=flat-six-oxygen").html.links)


def test_degrees_become_a_length_along_the_rim_and_are_judged(pages: Pages) -> None:
    job = pages.begin()
    page = pages.get(f"{job}/spark/timing?value=5&value-unit=deg&diameter=130&diameter-unit=mm")
    assert "Along the rim: 5.7 " in page.text  # pi * 130 mm * 5 / 360 = 5.67 mm
    assert "Limit: 4 to 6°" in page.text
    assert f"{job}/steps/static_timing" in page.html.links
    late = pages.get(f"{job}/spark/timing?value=6&value-unit=deg&value-sign=-")
    assert "outside" in late.text
    assert "against the rotor" in late.text


def test_a_timing_by_lamp_takes_its_speed_and_hose(pages: Pages) -> None:
    text = pages.get(
        "/spark/lamp?sheet=flat-six&value=5&value-unit=deg&c.speed=900&c.speed-unit=rpm&w.hose=off"
    ).text
    assert "Limit: 2 to 8°" in text
    assert "within" in text
    without = pages.get("/spark/lamp?sheet=flat-six&value=5&value-unit=deg")
    assert without.status == 422
    assert "a timing holds at its speed" in without.text


def test_top_dead_centre_lies_half_way_between_the_two_marks(pages: Pages) -> None:
    address = "/spark/dead_centre?forward=52&forward-unit=mm&backward=48&backward-unit=mm"
    text = pages.get(f"{address}&diameter=130&diameter-unit=mm").text
    assert "From either of the stop's two marks: 50.0 " in text
    assert "of the crank" in text
    assert "Take the stop out before anything else is turned" in text
    bare = pages.get(address).text
    assert "To have it in degrees add the rim's diameter." in bare
    read = "wheel-first=330&wheel-first-unit=deg&wheel-second=32&wheel-second-unit=deg"
    wheel = pages.get(f"/spark/dead_centre?{read}")
    assert "set the wheel to 0° there" in wheel.text


def test_the_cap_is_drawn_as_it_is_wired(pages: Pages) -> None:
    page = pages.get("/spark/order?sheet=flat-six")
    assert "Firing order 1-6-2-4-3-5; the rotor turns clockwise" in page.text
    assert "Clockwise from cylinder 1: 1, 6, 2, 4, 3, 5." in page.html.source


def test_a_dwell_is_told_in_per_cent_with_what_the_gap_wants(pages: Pages) -> None:
    text = pages.get("/spark/dwell?sheet=flat-six&value=46&value-unit=deg").text
    assert "of the time between two sparks" in text
    assert "Wanted, in per cent, for 6 cylinders" in text
    assert "widen the gap" in text


def test_one_cylinder_that_stands_out_is_named(pages: Pages) -> None:
    values = "&".join(f"value.{n}={v}" for n, v in enumerate((10.2, 10.4, 6.9, 10.1, 10.3, 10.2), 1))
    text = pages.get(f"/spark/compression?sheet=flat-six&{values}&value-unit=bar&w.throttle=wide").text
    assert "Cylinder 3 stands out" in text
    assert "outside" in text
    some = pages.get("/spark/leak_down?sheet=flat-six&value.1=8&value.3=9&value-unit=%25").text
    assert "Not read: cylinder 2, 4, 5, 6." in some


def test_what_the_job_has_read_is_taken_where_nothing_is_typed(pages: Pages) -> None:
    text = pages.get(f"{pages.begin('')}/spark/compression").text
    assert "Every cylinder" in text or "Cylinder 1" in text


def test_what_cannot_be_worked_out_is_said_and_what_was_typed_stays(pages: Pages) -> None:
    page = pages.get("/spark/timing?value=6&value-unit=mm")
    assert page.status == 422
    assert "Diameter is missing" in page.text
    assert "--" not in page.text
    assert page.html.forms[0].fields["value"] == "6"
    assert pages.get("/spark/nothing").status == 404
    odd = pages.get("/spark/timing?value=75&value-unit=deg")
    assert "It is so, odd as it looks" in odd.text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("add the rim's diameter, like --diameter 130mm.", "add the rim's diameter."),
        ("State both: --stroke 80mm --rod 150mm", "State both: 80mm 150mm"),
        ("State the speed: 5 deg speed=900rpm hose=off", "State the speed below."),
    ],
)
def test_what_one_would_type_at_a_prompt_is_left_out(words: str, said: str) -> None:
    assert on_a_page(words) == said


def test_every_page_that_works_something_out_is_reached_from_its_steps(pages: Pages) -> None:
    job = pages.begin("")  # every caution is read there
    wanted = {
        "static_timing": "spark/timing", "dead_centre": "spark/dead_centre", "spark_parts": "spark/order",
        "compression_test": "spark/compression", "read_holding": "traces?kind=holding",
        "idle_mixture_and_speed": "gas", "onset_lines": "screw",
    }  # fmt: skip
    for step, address in wanted.items():
        links = pages.get(f"{job}/steps/{step}").html.links
        assert f"{job}/{address}" in links, step
        assert pages.get(f"{job}/{address}").status == 200
