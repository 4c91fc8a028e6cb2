"""What no form of the pages sends is answered in words all the same: never as a fault of the tool."""

from __future__ import annotations

import pytest

from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]
NUMBERS = ("99999999999999999999", "9223372036854775807", "9" * 40, "9" * 41, "9" * 5000, "²", "-1")


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("page", ["", "/enter", "/news", "/traces"])
def test_a_number_that_no_job_has_is_a_page_that_is_not_there(pages: Pages, number: str, page: str) -> None:
    got = pages.get(f"/jobs/{number}{page}")
    assert (got.status, "There is no such page" in got.text) == (404, True)
    sent = pages.client.post(f"/jobs/{number}/enter", data={"form": "note", "kind": "note", "text": "x"})
    assert sent.status_code == 404


ODD = ("²", "9" * 5000, "1/" + "9" * 5000, "1e" + "9" * 5000, "nan", "x")


@pytest.mark.parametrize("odd", ODD)
def test_what_is_no_number_is_refused_in_words_wherever_a_number_is_meant(pages: Pages, odd: str) -> None:
    job = pages.begin("injectors-full-1", warned=True)
    gauge = {"id": "odd gauge", "kind": "pressure gauge", "range": "6 bar", "class": 1.0}
    pages.store.append(int(job[6:]), "instrument", gauge, id="gauge-9")
    before = len(pages.entries(job))
    for path, form, field in (
        ("/enter?part=injector", "did", "cylinder"),
        ("/enter", "gauge", "class"),
        ("/catch", "catch", "ports"),
        ("/read/system_pressure", "read-system_pressure", "value"),
        ("/entries/gauge-9/mend", "mend", "class"),
    ):
        fields = pages.get(job + path).html.form(form).fields
        assert field in fields, (form, field)
        sent = {"part": "injector", "action": "replaced", "id": "another", "reason": "slip"}
        answer = pages.client.post(job + path, data={**fields, **sent, field: odd})
        assert answer.status_code == 422, (path, field)
    assert len(pages.entries(job)) == before


def test_an_entry_of_every_kind_is_laid_open_and_mended_whatever_stands_in_its_words(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    number = int(job[6:])
    for text in ("saw 3 leaks", "81 000 km", "at 4 ²", "17 degC"):
        pages.store.append(number, "note", {"text": text})
    of_kind = {one.kind: one.id for one in pages.store.entries(number)}
    notes = [one.id for one in pages.store.entries(number) if one.kind == "note"]
    for entry in dict.fromkeys([*of_kind.values(), *notes]):
        mend = f"{job}/entries/{entry}/mend"
        assert pages.get(mend).status == 200, entry
        page = pages.send(mend, "mend", reason="read again")
        assert page.status == 200, (entry, page.text)
