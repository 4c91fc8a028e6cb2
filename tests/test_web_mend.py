"""Mending an entry on the very form it was entered on, filled with what was kept."""

from __future__ import annotations

import re
from typing import Any

import pytest

from evenpour.measure.quantities import parse
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]

FORMED = ("reading", "catch", "did", "move", "happened", "instrument")


def _plain(said: object) -> object:
    """Without the plus that nobody need type."""
    return said.removeprefix("+") if isinstance(said, str) else said


def _kept(pages: Pages, job: str, entry: str) -> dict[str, Any]:
    return next(dict(one.content) for one in pages.store.entries(int(job[6:])) if one.id == entry)


def _newest(pages: Pages, job: str) -> dict[str, Any]:
    kind, content = pages.entries(job)[-1]
    assert kind == "correction"
    new = content["new"]
    assert isinstance(new, dict)
    return new


def _mend_of(pages: Pages, job: str, kind: str, content: dict[str, Any]) -> str:
    pages.store.append(int(job[6:]), kind, content, id="slip-1")
    return f"{job}/entries/slip-1/mend"


def test_an_entry_that_is_opened_and_kept_as_it_is_says_what_it_said(pages: Pages) -> None:
    job = pages.begin("")
    number = int(job[6:])
    corrected = {str(one.content["of"]) for one in pages.store.entries(number) if one.kind == "correction"}
    tried = [one for one in pages.store.entries(number) if one.kind in FORMED and one.id not in corrected]
    shapes: dict[tuple[object, ...], Any] = {}
    for one in tried:  # of each shape of entry one will do
        shapes[one.kind, one.content.get("what"), *sorted(one.content)] = one
    for one in shapes.values():
        page = pages.send(f"{job}/entries/{one.id}/mend", "mend", reason="looked at again")
        assert page.status == 200, (one.id, page.text)
        new = {name: _plain(said) for name, said in _newest(pages, job).items()}
        new.pop("at", None)
        assert new == {name: _plain(said) for name, said in one.content.items()}, one.id


def test_a_reading_is_mended_by_its_figure_alone_in_the_unit_it_was_read_in(pages: Pages) -> None:
    job = pages.begin("cold-1")
    mend = f"{job}/entries/cold-1/mend"
    form = pages.get(mend).html.form("mend")
    assert (form.fields["value"], form.fields["value-unit"]) == ("1.80", "bar")
    assert "psi" in form.choices["value-unit"]
    assert form.fields["w.heater"] == "unplugged"
    assert "what" not in form.choices
    pages.send(mend, "mend", value="1.4", reason="misread")
    assert _newest(pages, job)["value"] == "1.4 bar"


def test_a_reading_mended_to_an_odd_figure_is_asked_about_as_a_new_one_is(pages: Pages) -> None:
    job = pages.begin()
    mend = _mend_of(pages, job, "reading", {"what": "system_pressure", "value": "4.95 bar"})
    before = len(pages.entries(job))
    page = pages.send(mend, "mend", value="49.5", reason="misread")
    assert page.status == 422
    assert "Was it 49.5 psi (3.41 bar)?" in page.text
    assert page.html.form("mend").fields["value"] == "49.5"
    assert page.html.form("mend").fields["reason"] == "misread"
    assert len(pages.entries(job)) == before
    fields = {**page.html.form("mend").fields, "sure": "yes"}
    assert pages.client.post(page.html.form("mend").action, data=fields).status_code == 303
    assert _newest(pages, job)["value"] == "49.5 bar"


def test_what_is_wrong_in_a_mended_entry_stands_beside_its_field(pages: Pages) -> None:
    job = pages.begin()
    mend = _mend_of(pages, job, "reading", {"what": "system_pressure", "value": "4.95 bar"})
    page = pages.send(mend, "mend", value="x", reason="misread")
    assert page.status == 422
    assert 'id="mend-value-problem"' in page.html.source
    assert "its unit stands beside it" in page.text


def test_a_reading_of_the_wrong_cylinder_is_put_to_the_right_one(pages: Pages) -> None:
    job = pages.begin()
    mend = _mend_of(pages, job, "reading", {"what": "compression", "cylinder": 3, "value": "10.4 bar"})
    assert pages.get(mend).html.form("mend").fields["cylinder"] == "3"
    pages.send(mend, "mend", cylinder="4", reason="wrong cylinder")
    assert _newest(pages, job)["cylinder"] == 4


def test_a_figure_entered_under_the_wrong_name_is_put_under_the_right_one(pages: Pages) -> None:
    job = pages.begin("cold-1")
    mend = f"{job}/entries/cold-1/mend"
    switch = next(form for form in pages.get(mend).html.forms if form.method == "get")
    assert "system_pressure" in switch.choices["what"]
    assert "injector_drip" not in switch.choices["what"]
    pages.send(f"{mend}?what=system_pressure", "mend", value="4.9", reason="it was the other gauge")
    new = _newest(pages, job)
    assert (new["what"], new["value"]) == ("system_pressure", "4.9 bar")
    assert new["conditions"]["valve"] == "open"  # which both state


