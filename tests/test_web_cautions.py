"""Cautions stand before whatever takes an entry, until they are read: also away from the steps."""

from __future__ import annotations

import re

import pytest

from web_world import Page, Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]

FIRE = 'id="caution-fire"'
PAGES = [("catch", "catch"), ("read/system_pressure", "read-system_pressure")]


def places(page: Page, *pieces: str) -> list[int]:
    return [page.html.source.index(piece) for piece in pieces]


def read_them(pages: Pages, address: str) -> Page:
    return pages.send(address, "cautions", who="Ines")


@pytest.mark.parametrize(("path", "form"), PAGES)
def test_a_fresh_job_s_fire_caution_stands_in_full_before_clock_and_form(
    pages: Pages, path: str, form: str
) -> None:
    page = pages.get(f"{pages.begin()}/{path}")
    entered = f'name="form" value="{form}"'
    fire, read = places(page, FIRE, "I have read these cautions")
    assert fire < read
    assert "cautions-read" not in page.html.source
    assert "data-timer=" not in page.html.source
    assert entered not in page.html.source
    assert "once the cautions above are read" in page.text


@pytest.mark.parametrize(("path", "form"), PAGES)
def test_once_they_are_read_the_cautions_are_folded_with_who_read_them(
    pages: Pages, path: str, form: str
) -> None:
    job = pages.begin()
    unread = pages.get(f"{job}/{path}").html.source.count('class="caution"')
    page = read_them(pages, f"{job}/{path}")
    assert page.status == 200
    assert f"{unread} cautions read on this job" in page.text
    assert "Read by Ines" in page.text
    assert "I have read" not in page.text
    folded, fire, entered = places(page, '<details class="cautions-read">', FIRE, f'value="{form}"')
    unfolded = page.html.source.index("</details>", folded)
    assert folded < fire <= page.html.source.rindex('class="caution"') < unfolded < entered
    assert [kind for kind, _ in pages.entries(job)].count("caution") == unread
    assert page.html.source.count('class="caution"') == unread


def test_a_common_reading_is_not_preceded_by_the_cautions_of_a_search_that_nothing_calls_for(
    pages: Pages,
) -> None:
    job = pages.begin()
    rare = 'id="caution-catalyst_fire"'  # of the search after a start that failed
    page = pages.get(f"{job}/read/control_pressure_cold")
    assert FIRE in page.html.source
    assert rare not in page.html.source
    pages.store.append(int(job.rpartition("/")[2]), "reading", {"what": "start_outcome", "value": "no_fire"})
    assert rare in pages.get(f"{job}/read/control_pressure_cold").html.source
    assert 'id="caution-' in pages.get(f"{job}/read/leak_down").html.source  # read by such a search alone


@pytest.mark.parametrize("steps", ["lines:", "injectors:"])
def test_the_catches_say_every_caution_of_the_steps_that_catch(pages: Pages, steps: str) -> None:
    job = pages.begin()
    page = pages.get(f"{job}/catch")
    through = steps.rstrip(":")
    for step in (f"catch_{through}_idle", f"catch_{through}_full"):
        own = {one for one in pages.get(f"{job}/steps/{step}").html.ids if one.startswith("caution-")}
        assert own
        assert own <= set(page.html.ids)


def test_whoever_is_led_to_the_form_of_a_catch_comes_to_its_cautions_first(pages: Pages) -> None:
    job = pages.begin()
    led = f"{job}/catch?through=injectors&opening=full&swap=injector+4+with+1"
    page = pages.get(led)
    place, fire = places(page, 'id="new-catch"', FIRE)
    assert place < fire
    assert "data-timer=" not in page.html.source
    assert page.html.ids.count("new-catch") == 1
    read = read_them(pages, led)
    place, timer = places(read, 'id="new-catch"', "data-timer=")
    assert read.html.source.index("cautions-read") < place < timer
    assert read.html.ids.count("new-catch") == 1


def test_what_is_to_be_exchanged_is_said_above_the_clock_and_outlasts_the_cautions(pages: Pages) -> None:
    job = pages.begin()
    led = f"{job}/catch?through=injectors&opening=full&swap=injector+4+with+1"
    assert "Exchange injector 4 with 1 first." in pages.get(led).text
    page = read_them(pages, led)
    words, timer = places(page, "Exchange injector 4 with 1 first.", "data-timer=")
    assert words < timer
    fields = page.html.form("catch").fields
    assert (fields["through"], fields["opening"]) == ("injectors", "full")
    assert [fields[f"swap-{one}.1"] for one in ("kind", "first", "second")] == ["injector", "4", "1"]
    assert "Exchange injector" not in pages.get(f"{job}/catch").text


def test_without_a_name_the_cautions_count_as_not_read(pages: Pages) -> None:
    job = pages.begin()
    page = pages.send(f"{job}/catch", "cautions", who="")
    assert page.status == 422
    assert 'id="cautions-who-problem"' in page.html.source
    assert "caution" not in [kind for kind, _ in pages.entries(job)]


def test_a_reading_whose_step_has_no_caution_asks_for_none(pages: Pages) -> None:
    page = pages.get(f"{pages.begin()}/read/regulator_heater_to_body")
    assert any(link.endswith("/steps/heater_ohms") for link in page.html.links)
    assert "caution" not in page.html.source[page.html.source.index("<main") :]


