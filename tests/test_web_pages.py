"""Every page of the book: there for every sheet and every state of a job, told in words, and quick."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from evenpour.job.answers import StageAnswer
from evenpour.job.catalogue import catalogue
from evenpour.job.opening import stored_job
from evenpour.job.step_page import timed_steps
from evenpour.web.rendering import STATIC
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]

JARGON = re.compile(
    r"\b(posterior|prior|likelihood ratio|standard deviation|sigma|p-value|quantile|null hypothesis|"
    r"confidence interval|expanded uncertainty|coverage factor|Bayes\w*|degrees of freedom|dof|k = 2)\b",
    re.I,
)
MOST_FITTED = ("flat-six-oxygen",)  # the sheet with every device; the soak opens them all
JOB_PAGES = (
    "", "/stages", "/put-back", "/enter", "/readings", "/catch", "/history", "/record", "/read/compression",
    "/gas", "/screw", "/spark", "/spark/order", "/traces",
)  # fmt: skip


def local_links(pages: Pages, path: str) -> Iterator[str]:
    for link in pages.get(path).html.links:
        if link.startswith("/"):
            yield link.partition("#")[0]


@pytest.mark.parametrize("upto", [None, "cold-1", "injectors-full-1", ""])
def test_every_page_of_a_job_opens_in_every_state(pages: Pages, upto: str | None) -> None:
    job = pages.begin(upto)
    for path in JOB_PAGES:
        page = pages.get(job + path)
        assert page.status == 200, path
        assert not JARGON.search(page.text), path


@pytest.mark.parametrize("sheet", MOST_FITTED)
def test_every_stage_and_step_of_an_engine_can_be_reached_and_opens(pages: Pages, sheet: str) -> None:
    job = pages.begin(sheet=sheet)
    links = set(local_links(pages, f"{job}/stages"))
    shop = pages.store.entries(int(job.rpartition("/")[2]))
    assert shop
    steps = {link for link in links if "/steps/" in link}
    stages = {link for link in links if "/stages/" in link}
    assert len(stages) == len(catalogue().stages)
    assert len(steps) > 60
    for link in sorted(steps | stages):
        page = pages.get(link)
        assert page.status == 200, link
        assert not JARGON.search(page.text), link


def test_no_link_of_the_main_pages_leads_nowhere(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    for path in ("/", job, f"{job}/put-back", f"{job}/catch", f"{job}/steps/read_holding"):
        seen: set[str] = set()  # by the kind of page: one of each is enough
        for link in local_links(pages, path):
            kind = re.sub(r"/(steps|stages|entries|read)/[^/?]+", r"/\1/", link)
            if kind not in seen:
                assert pages.client.get(link, follow_redirects=True).status_code == 200, link
            seen.add(kind)


def test_a_page_that_is_not_there_says_so_in_words(pages: Pages) -> None:
    for path in ("/nowhere", "/jobs/999", "/jobs/999/catch"):
        page = pages.get(path)
        assert page.status == 404
        assert "There is no such page" in page.text
    job = pages.begin()
    for path in ("/steps/nothing", "/stages/nothing", "/read/nothing", "/entries/nothing/mend"):
        page = pages.get(job + path)
        assert (page.status, "There is no such page" in page.text) == (404, True), path
    assert "Did you mean fire_place" in pages.get(f"{job}/steps/fire_plce").text


def test_the_one_next_thing_leads_the_glance_and_says_why(pages: Pages) -> None:
    job = pages.begin("cold-1")
    text = pages.get(job).text
    assert text.index("Do this next") < text.index("To put back") < text.index("The whole way")
    link = next(link for link in pages.get(job).html.links if "/steps/" in link)
    assert pages.get(link).status == 200


def test_the_next_thing_gives_the_step_s_own_reason_and_folds_the_bookkeeping(pages: Pages) -> None:
    job = pages.begin()
    page = pages.get(job)
    reason, ledger = page.text.index("What is asked now is not searched for later"), "not proved yet, wants"
    assert page.text.index("1.1 Ask for the car's story") < reason < page.text.index(ledger)
    assert ledger not in page.html.source.split("What it is to prove")[0]
    again = pages.get(pages.begin("injector-4"))
    assert "Injectors that open apart give uneven idling" in again.text
    assert "injector 4 was replaced" in again.text[again.text.index("Do this next") :]
    assert "What it is to prove" not in again.text


def test_what_is_to_lay_ready_has_no_box_that_asks_to_be_ticked() -> None:
    style = (STATIC / "page.css").read_text(encoding="utf-8")
    marks = style[style.index(".ready li::before") :].partition("}")[0]
    assert "content" in marks
    assert "border" not in marks


def test_what_is_outside_and_what_is_stale_stand_on_the_glance(pages: Pages) -> None:
    job = pages.begin("cold-1")
    glance = pages.get(job).text
    assert "Outside its limit Control pressure, cold: 1.80" in glance
    assert re.search(r"regulator at \S+ °C.*; limit", glance)  # how it was read stands beside it
    replaced = pages.begin("injector-4")
    text = pages.get(replaced).text
    assert "To prove again" in text
    assert "The shortest way back takes" in text


def test_an_uneven_catch_stands_on_the_glance_with_its_spread_and_limit_until_the_part_is_changed(
    pages: Pages,
) -> None:
    job = pages.begin("injectors-full-1")
    page = pages.get(job)
    assert "Outside its limit Catch, through injectors, full opening: 19.0 ± 1.3 %" in page.text
    assert "limit at most 8 %; uneven, over 99 % sure" in page.text
    listed = page.html.source.partition("Outside its limit</h2>")[2]
    assert listed.index(f'"{job}/catch"') < listed.index(f'"{job}/causes"')
    assert "Catch, through injectors" not in pages.get(pages.begin("injector-4")).text


def test_a_finished_job_is_offered_its_closing(pages: Pages) -> None:
    job = pages.begin("closed")
    assert "The job is closed" in pages.get(job).text
    assert "Handed over" in pages.get(f"{job}/record").text


def test_the_steps_lead_to_the_stage_in_which_the_work_stands(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    assert f"{job}/stages#here" in pages.get(job).html.links
    page = pages.get(f"{job}/stages")
    here = page.html.source.partition('id="here"')[2]
    assert here.lstrip("> \n").startswith('<h2 id="catch_injectors"')
    assert "#here" in page.html.links
    assert 'id="here"' not in pages.get(f"{pages.begin('closed')}/stages").html.source


def test_no_two_lines_of_the_contents_of_a_job_are_alike(pages: Pages) -> None:
    job = pages.begin("cold-1")

    def lines(path: str) -> list[tuple[str, str]]:
        contents = pages.get(path).html.source.partition('<nav class="contents"')[2].partition("</nav>")[0]
        return re.findall(r'<li><a href="([^"]+)"[^>]*>([^<]+)', contents)

    labels = [label for _, label in lines(job)]
    assert len(labels) == len(set(labels)) > 15
    assert (f"{job}/gas", "Exhaust gas") in lines(job)
    assert ("/gas", "Exhaust gas") in lines("/")


def test_what_a_waiting_step_wants_stands_after_its_cautions_and_is_led_to(pages: Pages) -> None:
    page = pages.get(f"{pages.begin()}/steps/bleed_gauge")
    assert re.search(r"waits .{0,20}; \d+ things come first", page.text)
    assert "#first" in page.html.links
    first = page.html.source.index('class="caution"')
    assert "not proved yet" not in page.html.source[:first]
    assert first < page.html.source.index('id="first"')


def test_a_step_that_is_done_leads_on_to_the_next_at_once(pages: Pages) -> None:
    job = pages.begin()
    page = pages.send(f"{job}/steps/photograph_and_map", "done", who="Ines")
    after_said = page.html.source.partition('id="said"')[2]
    assert after_said.index(">On: 1.1 Ask for the car") < after_said.index('id="how"')
    assert ">On: 1.1" not in pages.get(f"{job}/steps/photograph_and_map").html.source


def test_an_entry_laid_open_has_its_units_and_names_as_every_page_writes_them(pages: Pages) -> None:
    job = pages.begin("cold-1")
    mend = f"{job}/entries/cold-1/mend"
    page = pages.get(mend)
    kept = dict(next(one.content for one in pages.store.entries(int(job[6:])) if one.id == "cold-1"))
    assert kept["conditions"]["regulator_temperature"] == "17 degC"
    fields = page.html.form("mend").fields
    assert (fields["c.regulator_temperature"], fields["c.regulator_temperature-unit"]) == ("17", "degC")
    assert ">°C</option>" in page.html.source
    assert fields["at"] == "2026-05-06T08:10:00"
    pages.send(mend, "mend", value="1.40", at="2026-05-06T08:25", reason="misread")
    new = pages.entries(job)[-1][1]["new"]
    assert isinstance(new, dict)
    assert (new["value"], new["at"]) == ("1.40 bar", "2026-05-06T08:25:00+00:00")
    assert new["conditions"] == kept["conditions"]  # what nobody touched stays as it was typed


def test_the_catches_say_that_other_readings_are_weighed_elsewhere(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    page = pages.get(f"{job}/catch")
    assert "By the catches alone. What may be wrong weighs all readings" in page.text
    assert page.html.source.index("Parts in doubt") < page.html.source.index(
        f'<a href="{job}/causes">What may be'
    )


def test_a_job_that_may_not_be_closed_says_why_and_offers_no_button(pages: Pages) -> None:
    page = pages.get(f"{pages.begin('cold-1')}/record")
    assert "It cannot be closed yet" in page.text
    assert [form for form in page.html.forms if form.fields.get("form") == "closed"] == []


@pytest.mark.parametrize(
    ("ending", "kind", "start"),
    [
        (".pdf", "application/pdf", b"%PDF"),
        (".html", "text/html; charset=utf-8", b"<!doctype html"),
        (".toml", "application/toml", b"format"),
        (".json", "application/json", b"{"),
    ],
)
def test_the_record_can_be_taken_along(pages: Pages, ending: str, kind: str, start: bytes) -> None:
    answer = pages.client.get(f"{pages.begin('cold-1')}/record{ending}")
    assert (answer.status_code, answer.headers["content-type"]) == (200, kind)
    assert answer.content.lower().startswith(start.lower())
    if ending == ".html":
        assert "sandbox" in answer.headers["content-security-policy"]


def test_the_drawings_of_catches_come_behind_in_the_page_s_own_colours(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    assert f'data-fetch="{job}/catch/drawings"' in pages.get(f"{job}/catch").html.source
    drawings = pages.client.get(f"{job}/catch/drawings").text
    assert drawings.count("<svg") == 5 + 1
    assert 'aria-label="Catch 1, bare lines, idle opening' in drawings
    assert "#1a1a1a" not in drawings
    assert "<svg" in pages.get(f"{job}/catch").html.source  # at hand now


def test_news_tell_what_came_after_the_head_a_page_knows(pages: Pages) -> None:
    job = pages.begin()
    first = pages.client.get(f"{job}/news").json()
    assert first["said"] == []
    pages.send(f"{job}/enter", "note", text="Smells of varnish.", who="Ines")
    later = pages.client.get(f"{job}/news?after={first['head']}").json()
    assert later["said"] == ["Ines: Smells of varnish."]
    assert later["head"] != first["head"]
    assert pages.client.get(f"{job}/news?after={later['head']}").json()["said"] == []
    assert pages.client.get("/jobs/999/news").status_code == 404


def test_settings_hold_for_the_device_that_chose_them(pages: Pages) -> None:
    answer = pages.client.post("/settings", data={"units": "imperial", "who": " Ray ", "theme": "light"})
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert 'data-theme="light"' in pages.get("/").html.source
    pages.client.cookies.set("evenpour", "units=furlongs&theme=%22%3E%3Cscript%3E&who=<b>")
    page = pages.get("/")
    assert 'data-theme="auto"' in page.html.source
    assert "<b>" not in page.html.source


def test_what_was_typed_is_never_markup(pages: Pages) -> None:
    job = pages.begin()
    bad = '"><script>alert(1)</script>'
    pages.send(f"{job}/enter", "note", text=bad, who=bad)
    for path in ("", "/history", f"/entries/{pages.store.entries(int(job[6:]))[-1].id}/mend"):
        assert "<script>alert" not in pages.get(job + path).html.source


def test_every_timer_belongs_to_a_step_and_every_sign_is_drawn() -> None:
    known = catalogue()
    assert set(timed_steps()) <= {table["id"] for table in known.steps}
    drawn = set(re.findall(r'<symbol id="([a-z_]+)"', (STATIC / "signs.svg").read_text(encoding="utf-8")))
    assert {caution.sign for caution in known.cautions.values()} <= drawn
    states = StageAnswer.model_fields["state"].annotation
    assert set(states.__args__) <= drawn  # type: ignore[union-attr]


def test_the_readings_can_be_seen_with_what_is_outside_first(pages: Pages) -> None:
    job = pages.begin("")
    assert "No reading is outside its limit." in pages.get(f"{job}/readings").text
    high = {"what": "system_pressure", "value": "6.2 bar", "conditions": {"valve": "shut"}}
    pages.store.append(int(job[6:]), "reading", high, at="2026-11-01T10:00:00+00:00")
    page = pages.get(f"{job}/readings")
    assert f"{job}/readings?first=outside" in page.html.links
    assert 'id="group-2"' in page.html.source
    assert "#group-2" in page.html.links
    outside = pages.get(f"{job}/readings?first=outside")
    heads = re.findall(r'<h2 id="group-\d">(.*?)</h2>', outside.html.source)
    assert heads[0] == "Outside its limit"
    assert "Within its limit" in heads
    cut = outside.html.source.index('id="group-2"')
    assert 'class="loud">outside' in outside.html.source[:cut]
    assert 'class="loud">outside' not in outside.html.source[cut : outside.html.source.index('id="older"')]


def test_the_page_of_readings_does_not_call_all_well_while_a_catch_is_uneven(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    page = pages.get(f"{job}/readings")
    assert stored_job(pages.store, int(job[6:])).uneven
    assert "is outside its limit." not in page.text
    assert re.search(r"a catch is: Catch, [a-z ]+, full opening: [\d.]+\s±\s[\d.]+\s%", page.text)
    assert f"{job}/catch" in page.html.links


def test_a_catch_from_before_a_part_was_changed_is_not_called_uneven_now(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    loud = '<b class="loud">uneven</b>'
    before = pages.get(f"{job}/catch").html.source
    pages.store.append(int(job[6:]), "did", {"action": "replaced", "part": "injector", "cylinder": 4})
    page = pages.get(f"{job}/catch")
    assert page.html.source.count(loud) < before.count(loud)
    assert "catch again it was uneven, but a part was changed since" in page.text


def test_every_long_page_says_at_its_top_what_stands_on_it(pages: Pages) -> None:
    job = pages.begin("")
    for path in ("/readings", "/readings?first=outside", "/history", "/stages"):
        page = pages.get(f"{job}{path}")
        inside = [link[1:] for link in page.html.links if link.startswith("#") and len(link) > 1]
        assert len(inside) > 3, path
        assert set(inside) <= set(page.html.ids), path


def test_where_cylinders_differ_a_stage_and_the_record_name_the_cylinder_of_each_figure(pages: Pages) -> None:
    job = pages.begin()
    for cylinder, value in enumerate(("3.30", "3.35", "3.30", "3.40", "3.35", "3.30"), 1):
        pages.store.append(
            int(job[6:]), "reading",
            {"what": "injector_opening_pressure", "cylinder": cylinder, "value": f"{value} bar"},
        )  # fmt: skip
        pages.store.append(
            int(job[6:]), "reading",
            {"what": "compression", "cylinder": cylinder, "value": f"{10 - (cylinder == 2) * 5} bar"},
        )  # fmt: skip
    opens = (
        "opening pressure of the injector: 3.30 ± 0.12 bar, within (cylinders 1, 3 and 6); "
        "3.35 ± 0.12 bar, within (cylinders 2 and 5); 3.40 ± 0.12 bar, within (cylinder 4)"
    )
    bench = pages.get(f"{job}/stages/bench").text.replace("\u00a0", " ")
    record = pages.get(f"{job}/record.html").html.source.replace("\u00a0", " ")
    assert opens in bench
    assert opens in record
    intake = pages.get(f"{job}/stages/intake").text.replace("\u00a0", " ")
    assert re.search(r"speaks against it: the compression 5\.0 ± [\d.]+ bar, outside \(cylinder 2\)", intake)


def test_a_step_that_waits_for_a_part_says_so_before_how_it_is_done(pages: Pages) -> None:
    job = pages.begin("cold-1")
    number = int(job.rpartition("/")[2])
    pages.store.append(number, "did", {"action": "removed", "part": "fuel_pump"})
    text = pages.get(f"{job}/steps/read_system_pressure").text
    assert "Still on the put-back list: fuel pump. The put-back list" in text
    assert text.index("Still on the put-back list: fuel pump") < text.index("How to", text.index("First"))
    assert "To put back first: put the fuel pump back, feed and wires on." in pages.get(job).text
    pages.store.append(number, "did", {"action": "refitted", "part": "fuel_pump"})
    assert "Still on the put-back list: fuel pump" not in pages.get(f"{job}/steps/read_system_pressure").text
