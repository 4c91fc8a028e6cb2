"""The page of the exhaust gas: an answer at once, and readings of the job where they are kept."""

from __future__ import annotations

from test_web_pages import JARGON
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]

SOUND = "co=1.5&co2=13.9&o2=0.6&hc=180&fuel=E5&class=I"


def test_the_caution_comes_first_and_nothing_is_asked_twice(pages: Pages) -> None:
    page = pages.get("/gas")
    assert page.status == 200
    assert page.text.index("CAUTION") < page.text.index("What was read")
    answered = pages.get(f"/gas?{SOUND}")
    assert answered.html.forms[0].fields["co2"] == "13.9"
    assert not [form for form in answered.html.forms if form.method == "post"]  # no job to keep it in


def test_the_mixture_is_told_with_its_doubt_and_what_a_sound_engine_shows(pages: Pages) -> None:
    text = pages.get(f"/gas?{SOUND}").text
    assert "0.977 ± 0.012" in text
    assert "Rich: 2.3 % less air than burns all the fuel" in text
    assert "Air-fuel ratio 13.97 ± 0.28 by mass on E5, where 14.3 burns all of it" in text
    assert "Most of the doubt" in text
    assert not JARGON.search(text)


def test_what_is_odd_is_told_with_where_to_look(pages: Pages) -> None:
    text = pages.get("/gas?co=1.0&co2=9.5&o2=7.0&hc=150&fuel=E5").text
    assert "air" in text[text.index("What it says") :]
    assert "burns all the fuel; but see the warning below" in text


def test_a_display_alone_is_told_on_the_fuel_in_the_tank(pages: Pages) -> None:
    text = pages.get("/gas?meter=14.1&meter-unit=AFR&fuel=E85").text
    assert "0.959" in text
    assert "on E85" in text
    assert "Lambda, by the display" in text


def test_what_cannot_be_understood_is_said_beside_its_field(pages: Pages) -> None:
    page = pages.get("/gas?co=rich&fuel=E5")
    assert page.status == 422
    assert "CO “rich" in page.text
    missing = pages.get("/gas?co=1.5")
    assert missing.status == 422
    assert "Fuel, by its share of ethanol is missing" in missing.text
    assert "gas-fuel-problem" in missing.html.ids


def test_the_gases_are_kept_as_readings_each_once(pages: Pages) -> None:
    job = pages.begin(warned=True)
    form = pages.get(f"{job}/gas?{SOUND}").html.form("gas")
    fields = {**form.fields, "state": "idle_warm", "who": "Ines", "entry_id": "gas-1"}
    for _ in range(2):
        answer = pages.client.post(f"{job}/gas", data=fields)
        assert answer.status_code == 303
        assert answer.headers["location"] == f"{job}/gas?entry=gas-1#said"
    kept = [content for kind, content in pages.entries(job) if kind == "reading"]
    assert [one["what"] for one in kept] == ["exhaust_co", "exhaust_co2", "exhaust_o2", "exhaust_hc"]
    assert {one["conditions"]["state"] for one in kept} == {"idle_warm"}  # type: ignore[index]
    assert {one["who"] for one in kept} == {"Ines"}
    text = pages.get(f"{job}/gas?entry=gas-1").text
    assert "1.50 ± " in text
    assert "Mend or withdraw it" in text


def test_gases_that_cannot_go_together_are_kept_only_by_who_says_that_they_are_so(pages: Pages) -> None:
    job = pages.begin()
    odd = {"form": "gas", "kind": "gas", "co": "6", "co2": "14.5", "o2": "9", "hc": "100", "fuel": "E5"}
    refused = pages.client.post(f"{job}/gas", data={**odd, "entry_id": "gas-2"})
    assert refused.status_code == 422
    assert "It is so, odd as it looks" in refused.text
    assert refused.text.count('id="gas-sure"') == 1
    assert "Lambda is worth nothing yet" in refused.text
    assert not [kind for kind, _ in pages.entries(job) if kind == "reading"]
    taken = pages.client.post(f"{job}/gas", data={**odd, "entry_id": "gas-3", "sure": "yes"})
    assert taken.status_code == 303
    assert [kind for kind, _ in pages.entries(job)].count("reading") == 4


def test_the_jobs_own_fuel_need_not_be_said(pages: Pages) -> None:
    job = pages.begin("cold-1")
    page = pages.get(f"{job}/gas?co=1.5")
    assert page.status == 200
    assert "From CO alone" in page.text
