"""Engine sheets on the pages: shown with every source, copied, edited value by value, nothing lost."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from evenpour.job.sheet.found import find_sheet, sheet_folder
from test_web_pages import JARGON
from web_world import Page, Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]
MANUAL = "manual, page 12"


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sheets of one's own lie in a folder of the test's own."""
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path))


@pytest.fixture
def own(pages: Pages) -> str:
    """The address of a sheet of one's own, just copied."""
    page = pages.send("/sheets/flat-six", "copy", id="six-blue", title="The blue six")
    assert page.status == 200
    return "/sheets/six-blue"


def part(pages: Pages, own: str, title: str) -> str:
    """The address of the section in which something of that title is edited."""
    found = [link for link in pages.get(f"{own}/edit").html.links if "/edit/" in link]
    return next(link for link in found if f"<legend>{title}" in pages.get(link).html.source)


def post(pages: Pages, address: str, **typed: str) -> Page:
    return pages.send(
        address,
        "edit",
        **{name.replace("source_of_all", "source-of-all"): one for name, one in typed.items()},
    )


def text() -> str:
    return (sheet_folder() / "six-blue.toml").read_text("utf-8")


def test_a_shipped_sheet_shows_every_value_and_limit_with_its_source(pages: Pages) -> None:
    page = pages.get("/sheets/flat-six")
    sheet = find_sheet("flat-six")
    assert "Typical values from common practice; your engine's manual decides." in page.text
    for value in sheet.values.values():
        assert f"{value.title[:1].upper()}{value.title[1:]}" in page.text
    assert page.html.source.count('class="source-mark"') == len(sheet.values) + len(sheet.limits)
    for source in {one.source for one in (*sheet.values.values(), *sheet.limits)}:
        assert source in page.text
    marks = [link for link in page.html.links if link.startswith("#source-")]
    assert {link.removeprefix("#") for link in marks} <= set(page.html.ids)


def test_a_jobs_sheet_stands_in_the_job_in_the_devices_units(pages: Pages) -> None:
    job = pages.begin()
    pages.client.cookies.set("evenpour", "units=us")
    page = pages.get(f"{job}/sheet")
    assert page.status == 200
    assert "psi" in page.text


def test_a_copy_is_ones_own_and_says_what_is_not_yet_checked(pages: Pages, own: str) -> None:
    page = pages.get(own)
    assert "The blue six" in pages.get("/sheets").text
    assert "values and limits are not yet checked against the manual" in page.text
    assert f"{own}/edit" in page.html.links
    assert "/sheets/flat-six/edit" not in pages.get("/sheets/flat-six").html.links


@pytest.mark.parametrize("name", ["six-blue", "flat-six", "Six Blue", "../six", "x" * 61, "x" * 300, "six/²"])
def test_a_copy_needs_a_short_name_that_is_free(pages: Pages, own: str, name: str) -> None:
    before = sorted(path.name for path in sheet_folder().iterdir())
    page = pages.send("/sheets/flat-six", "copy", id=name, title="Again")
    assert page.status == 422
    assert page.html.form("copy").fields["id"] == name
    assert page.html.form("copy").fields["title"] == "Again"
    assert f"Its short name “{name if len(name) <= 60 else name[:57] + '...'}” is" in page.text
    assert 'id="copy-id-problem"' in page.html.source
    assert sorted(path.name for path in sheet_folder().iterdir()) == before


def test_a_name_of_sixty_letters_is_still_a_short_one(pages: Pages) -> None:
    assert pages.send("/sheets/flat-six", "copy", id="x" * 60, title="Again").status == 200


def test_no_file_is_opened_by_its_path(pages: Pages, own: str) -> None:
    for path in ("/sheets/pyproject.toml", "/sheets/..%2Fsheets%2Fsix-blue.toml", "/sheets/flat-six/edit"):
        assert pages.get(path).status == 404, path


