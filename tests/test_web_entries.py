"""The pages take what is typed at the car, without any script: readings, catches, steps, corrections."""

from __future__ import annotations

import re

import pytest

from evenpour.job.demo import demo_entries
from evenpour.job.entries import Draft
from web_world import Html, Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]


def read_cautions(pages: Pages, step: str) -> None:
    pages.send(step, "cautions", who="Ines")


def _read(pages: Pages, job: str) -> list[dict[str, object]]:
    return [content for kind, content in pages.entries(job) if kind == "reading"]


def test_a_job_begun_on_a_page_is_in_the_book_with_its_car_and_conditions(pages: Pages) -> None:
    page = pages.send(
        "/jobs/new",
        "new-job",
        car="Green saloon",
        who="Ines",
        sheet="inline-four",
        c__ambient_temperature="4",
        w__fuel="E10",
    )
    assert page.status == 200
    assert "Green saloon" in page.text
    job = page.address.removeprefix(pages.address)
    kinds = dict(pages.entries(job))
    assert kinds["engine"] == {"sheet": "inline-four", "car": "Green saloon", "who": "Ines"}
    assert kinds["conditions"] == {"ambient_temperature": "4 degC", "fuel": "E10"}
    assert "Green saloon" in pages.get("/?q=green").text
    assert "No job has" in pages.get("/?q=purple").text


def test_a_job_without_a_sheet_is_not_begun_and_keeps_what_was_typed(pages: Pages) -> None:
    page = pages.send("/jobs/new", "new-job", car="Nameless")
    assert page.status == 422
    assert "“The engine's sheet” is empty. Choose it" in page.text
    assert "new-job-sheet-problem" in page.html.source
    assert page.html.form("new-job").fields["car"] == "Nameless"


def test_a_job_is_begun_and_a_step_done_by_somebody_and_the_device_is_asked_who_once(pages: Pages) -> None:
    page = pages.send("/jobs/new", "new-job", car="Grey coupe", sheet="flat-six")
    assert (page.status, "Your name is missing" in page.text) == (422, True)
    assert "new-job-who-problem" in page.html.source
    job = pages.begin()
    step = f"{job}/steps/photograph_and_map"
    page = pages.send(step, "done")
    assert (page.status, "A step is done by somebody" in page.text) == (422, True)
    assert 'id="name-who-problem"' in page.html.source
    assert [kind for kind, _ in pages.entries(job)] == ["engine"]
    pages.send("/jobs/new", "new-job", car="Grey coupe", sheet="flat-six", who="Ines")
    assert pages.send(step, "done").status == 200
    assert pages.entries(job)[-1][1]["who"] == "Ines"


def test_a_step_shows_its_cautions_before_anything_can_be_entered_and_once_for_the_job(pages: Pages) -> None:
    job = pages.begin()
    step = f"{job}/steps/battery_check"
    before = pages.get(step)
    assert before.text.index("Chargers and clips spark") < before.text.index("How to")
    assert [form.fields["form"] for form in before.html.forms] == ["cautions"]
    after = pages.send(step, "cautions", who="Ines")
    assert "read-battery_voltage" in [form.fields.get("form") for form in after.html.forms]
    assert pages.entries(job)[-1] == ("caution", {"id": "battery_vapour", "who": "Ines"})
    other = pages.get(f"{job}/steps/charger_on").text
    assert "Read by Ines" in other


def test_cautions_are_not_read_by_nobody(pages: Pages) -> None:
    job = pages.begin()
    page = pages.send(f"{job}/steps/fire_place", "cautions")
    assert page.status == 422
    assert "Cautions are read by name" in page.text
    assert len(pages.entries(job)) == 1


