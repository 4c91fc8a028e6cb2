"""What the forms of a page share: a name asked once, a job's cause, a file that is too large."""

from __future__ import annotations

import re

import pytest

from evenpour.job.causes.answers import CauseLine, CauseName, CausesAnswer
from evenpour.job.closing import choices
from evenpour.job.demo import demo_entries
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


@pytest.mark.parametrize(
    "back", ["//elsewhere.example/x", "https:" + "//elsewhere.example/", "/\\elsewhere", ""]
)
def test_whoever_says_the_name_is_led_nowhere_else(pages: Pages, back: str) -> None:
    answer = pages.client.post("/settings", data={"who": "Ines", "back": back})
    assert answer.headers["location"] == "/settings?saved=yes#said"


BEFORE_CLOSING = demo_entries()[-2].id


@pytest.fixture
def almost_done(pages: Pages) -> str:
    """The demo job, ready to be closed."""
    return pages.begin(BEFORE_CLOSING)


def closing(pages: Pages, job: str) -> dict[str, object]:
    kind, content = pages.entries(job)[-1]
    assert kind == "closed"
    return content


def test_every_known_cause_is_offered_to_close_a_job_with(pages: Pages, almost_done: str) -> None:
    offered = pages.get(f"{almost_done}/record").html.form("closed").choices["cause"]
    mended = offered[1 : offered.index("none")]
    assert {one.cause for one in choices()} | {"", "own"} == set(offered) - {
        one for one in mended if "[" in one
    }
    assert offered[len(mended) + 1 :][:3] == ["none", "not_found", "own"]


def test_what_was_mended_is_offered_before_all_that_is_known_with_its_cylinder(
    pages: Pages, almost_done: str
) -> None:
    page = pages.get(f"{almost_done}/record")
    offered = page.html.form("closed").choices["cause"]
    mended = offered[1 : offered.index("none")]
    assert "injector_restricted[4]" in mended
    assert "injector_restricted[1]" not in mended  # that one was not touched
    assert "control_cold_high" in mended  # its regulator was adjusted
    assert len(mended) == len(set(mended)) <= 12
    assert 'label="Of what was mended on this job"' in page.html.source


def test_the_likeliest_causes_stand_first_with_their_cylinders(
    pages: Pages, almost_done: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = [line("injector_restricted", 4, 0.6), line("pump_weak", None, 0.1, CauseName(
        cause="injector_restricted", cylinder=4)), line("air_leak", None, 0.004)]  # fmt: skip
    answer = CausesAnswer.model_construct(causes=lines)
    monkeypatch.setattr("evenpour.job.closing_page.answer_at_hand", lambda job, *, store: answer)
    page = pages.get(f"{almost_done}/record")
    assert page.html.form("closed").choices["cause"][1:3] == ["injector_restricted[4]", "pump_weak"]
    assert re.search(r"cylinder 4: 70 %</option>", page.html.source)
    page = pages.send(f"{almost_done}/record", "closed", cause="injector_restricted[4]", who="Ines")
    assert "It is closed" in page.text
    assert closing(pages, almost_done) == {
        "cause": "injector_restricted", "cylinder": 4, "confirmed": True, "who": "Ines"
    }  # fmt: skip


def line(cause: str, cylinder: int | None, probability: float, beside: CauseName | None = None) -> CauseLine:
    return CauseLine.model_construct(cause=cause, cylinder=cylinder, probability=probability, with_=beside)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ({"cause": "none"}, {"cause": "none"}),
        ({"cause": "not_found"}, {"cause": "not_found"}),
        ({}, {}),
        ({"cause": "pump_weak", "suspected": "yes"}, {"cause": "pump_weak", "confirmed": False}),
        ({"cause": "own", "own": "a nest in the filter box"}, {"cause": "a nest in the filter box"}),
        (
            {"cause": "pump_weak", "second": "spark_missing", "second-cylinder": "2"},
            {"cause": "pump_weak", "also": ["spark_missing[2]"], "confirmed": True},
        ),
    ],
)
def test_a_job_is_closed_with_what_was_chosen(
    pages: Pages, almost_done: str, typed: dict[str, str], kept: dict[str, object]
) -> None:
    pages.send(f"{almost_done}/record", "closed", who="Ines", **typed)
    assert closing(pages, almost_done) == {**kept, "who": "Ines"}


@pytest.mark.parametrize(
    ("typed", "words", "field"),
    [
        ({"cause": "spark_missing"}, "“Its cylinder” is empty. It sits at one cylinder", "cylinder"),
        ({"cause": "pump_weak", "cylinder": "2"}, "does not go with this: the fuel pump is worn", "cylinder"),
        ({"cause": "own"}, "“In your own words” is empty. Say it", "own"),
        ({"cause": "none", "suspected": "yes"}, "is nothing to be suspected", "cause"),
        ({"cause": "none", "second": "pump_weak"}, "stands beside another", "cause"),
        ({"second": "spark_missing"}, "“The second's cylinder” is empty", "second-cylinder"),
    ],
)
def test_what_does_not_go_together_is_said_at_its_field_and_the_job_stays_open(
    pages: Pages, almost_done: str, typed: dict[str, str], words: str, field: str
) -> None:
    page = pages.send(f"{almost_done}/record", "closed", who="Ines", **typed)
    assert page.status == 422
    assert words in page.text
    assert f'aria-describedby="closed-{field}-problem"' in page.html.source
    assert page.html.form("closed").fields["cause"] == typed.get("cause", "")
    assert pages.entries(almost_done)[-1][0] != "closed"