def test_a_value_from_the_manual_is_written_with_its_source_and_all_else_stays(
    pages: Pages, own: str
) -> None:
    before = text()
    page = post(pages, part(pages, own, "Gap of the points"), values__points_gap="0.40", source_of_all=MANUAL)
    assert (page.status, "Saved." in page.text) == (200, True)
    sheet = find_sheet("six-blue")
    assert sheet.values["points_gap"].text == "0.40 mm"
    assert sheet.values["points_gap"].source == MANUAL
    changed = [
        pair for pair in zip(before.splitlines(), text().splitlines(), strict=True) if len(set(pair)) > 1
    ]
    assert changed == [
        (
            'points_gap = { is = "0.35 mm", source = "copied" }',
            f'points_gap = {{ is = "0.40 mm", source = "{MANUAL}" }}',
        )
    ]


def test_a_changed_figure_needs_a_source_of_its_own(pages: Pages, own: str) -> None:
    address, before = part(pages, own, "Gap of the points"), text()
    page = post(pages, address, values__points_gap="0.40")
    assert page.status == 422
    assert "Gap of the points needs its source" in page.text
    assert page.html.form("edit").fields["values.points_gap"] == "0.40"
    assert text() == before


def test_the_manual_that_says_the_same_changes_the_source_alone(pages: Pages, own: str) -> None:
    waiting = len(find_sheet("six-blue").unchecked)
    address = part(pages, own, "Gap of the points")
    fields = dict(pages.get(address).html.form("edit").fields) | {
        "values.points_gap-same": "yes",
        "source-of-all": MANUAL,
    }
    assert pages.client.post(address, data=fields).status_code == 303
    sheet = find_sheet("six-blue")
    assert (sheet.values["points_gap"].text, sheet.values["points_gap"].source) == ("0.35 mm", MANUAL)
    assert len(sheet.unchecked) == waiting - 1


def test_what_is_wrong_is_said_at_its_field_and_nothing_is_saved_by_halves(pages: Pages, own: str) -> None:
    address, before = part(pages, own, "Gap of the points"), text()
    page = post(
        pages, address, values__points_gap="0.40", values__spark_plug_gap="9000 bar", source_of_all=MANUAL
    )
    assert page.status == 422
    assert 'id="edit-values.spark_plug_gap-problem"' in page.html.source
    assert 'id="edit-values.points_gap-problem"' not in page.html.source
    assert "Gap of the spark plugs" in page.text
    assert page.html.form("edit").fields["values.points_gap"] == "0.40"
    assert text() == before


def test_a_limit_is_edited_in_its_own_unit_and_upside_down_is_refused(pages: Pages, own: str) -> None:
    address = part(pages, own, "Opening pressure of the injector")
    place = next(
        i
        for i, one in enumerate(tomllib.loads(text())["limit"])
        if one["check"] == "injector_opening_pressure"
    )
    name = f"limit__{place}__high"
    page = post(pages, address, **{name: "2.5"}, source_of_all=MANUAL)
    assert page.status == 422
    assert "above high" in page.text
    page = post(pages, address, **{name: "3.5"}, source_of_all=MANUAL)
    assert page.status == 200
    kept = find_sheet("six-blue").limits[place]
    assert (kept.high, kept.source) == (pytest.approx(3.5e5), MANUAL)


def test_what_holds_for_the_whole_sheet_holds_for_a_section(pages: Pages, own: str) -> None:
    page = post(pages, f"{own}/edit/2", values__cylinders="5", source_of_all=MANUAL)
    assert page.status == 422
    assert "does not name each of 5 cylinders once" in page.text


def test_what_is_fitted_can_be_said_and_its_values_follow(pages: Pages, own: str) -> None:
    page = post(pages, f"{own}/edit/1", devices__points_ignition="no")
    assert page.status == 422
    assert "points_ignition is not fitted" in page.text
    page = post(pages, f"{own}/edit/1", devices__air_pump="yes")
    assert page.status == 200
    assert "air_pump" in find_sheet("six-blue").devices