def test_a_reading_is_judged_at_once_with_limit_source_and_sureness(pages: Pages) -> None:
    job = pages.begin()
    read_cautions(pages, f"{job}/steps/read_system_pressure")
    page = pages.send(
        f"{job}/steps/read_system_pressure", "read-system_pressure", value="5,4", w__valve="shut"
    )
    assert page.status == 200
    said = page.text[page.text.index("What this entry says") :]
    assert "5.40 ± 0.12 bar" in said
    assert "outside over 99 % sure" in said
    assert "Limit: 4.70 to 5.20 bar" in said
    assert "Limit from: typical value, from memory" in said
    assert "To put it right, or to find out:" in said
    assert pages.entries(job)[-1][1]["conditions"] == {"valve": "shut"}


def test_the_ruler_spans_the_doubt_that_is_printed(pages: Pages) -> None:
    """Two readings leave their scatter badly known: ± is then several times what one reading's would be."""
    job = pages.begin(warned=True)
    address = f"{job}/read/system_pressure"
    pages.send(address, "read-system_pressure", value="4.70", w__valve="shut")
    page = pages.send(address, "read-system_pressure", value="5.10", w__valve="shut")
    printed = re.search(r"4\.9 ± (\d\.\d) bar", page.text)
    assert printed is not None
    ruler = page.html.source[page.html.source.index('class="ruler"') :]
    band = re.search(r'class="band" x="[\d.]+" y="8" width="([\d.]+)"', ruler)
    line = re.search(r'class="doubt" x1="([\d.]+)" y1="20" x2="([\d.]+)"', ruler)
    assert band is not None
    assert line is not None
    bars_to_a_side = (float(line[2]) - float(line[1])) / 2.0 * (5.20 - 4.70) / float(band[1])
    assert bars_to_a_side == pytest.approx(float(printed[1]), abs=0.06)  # it is printed to a tenth


def test_a_reading_no_gauge_can_show_is_questioned_and_kept_once_it_is_said_to_be_so(pages: Pages) -> None:
    job = pages.begin(warned=True)
    address = f"{job}/read/system_pressure"
    page = pages.send(address, "read-system_pressure", value="49", w__valve="shut")
    assert page.status == 422
    assert "tick “It is so” below" in page.text
    form = page.html.form("read-system_pressure")
    assert (form.fields["value"], form.fields["w.valve"], "sure" in form.choices) == ("49", "shut", True)
    assert _read(pages, job) == []
    answer = pages.client.post(address, data={**form.fields, "sure": "yes"})
    assert answer.status_code == 303
    assert pages.entries(job)[-1][1]["sure"] is True


def test_an_error_stands_beside_its_field_and_nothing_is_typed_twice(pages: Pages) -> None:
    job = pages.begin(warned=True)
    page = pages.send(
        f"{job}/read/control_pressure_cold",
        "read-control_pressure_cold",
        value="1.45",
        c__regulator_temperature="warm",
    )
    assert page.status == 422
    assert 'id="read-control_pressure_cold-c.regulator_temperature-problem"' in page.html.source
    assert 'aria-invalid="true"' in page.html.source
    assert page.html.form("read-control_pressure_cold").fields["value"] == "1.45"


def test_a_row_of_cylinders_is_kept_as_one_entry_each_or_not_at_all(pages: Pages) -> None:
    job = pages.begin(warned=True)
    address = f"{job}/read/compression"
    page = pages.send(address, "read-compression", value__1="10.5", value__2="10.2", value__4="99 furlongs")
    assert page.status == 422
    assert "read-compression-value.4-problem" in page.html.source
    assert _read(pages, job) == []
    page = pages.send(address, "read-compression", value__1="10.5", value__2="10.2", w__throttle="wide")
    kept = _read(pages, job)
    assert [(one["cylinder"], one["value"]) for one in kept] == [(1, "10.5 bar"), (2, "10.2 bar")]
    assert page.text.count("within") >= 2


def test_the_same_form_sent_twice_counts_once(pages: Pages) -> None:
    job = pages.begin(warned=True)
    form = pages.get(f"{job}/read/system_pressure").html.form("read-system_pressure")
    for _ in range(3):
        answer = pages.client.post(form.action, data={**form.fields, "value": "4.9"})
        assert answer.status_code == 303
    assert len(_read(pages, job)) == 1


