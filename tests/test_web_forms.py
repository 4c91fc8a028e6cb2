"""What the forms of a page share: a name asked once, a job's cause, a file that is too large."""

from __future__ import annotations

import pytest

from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]


@pytest.mark.parametrize(
    "path", ["put-back", "enter", "entries/cold-1/mend", "steps/read_control_cold", "catch", "record"]
)
def test_a_page_asks_for_the_name_once_at_most_and_not_at_all_once_it_knows(pages: Pages, path: str) -> None:
    job = pages.begin("cold-1")
    asked = pages.get(f"{job}/{path}").html.source.count(">Your name ")
    assert asked == (0 if path == "record" else 1)  # the record has no form before the job may be closed
    pages.client.post("/settings", data={"who": "Ines"})
    source = pages.get(f"{job}/{path}").html.source
    assert ">Your name " not in source
    assert source.count('name="who" value="Ines"') >= asked


def test_without_a_script_the_name_is_kept_first_and_stands_in_every_form_then(pages: Pages) -> None:
    job = pages.begin("cold-1")
    pages.client.post("/settings", data={"units": "us", "theme": "dark"})
    here = f"{job}/put-back"
    form = next(one for one in pages.get(here).html.forms if "back" in one.fields)
    answer = pages.client.post(form.action, data={**form.fields, "who": "Ines"})
    assert (answer.status_code, answer.headers["location"]) == (303, here)
    page = pages.get(here)
    assert {one.fields["who"] for one in page.html.forms} == {"Ines"}
    assert 'data-theme="dark"' in page.html.source  # what else was chosen still holds
    pages.send(here, "back-tank_cap")
    assert pages.entries(job)[-1][1]["who"] == "Ines"


@pytest.mark.parametrize("back", ["//elsewhere.example/x", "https://elsewhere.example/", "/\\elsewhere", ""])
def test_whoever_says_the_name_is_led_nowhere_else(pages: Pages, back: str) -> None:
    answer = pages.client.post("/settings", data={"who": "Ines", "back": back})
    assert answer.headers["location"] == "/settings?saved=yes#said"