def test_a_catch_is_mended_by_the_figure_of_one_port(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    kept = _kept(pages, job, "injectors-full-1")
    mend = f"{job}/entries/injectors-full-1/mend"
    form = pages.get(mend).html.form("mend")
    assert form.fields["amount.4"] == kept["amounts"][3].partition(" ")[0]
    assert form.fields["unit"] == "ml"
    page = pages.send(mend, "mend", amount__4="80", reason="misread")
    assert _newest(pages, job)["amounts"] == [*kept["amounts"][:3], "80 ml", *kept["amounts"][4:]]
    assert page.address.partition("?")[0].endswith(f"{job}/catch")


def test_mending_ends_where_one_came_from(pages: Pages) -> None:
    job = pages.begin("cold-1")
    mend = f"{job}/entries/cold-1/mend"
    for path in ("/readings?first=outside", "/steps/read_control_cold", "/history"):
        came = f"{pages.address}{job}{path}"
        form = _opened(pages, mend, came)
        assert form["back"] == f"{job}{path}"
    assert _opened(pages, mend, f"{pages.address}/jobs/999/readings")["back"] == f"{job}/readings"
    assert _opened(pages, mend, "https://example.org/x")["back"] == f"{job}/readings"
    fields = {**_opened(pages, mend, f"{pages.address}{job}/history?entry=cold-1"), "reason": "slip"}
    answer = pages.client.post(mend, data=fields)
    assert answer.headers["location"].startswith(f"{job}/history?entry=correction-")
    fields["back"] = "//example.org/"
    assert pages.client.post(mend, data={**fields, "entry_id": "c-2"}).headers["location"].startswith(job)


def _opened(pages: Pages, mend: str, came: str) -> dict[str, str]:
    from web_world import Html

    answer = pages.client.get(mend, headers={"referer": came})
    return dict(Html(answer.text).form("mend").fields)


def test_a_mend_without_its_reason_is_told_so_beside_the_field_and_keeps_what_was_typed(pages: Pages) -> None:
    job = pages.begin("cold-1")
    mend = f"{job}/entries/cold-1/mend"
    assert not re.search(r'<input[^>]*name="reason"[^>]* required', pages.get(mend).html.source)
    page = pages.send(mend, "mend", value="1.4", reason=" ")
    assert page.status == 422
    assert "“What was wrong” is empty. Say it in a few words" in page.text
    assert 'id="mend-reason-problem"' in page.html.source
    assert page.html.form("mend").fields["value"] == "1.4"
    assert "correction" not in [kind for kind, _ in pages.entries(job)]


def test_a_withdrawal_without_its_reason_leaves_the_other_form_filled(pages: Pages) -> None:
    job = pages.begin("cold-1")
    page = pages.send(f"{job}/entries/cold-1/mend", "withdraw")
    assert page.status == 422
    assert page.html.form("mend").fields["value"] == "1.80"


@pytest.mark.parametrize(
    ("turns", "shown"),
    [
        ("-1 3/16 turn", ("anticlockwise", "1", "3/16")),
        ("90 deg", ("clockwise", "", "1/4")),
        ("0.3 turn", ("clockwise", "0.3", "")),
        ("0 turn", ("clockwise", "", "0")),
    ],
)
def test_a_move_of_the_screw_is_laid_open_in_sixteenths(
    pages: Pages, turns: str, shown: tuple[str, str, str]
) -> None:
    job = pages.begin()
    mend = _mend_of(pages, job, "move", {"part": "mixture_screw", "turns": turns})
    fields = pages.get(mend).html.form("mend").fields
    assert tuple(fields.get(f"turns-{name}", "") for name in ("way", "whole", "part")) == shown
    pages.send(mend, "mend", reason="looked at again")
    assert parse(_newest(pages, job)["turns"], "angle").value == pytest.approx(parse(turns, "angle").value)


def test_what_the_form_has_no_field_for_stays_as_it_was(pages: Pages) -> None:
    job = pages.begin()
    rows = {"file": "drive.csv", "sha256": "0" * 64, "rows": "2 to 40"}
    content = {"what": "system_pressure", "value": "4.9 bar", "who": "Ines", **rows}
    content |= {"conditions": {"ambient_temperature": "20 degC"}}
    mend = _mend_of(pages, job, "reading", content)
    pages.send(mend, "mend", value="4.8", reason="misread")
    new = _newest(pages, job)
    assert {name: new.get(name) for name in content} == {**content, "value": "4.8 bar"}


def test_repeated_readings_are_laid_open_one_by_one(pages: Pages) -> None:
    job = pages.begin()
    mend = _mend_of(pages, job, "reading", {"what": "system_pressure", "values": ["4.9 bar", "5.0 bar"]})
    pages.send(mend, "mend", values__2="4.95 bar", reason="misread")
    assert _newest(pages, job)["values"] == ["4.9 bar", "4.95 bar"]