def test_the_same_id_with_something_else_in_it_is_refused(pages: Pages) -> None:
    job = pages.begin(warned=True)
    form = pages.get(f"{job}/read/system_pressure").html.form("read-system_pressure")
    pages.client.post(form.action, data={**form.fields, "value": "4.9"})
    answer = pages.client.post(form.action, data={**form.fields, "value": "4.8"})
    assert answer.status_code == 409
    assert len(_read(pages, job)) == 1
    page = Html(answer.text)
    said = page.text.partition("Not kept yet ")[2]
    assert said.startswith("This form was sent before, with something else in it")
    assert re.search("Kept was: [^.]*4[.]9", said)
    assert "reading-" not in said.partition("Counts now")[0]
    again = page.form("read-system_pressure").fields
    assert again["value"] == "4.8"
    assert pages.client.post(form.action, data=again).status_code == 303
    assert [content["value"] for content in _read(pages, job)] == ["4.9 bar", "4.8 bar"]


def test_a_form_sent_again_with_another_figure_leads_to_what_was_kept(pages: Pages) -> None:
    job = pages.begin()
    form = pages.get(f"{job}/enter").html.form("note")
    pages.client.post(form.action, data={**form.fields, "text": "Smells of varnish"})
    page = Html(pages.client.post(form.action, data={**form.fields, "text": "Smells of fuel"}).text)
    assert re.search("Kept was: [^.]*Smells of varnish", page.text)
    mend = next(link for link in page.links if link.endswith("/mend"))
    assert "Smells of varnish" in pages.get(mend).html.source
    pages.send(mend, "withdraw", reason="twice")
    page = Html(pages.client.post(form.action, data={**form.fields, "text": "Smells of fuel"}).text)
    assert "This form was sent before" in page.text
    assert not [link for link in page.links if link.endswith("/mend")]


def test_an_entry_sent_late_stands_at_its_own_time(pages: Pages) -> None:
    job = pages.begin(warned=True)
    form = pages.get(f"{job}/read/system_pressure").html.form("read-system_pressure")
    late = {**form.fields, "value": "4.9", "at": "2026-05-03T10:12:00+02:00"}
    assert pages.client.post(form.action, data=late).status_code == 303
    kept = pages.store.entries(int(job.rpartition("/")[2]))[-1]
    assert kept.at == "2026-05-03T10:12:00+02:00"
    assert pages.client.post(form.action, data=late).status_code == 303
    assert len(_read(pages, job)) == 1


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ({"turns_way": "clockwise", "turns_part": "1/8"}, "+1/8 turn"),
        ({"turns_way": "anticlockwise", "turns_whole": "1", "turns_part": "3/16"}, "-1 3/16 turn"),
        ({"turns_way": "clockwise", "turns_whole": "1"}, "+1 turn"),
    ],
)
def test_a_screw_is_moved_by_whole_turns_and_sixteenths(
    pages: Pages, typed: dict[str, str], kept: str
) -> None:
    job = pages.begin(warned=True)
    assert pages.send(f"{job}/enter?screw=mixture_screw", "move", **typed).status == 200
    assert pages.entries(job)[-1][1]["turns"] == kept


def test_a_screw_that_moved_no_way_is_asked_about(pages: Pages) -> None:
    job = pages.begin(warned=True)
    page = pages.send(f"{job}/enter?screw=mixture_screw", "move", turns_part="1/8")
    assert (page.status, "clockwise or anticlockwise" in page.text) == (422, True)


def test_a_catch_is_entered_by_port_with_a_lost_one_left_empty(pages: Pages) -> None:
    job = pages.begin("lines-full")
    page = pages.send(
        f"{job}/catch?through=injectors&opening=full&swap=injector+4+with+1",
        "catch",
        duration="35",
        amount__1="66",
        amount__2="80",
        amount__3="80",
        amount__4="80.5",
        amount__6="80",
        instrument="cylinder",
    )
    assert page.status == 200
    content = pages.entries(job)[-1][1]
    assert content["amounts"] == ["66 ml", "80 ml", "80 ml", "80.5 ml", "", "80 ml"]
    assert (content["through"], content["opening"], content["duration"]) == ("injectors", "full", "35 s")
    assert content["swaps"] == ["injector 4 with 1"]
    assert "Through injectors, full opening" in page.text
    assert "Parts in doubt" in page.text