def test_a_value_can_be_taken_out_and_put_in_again(pages: Pages, own: str) -> None:
    page = post(pages, part(pages, own, "Gap of the points"), values__points_gap="")
    assert page.status == 200
    assert "points_gap" not in find_sheet("six-blue").values
    address = part(pages, own, "Gap of the points")
    assert "Not on this sheet yet" in pages.get(address).text
    assert post(pages, address, values__points_gap="0.4", source_of_all=MANUAL).status == 200
    assert find_sheet("six-blue").values["points_gap"].text == "0.4 mm"


def test_a_further_limit_is_written_at_the_end(pages: Pages, own: str) -> None:
    last = [link for link in pages.get(f"{own}/edit").html.links if "/edit/" in link][-1]
    count = len(find_sheet("six-blue").limits)
    form = pages.get(f"{last}?of=dwell").html.form("edit")
    name = next(one for one in form.fields if one.endswith(".low"))
    assert name == f"limit.{count}.low"
    assert "It holds always, or only while one thing is so" in pages.get(f"{last}?of=dwell").text
    fields = {**form.fields, name: "36", f"limit.{count}-source": MANUAL}
    answer = pages.client.post(last, data=fields)
    assert answer.status_code == 422
    assert "has a limit for the same conditions already" in answer.text
    assert "or choose below when alone this one holds" in answer.text
    assert pages.get(f"{last}?of=nothing").status == 200
    fields = pages.get(f"{last}?of=auxiliary_air_resistance").html.form("edit").fields
    fields = {**fields, name: "40", f"limit.{count}-source": MANUAL}
    assert pages.client.post(last, data=fields).status_code == 303
    kept = find_sheet("six-blue").limits[-1]
    assert (kept.check, kept.low, kept.source) == ("auxiliary_air_resistance", 40.0, MANUAL)


def test_a_second_limit_of_a_check_holds_only_while_something_is_so(pages: Pages, own: str) -> None:
    last = [link for link in pages.get(f"{own}/edit").html.links if "/edit/" in link][-1]
    form = pages.get(f"{last}?of=system_pressure").html.form("edit")
    name = next(one for one in form.fields if one.endswith(".low")).removesuffix(".low")
    assert "state=cruise" in form.choices[f"{name}.when"]
    fields = {**form.fields, f"{name}.low": "4.6", f"{name}-source": MANUAL, f"{name}.when": "state=cruise"}
    assert pages.client.post(last, data=fields).status_code == 303
    kept = find_sheet("six-blue").limits[-1]
    assert (kept.check, list(kept.when), kept.source) == ("system_pressure", ["state"], MANUAL)


def test_limits_of_one_check_are_told_apart_by_when_they_hold(pages: Pages, own: str) -> None:
    source = pages.get(part(pages, own, "Evenness of a catch")).html.source
    heads = re.findall(r"<legend>(Evenness of a catch.*?)(?: <span|</legend>)", source)
    assert len(heads) > 1
    assert len(set(heads)) == len(heads)


def test_a_sheet_that_was_changed_meanwhile_is_not_written_over(pages: Pages, own: str) -> None:
    address = part(pages, own, "Gap of the points")
    fields = dict(pages.get(address).html.form("edit").fields) | {
        "values.points_gap": "0.4",
        "source-of-all": MANUAL,
    }
    post(pages, f"{own}/edit/1", title="Another title")
    answer = pages.client.post(address, data=fields)
    assert answer.status_code == 409
    assert "changed meanwhile" in answer.text
    assert 'value="0.4"' in answer.text
    assert find_sheet("six-blue").values["points_gap"].text == "0.35 mm"


def test_a_form_is_checked_by_the_same_rules_before_it_is_saved(pages: Pages, own: str) -> None:
    address, before = part(pages, own, "Gap of the points"), text()
    fields = dict(pages.get(address).html.form("edit").fields) | {"check": "yes"}
    assert pages.client.post(address, data=fields).json() == {"wrong": [], "says": "Nothing is changed yet."}
    wrong = pages.client.post(
        address, data={**fields, "values.points_gap": "wide", "source-of-all": MANUAL}
    ).json()
    assert [one["field"] for one in wrong["wrong"]] == ["values.points_gap"]
    right = pages.client.post(
        address, data={**fields, "values.points_gap": "0.4", "source-of-all": MANUAL}
    ).json()
    assert right["wrong"] == []
    assert "1 change" in right["says"]
    assert text() == before