def test_a_closed_job_asks_nobody_to_read_a_caution(pages: Pages) -> None:
    job = pages.begin("")
    for path, _ in PAGES:
        assert "I have read" not in pages.get(f"{job}/{path}").text


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("gas?co=1.5&co2=14&fuel=E5", "gas"),
        ("screw", "move"),
        ("enter?part=injector&cylinder=4", "did"),
        ("enter?screw=idle_air_screw", "move"),
    ],
)
def test_work_at_the_engine_is_entered_only_once_its_cautions_are_read(
    pages: Pages, path: str, form: str
) -> None:
    job = pages.begin()
    page = pages.get(f"{job}/{path}")
    entered = f'name="form" value="{form}"'
    assert entered not in page.html.source
    assert "stand" in page.text
    assert "above" in page.text
    nameless = pages.send(f"{job}/{path}", "cautions", who="")
    assert (nameless.status, entered in nameless.html.source) == (422, False)
    read = pages.send(f"{job}/{path}", "cautions", who="Ines")
    asked = path.partition("?")[2]
    assert read.status == 200
    assert asked in read.address  # what the address asked for still is
    assert "I have read" not in read.text
    assert entered in read.html.source
    assert "Read by Ines" in read.text


def test_no_part_is_entered_as_handled_before_it_is_said_which(pages: Pages) -> None:
    source = pages.get(f"{pages.begin()}/enter").html.source
    assert 'value="did"' not in source
    assert 'value="move"' not in source
    assert "To its cautions and its form" in source


@pytest.mark.parametrize(
    ("at", "at_now", "shown"),
    [
        ("2026-11-26T01:44:39+00:00", "2026-11-26T01:44:39+00:00", ""),  # stamped by the device
        ("2026-11-25T18:02", "2026-11-26T01:44:39+00:00", "2026-11-25T18:02"),
        ("2026-11-25T18:02:07+01:00", "", "2026-11-25T18:02:07"),  # it waited on the device
    ],
)
def test_a_refused_entry_shows_the_time_that_was_typed_or_kept_and_no_other(
    pages: Pages, at: str, at_now: str, shown: str
) -> None:
    job = pages.begin()
    sent = {"form": "read-system_pressure", "kind": "reading", "what": "system_pressure", "value": "abc"}
    answer = pages.client.post(f"{job}/read/system_pressure", data=sent | {"at": at, "at_now": at_now})
    assert answer.status_code == 422
    more = answer.text[: answer.text.index("A note, or another time")]
    assert more[more.rindex("<details") :].startswith("<details open" if shown else "<details>")
    field = answer.text[answer.text.index('id="read-system_pressure-at"') :]
    assert f'value="{shown}"' in field[: field.index(">")]


def test_an_exchange_warns_of_the_pressure_in_the_lines_and_says_what_comes_before_it(pages: Pages) -> None:
    job = pages.begin()
    plain = set(pages.get(f"{job}/catch").html.ids)
    for kind, step in (("injectors", "odd_injector"), ("lines", "odd_port")):
        swap = f"{kind.rstrip('s')}+4+with+1"
        page = pages.get(f"{job}/catch?through={kind}&opening=full&swap={swap}")
        own = {one for one in pages.get(f"{job}/steps/{step}").html.ids if one.startswith("caution-")}
        assert "caution-pressure_jet" in own
        assert own <= set(page.html.ids)
        assert f"{job}/steps/{step}#how" in page.html.links
    assert "caution-pressure_jet" not in plain
    assert "The fuel lines are without pressure" in page.text
    assert f"{job}/steps/release_pressure" in page.html.links


def test_an_exchange_is_read_about_before_its_catch_is_entered_though_the_others_were_read(
    pages: Pages,
) -> None:
    job = pages.begin()
    assert "data-timer=" in read_them(pages, f"{job}/catch").html.source
    led = f"{job}/catch?through=injectors&opening=full&swap=injector+4+with+1"
    asked = pages.get(led)
    assert asked.html.form("cautions").fields["ids"] == "pressure_jet"
    assert "data-timer=" not in asked.html.source
    assert "data-timer=" in read_them(pages, led).html.source


def test_a_check_that_many_steps_read_shows_every_unread_caution_in_full_before_it_is_signed(
    pages: Pages,
) -> None:
    page = pages.get(f"{pages.begin()}/read/system_pressure")
    signed = page.html.source.index("I have read these cautions")
    full = page.html.source[page.html.source.index("<main") : signed]
    heads = re.findall(r'id="caution-([a-z_]+)"', full)
    assert "<details" not in full
    assert len(set(heads)) == len(heads) > 5
    assert set(page.html.form("cautions").fields["ids"].split()) == set(heads)


def test_what_held_for_a_time_only_and_holds_no_more_is_to_be_done_again(pages: Pages) -> None:
    page = pages.get(f"{pages.begin('injectors-full-1')}/steps/odd_injector")
    first = page.text[page.text.index("Before this step, this must be so:") :]
    assert "The fuel lines are without pressureno longer so, do it againSee to it in 1.14" in first
    assert "no longer needed" not in first