def test_a_question_about_a_figure_leads_to_it_and_to_its_tick(pages: Pages) -> None:
    job = pages.begin(warned=True)
    typed = {f"amount__{port}": "80" for port in range(1, 7)} | {"amount__2": "8", "duration": "35"}
    page = pages.send(f"{job}/catch", "catch", **typed)
    assert page.status == 422
    assert "Was it 80 ml?" in page.text
    asked = page.html.source[page.html.source.index('id="problems"') :]
    asked = asked[: asked.index("</ul>")]
    for place in ("catch-amount.2", "catch-sure"):
        assert f'href="#{place}"' in asked
        assert page.html.ids.count(place) == 1
    assert page.html.source.count('<input type="checkbox" id="catch-sure"') == 1


def test_weighed_containers_keep_their_empty_weight_for_the_next_catch(pages: Pages) -> None:
    job = pages.begin()
    grams = {f"amount__{port}": str(30 + port) for port in range(1, 7)}
    empty = {f"tare__{port}": "21.5" for port in range(1, 7)}
    pages.send(f"{job}/catch", "cautions", who="Ines")
    page = pages.send(f"{job}/catch", "catch", duration="150", unit="g", **grams, **empty)
    assert page.status == 200
    assert pages.entries(job)[-1][1]["tare"] == ["21.5 g"] * 6
    again = pages.get(f"{job}/catch").html.form("catch").fields
    assert (again["tare.3"], again["unit"]) == ("21.5", "g")


def test_an_amount_that_cannot_be_is_said_at_its_port(pages: Pages) -> None:
    job = pages.begin()
    amounts = {f"amount__{port}": "20" for port in range(1, 7)}
    pages.send(f"{job}/catch", "cautions", who="Ines")
    page = pages.send(f"{job}/catch", "catch", duration="60", **{**amounts, "amount__3": "twenty"})
    assert page.status == 422
    assert "catch-amount.3-problem" in page.html.source


def test_a_step_done_puts_on_the_list_and_the_list_takes_it_off_again(pages: Pages) -> None:
    job = pages.begin("cold-1")
    before = pages.get(f"{job}/put-back")
    assert "Close the tank cap" in before.text
    page = pages.send(f"{job}/put-back", "back-tank_cap")
    assert (page.status, 'id="name-who-problem"' in page.html.source) == (422, True)
    assert "Work on a part is done by somebody" in page.text
    page = pages.send(f"{job}/put-back", "back-tank_cap", who="Ines")
    assert "Off the put-back list: tank cap" in page.text
    assert "Close the tank cap" not in page.text
    kind, content = pages.entries(job)[-1]
    assert (kind, content["action"], content["part"]) == ("did", "reconnected", "tank_cap")


def test_something_may_stay_only_by_name_and_reason(pages: Pages) -> None:
    job = pages.begin("cold-1")
    assert pages.send(f"{job}/put-back", "stay-charger", reason="night charge").status == 422
    page = pages.send(f"{job}/put-back", "stay-charger", who="Ines", reason="night charge")
    assert "It stays, Ines: night charge" in page.text


def test_a_step_is_passed_over_with_a_reason_alone(pages: Pages) -> None:
    job = pages.begin("cold-1")
    step = f"{job}/steps/valve_clearances"
    assert pages.send(step, "passed").status == 422
    page = pages.send(step, "passed", reason="hydraulic")
    assert "passed over" in page.text
    assert pages.entries(job)[-1][1] == {"id": "valve_clearances", "done": False, "reason": "hydraulic"}


def test_a_claim_is_overridden_by_name_and_reason(pages: Pages) -> None:
    job = pages.begin()
    page = pages.send(f"{job}/stages/intake", "override-battery_good", who="Ines", reason="new battery")
    assert "gone on without" in page.text