def test_a_sheet_with_mistakes_of_old_can_be_mended_section_by_section(pages: Pages, own: str) -> None:
    file = sheet_folder() / "six-blue.toml"
    spoilt = (
        text()
        .replace('"0.7 mm"', '"0.7 bar"')
        .replace('displacement = { is = "2.7 l"', 'displacement = { is = "2.7 V"')
    )
    file.write_text(spoilt, "utf-8")
    assert "This sheet has mistakes" in pages.get(own).text
    page = post(
        pages,
        part(pages, own, "Gap of the points"),
        values__spark_plug_gap="0.7",
        values__spark_plug_gap_unit="mm",
        source_of_all=MANUAL,
    )
    assert page.status == 200
    assert "2.7 V" in text()
    assert (
        post(
            pages,
            f"{own}/edit/2",
            values__displacement="2.7",
            values__displacement_unit="l",
            source_of_all=MANUAL,
        ).status
        == 200
    )
    assert find_sheet("six-blue").values["displacement"].text == "2.7 l"


def test_sources_named_before_are_offered_again(pages: Pages, own: str) -> None:
    address = part(pages, own, "Gap of the points")
    assert f'<option value="{MANUAL}">' not in pages.get(address).html.source
    post(pages, address, values__points_gap="0.40", source_of_all=MANUAL)
    source = pages.get(address).html.source
    assert f'<option value="{MANUAL}">' in source
    assert '<option value="measured on this car">' in source
    assert "not yet checked" not in source.partition('<datalist id="sources">')[2].partition("</datalist>")[0]


def test_pages_of_sheets_are_told_in_words(pages: Pages, own: str) -> None:
    for path in ("/sheets", "/sheets/flat-six-oxygen", own, f"{own}/edit", f"{own}/edit/1", "/instruments"):
        page = pages.get(path)
        assert page.status == 200, path
        assert not JARGON.search(page.text), path


def test_a_limit_says_when_it_holds_and_where_that_is_changed(pages: Pages, own: str) -> None:
    pressures = pages.get(part(pages, own, "Control pressure, cold")).text
    assert "at 0 °C (the regulator's temperature), 0.05 bar more for each °C above" in pressures
    assert "Asked of each reading: plug of the heater: unplugged; valve of the gauge: open" in pressures
    assert f"changed in the sheet's file, {sheet_folder() / 'six-blue.toml'}: its lines when" in pressures
    bare = pages.get(part(pages, own, "Gap of the points")).text
    assert "its lines when" not in bare


def test_what_no_form_changes_is_said_while_another_limit_has_a_mistake(pages: Pages, own: str) -> None:
    file = sheet_folder() / "six-blue.toml"
    file.write_text(text().replace('low = "0.35 bar"', 'low = "0.35 furlong"'), "utf-8")
    page = pages.get(part(pages, own, "Control pressure, warm"))
    assert "plug of the heater: plugged" in page.text
    assert '<option value="furlong" selected>' in page.html.source


def test_a_figure_that_is_changed_leaves_when_it_holds_as_it_was(pages: Pages, own: str) -> None:
    address = part(pages, own, "Control pressure, cold")
    place = next(
        n for n, one in enumerate(find_sheet("six-blue").limits) if one.check == "control_pressure_cold"
    )
    before = tomllib.loads(text())["limit"][place]
    page = post(pages, address, **{f"limit__{place}__low": "0.40", "source_of_all": MANUAL})
    assert page.status == 200
    after = tomllib.loads(text())["limit"][place]
    assert after["low"] == "0.40 bar"
    assert {name: after[name] for name in ("depends", "asks")} == {
        name: before[name] for name in ("depends", "asks")
    }