def test_a_slip_is_put_right_by_one_more_entry_with_its_reason(pages: Pages) -> None:
    job = pages.begin("cold-1")
    mend = f"{job}/entries/cold-1/mend"
    assert pages.send(mend, "mend", value="1.40").status == 422
    page = pages.send(mend, "mend", value="1.40", reason="misread")
    assert page.status == 200
    assert "1.40" in page.text
    history = pages.get(f"{job}/history").text
    assert "At first: Control pressure, cold: 1.80 bar" in history
    assert "Corrected: misread" in history
    kind, content = pages.entries(job)[-1]
    assert (kind, content["of"], content["reason"]) == ("correction", "cold-1", "misread")


def test_an_entry_that_should_not_stand_is_withdrawn_and_still_shown(pages: Pages) -> None:
    job = pages.begin("cold-1")
    pages.send(f"{job}/entries/cold-1/mend", "withdraw", reason="wrong car")
    assert "Withdrawn: wrong car" in pages.get(f"{job}/history").text
    assert pages.get(f"{job}/entries/cold-1/mend").status == 404


def test_what_was_kept_is_said_in_words(pages: Pages) -> None:
    job = pages.begin()
    read = pages.send(f"{job}/steps/read_system_pressure", "cautions", who="Ines")
    assert "Kept: the cautions are read." in read.text
    noted = pages.send(f"{job}/enter", "note", text="Smells of varnish")
    assert re.search(r"Kept: .*Smells of varnish", noted.text)


def test_a_gauge_stated_once_can_be_chosen_at_every_reading(pages: Pages) -> None:
    job = pages.begin(warned=True)
    kept = {"id": "red gauge", "instrument_kind": "pressure gauge", "range": "6", "calibrated": "2026-03-01"}
    pages.send(f"{job}/enter", "gauge", **kept, **{"class": "1.0"})
    form = pages.get(f"{job}/read/system_pressure").html.form("read-system_pressure")
    assert "red gauge" in form.choices["instrument"]
    assert pages.entries(job)[-1][1]["calibrated"] == "2026-03-01"


def test_a_happening_ages_what_it_spoils_and_the_page_says_what(pages: Pages) -> None:
    job = pages.begin("cold-1")
    page = pages.send(f"{job}/enter", "happened", what="backfire")
    assert "To be proved again now:" in page.text


def test_a_closed_job_takes_notes_and_corrections_alone(pages: Pages) -> None:
    job = pages.begin("")
    assert "The job is closed" in pages.get(f"{job}/steps/fire_place").text
    assert [form.fields["form"] for form in pages.get(f"{job}/enter").html.forms] == ["note"]
    assert pages.send(f"{job}/enter", "note", text="The owner rang.").status == 200
    forged = {"form": "did", "kind": "did", "action": "removed", "part": "tank_cap"}
    assert pages.client.post(f"{job}/enter", data=forged).status_code == 409


def test_the_units_of_the_device_are_those_of_its_pages(pages: Pages) -> None:
    job = pages.begin("cold-1")
    pages.client.post("/settings", data={"units": "us", "who": "Ray", "theme": "dark"})
    step = pages.get(f"{job}/steps/read_system_pressure")
    assert "68.2 to 75.4 psi" in step.text
    assert next(iter(step.html.form("read-system_pressure").choices["value-unit"])) == "psi"
    assert 'data-theme="dark"' in step.html.source
    assert step.html.form("done").fields["who"] == "Ray"


AMOUNTS = {f"amount__{port}": "70" for port in range(1, 7)}


@pytest.mark.parametrize(
    ("page", "form", "typed", "words", "field"),
    [
        ("catch", "catch", AMOUNTS, "“Time” is empty. How long did the pump run?", "duration"),
        (
            "catch",
            "catch",
            {"duration": "60"},
            "“What each port poured” is empty. Fill it in below",
            "amount.1",
        ),
        ("catch", "catch", AMOUNTS | {"duration": "60", "opening": "other"}, "How far was it held", "lift"),
        ("enter?part=injector", "did", {}, "“What was done” is empty. Choose it", "action"),
        ("enter", "happened", {}, "“What happened” is empty. Choose it", "what"),
        ("enter", "gauge", {"id": "gauge"}, "“What it is” is empty.", "instrument_kind"),
        ("enter", "gauge", {"instrument_kind": "gauge"}, "“What you call it” is empty.", "id"),
        ("enter", "note", {}, "“Words for the record” is empty. Write", "text"),
        ("enter?screw=mixture_screw", "move", {}, "“By how much it was turned” is empty.", "turns"),
        ("read/system_pressure", "read-system_pressure", {}, "“Reading” is empty. Fill in", "value"),
        ("read/system_pressure", "read-system_pressure", {"value": "abc"}, "Write the figure alone", "value"),
    ],
)
def test_a_field_left_empty_is_named_by_its_label_beside_its_input(
    pages: Pages, page: str, form: str, typed: dict[str, str], words: str, field: str
) -> None:
    job = pages.begin(warned=True)
    answer = pages.send(f"{job}/{page}", form, **typed)
    assert answer.status == 422
    assert words in answer.text
    assert f'id="{form}-{field}-problem"' in answer.html.source
    (place,) = {link[1:] for link in answer.html.links if link.startswith(f"#{form}-")}
    assert answer.html.ids.count(place) == 1
    assert not re.search(r"durations|missing from an?|Write it like|Allowed: replaced", answer.text)


def test_whole_turns_that_are_no_figure_are_said_as_they_were_typed(pages: Pages) -> None:
    typed = {"turns-whole": "abc", "turns-way": "clockwise"}
    job = pages.begin(warned=True)
    answer = pages.send(f"{job}/enter?screw=mixture_screw", "move", **typed)
    assert "“abc” does not start with a number. Whole turns are a figure" in answer.text


def test_a_step_done_without_its_reading_says_so_where_it_is_entered_and_in_its_proof(pages: Pages) -> None:
    job = pages.begin()
    step = f"{job}/steps/photograph_and_map"
    assert "Right: as the sheet says" in pages.get(step).text
    page = pages.send(step, "done", who="Ines")
    assert "Kept: done on your word, without its reading" in page.text
    assert "on your word, without its reading" in pages.get(step).text
    pages.send(step, "read-line_crossed", value="right")
    assert "on your word" not in pages.get(step).text


def test_an_untouched_job_may_be_closed_but_is_not_called_ready(pages: Pages) -> None:
    job = pages.begin()
    page = pages.get(f"{job}/record").text
    assert "The work is not finished" in page
    assert "None is begun" in page
    assert "Nothing is left on the car" not in page


def test_what_was_read_last_stands_first_among_the_readings(pages: Pages) -> None:
    job = pages.begin(warned=True)
    for check, bar, at in (("system_pressure", "4.87", "08:00"), ("control_pressure_warm", "3.61", "09:00")):
        form = f"read-{check}"
        pages.send(f"{job}/read/{check}", form, value=bar, at=f"2026-05-04T{at}")
    pages.send(f"{job}/read/system_pressure", "read-system_pressure", value="4.93", at="2026-05-04T07:00")
    page = pages.get(f"{job}/readings").text
    assert sorted(("4.87", "3.61", "4.93"), key=page.index) == ["3.61", "4.87", "4.93"]


def test_what_was_passed_over_and_holds_up_the_rest_leads_to_where_it_is_let_stand(pages: Pages) -> None:
    told = [Draft(one.kind, one.content, one.id, one.at) for one in demo_entries() if one.kind != "closed"]
    job = f"/jobs/{pages.store.import_job(told)}"
    pages.send(f"{job}/steps/walk_round_hot", "passed", reason="no time")
    page = pages.get(job)
    assert "Passed over at" in page.text
    assert "stand by name, with a reason" in page.text
    link = f"{job}/stages/road#claim-dry_hot"
    assert f'href="{link}"' in page.html.source
    assert "claim-dry_hot" in pages.get(link.partition("#")[0]).html.ids
