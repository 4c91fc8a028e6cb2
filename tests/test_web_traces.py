"""Recordings in the pages: a file is sent, its columns shown, what it tells is fetched and can be kept."""

from __future__ import annotations

import http.client
import os
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from evenpour.errors import FieldProblem
from evenpour.job.trace.page import take_in, understood, waiting_file
from test_web_pages import JARGON
from web_world import Html, Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]


@pytest.fixture(scope="module", autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What is kept beside the store is kept for this module alone, by the process beside the server too."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("EVENPOUR_HOME", str(tmp_path_factory.mktemp("home")))
        yield


LOGS = Path(__file__).parent / "traces"


def send(pages: Pages, job: str, name: str, kind: str = "holding") -> str:
    """The address of the recording's page."""
    with (LOGS / name).open("rb") as file:
        answer = pages.client.post(f"{job}/traces", data={"kind": kind}, files={"file": (name, file)})
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def told(pages: Pages, address: str) -> Html:
    """What is fetched for the page."""
    path, _, query = address.partition("?")
    while True:
        answer = pages.client.get(f"{path}/found?{query}", timeout=300.0)
        assert answer.status_code == 200
        if "data-again" not in answer.text:  # a busy machine is no failure
            break
    return Html(f"<main>{answer.text}</main>")


def test_a_recording_is_taken_its_columns_shown_at_once_and_the_rest_fetched(pages: Pages) -> None:
    job = pages.begin(warned=True)
    address = send(pages, job, "holding_three_heads.csv")
    page = pages.get(address)
    assert page.status == 200
    assert "Columns as understood" in page.text
    assert "It is being read and fitted" in page.text
    assert "/found?kind=holding" in page.html.source
    text = told(pages, address).text
    assert "What it tells" in text
    found = told(pages, address).source
    assert "<svg" in found
    assert len(found) + len(page.html.source) < 1_350_000  # and 150 kB of ours: below 1.5 MB
    assert "Keep 2 readings of it in the job" in text or "Keep 1 reading of it in the job" in text
    assert "The chart as a table" in text
    assert not JARGON.search(text)
    whole = pages.get(address).text
    assert "being read" not in whole
    assert "What it tells" in whole


def test_its_readings_are_kept_only_once_the_cautions_are_read(pages: Pages) -> None:
    job = pages.begin()
    address = send(pages, job, "holding_three_heads.csv")
    assert "once the cautions above are read" in told(pages, address).text
    nameless = pages.send(address, "cautions", who="")
    assert (nameless.status, "I have read" in nameless.text) == (422, True)
    read = pages.send(address, "cautions", who="Ines")
    assert (read.status, "I have read" in read.text) == (200, False)
    assert told(pages, address).form("trace")


def test_its_readings_are_kept_once_with_the_recording(pages: Pages) -> None:
    job = pages.begin(warned=True)
    address = send(pages, job, "holding_three_heads.csv")
    form = told(pages, address).form("trace")
    fields = {**form.fields, "who": "Ines"}
    for who in ("Ines", "Ray"):  # the second finds them kept
        answer = pages.client.post(form.action, data={**fields, "who": who})
        assert answer.status_code == 303, Html(answer.text).text
        assert re.fullmatch(rf"{job}/traces\?entry=trace-[0-9a-f]+#said", answer.headers["location"])
    kept = [content for kind, content in pages.entries(job) if kind == "reading"]
    assert kept
    assert {one["what"] for one in kept} == {"holding_pressure"}
    assert len({str(one["conditions"]) for one in kept}) == len(kept)  # each once
    assert all(one["file"] == "holding_three_heads.csv" and one["who"] == "Ines" for one in kept)
    page = pages.get(answer.headers["location"].partition("#")[0])
    assert "Mend or withdraw it" in page.text
    assert "Kept with this job" in page.text
    assert "<svg" in pages.client.get(f"{job}/traces/kept/0").text


def test_what_is_not_clear_is_asked_with_a_list_and_taken_as_chosen(pages: Pages) -> None:
    job = pages.begin(warned=True)
    address = send(pages, job, "two_pressures.csv")
    page = pages.get(address)
    assert page.status == 422
    assert "Not clear yet" in page.text
    assert "Choose it below" in page.text
    assert "--column" not in page.text
    assert "not clear: choose" in page.text
    form = page.html.forms[0]
    assert [one for one in form.choices["column.pressure"] if one] == ["1", "2", "3"]
    chosen = f"{address}&column.pressure=2&unit.pressure="
    assert pages.get(chosen).status == 200
    assert "What it tells" in told(pages, chosen).text


def test_what_is_no_recording_is_refused_in_words(pages: Pages) -> None:
    job = pages.begin()
    nothing = pages.client.post(f"{job}/traces", data={"kind": "holding"}, files={"file": ("", b"")})
    assert nothing.status_code == 422
    assert "Choose the recording first" in nothing.text
    noise = {"file": ("a.csv", b"\x89PNG\r\n" + b"\x00\xff" * 400)}
    picture = pages.client.post(f"{job}/traces", data={"kind": "holding"}, files=noise)
    page = pages.get(picture.headers["location"])
    assert page.status == 422
    assert "Columns as understood" in page.text
    strange = pages.client.post(f"{job}/traces", data={"kind": "x"}, files=noise)
    assert strange.status_code == 422
    assert pages.get(f"{job}/traces/0123456789abcdef?kind=holding").status == 422


def test_a_file_that_is_too_large_is_not_even_begun(pages: Pages) -> None:
    job = pages.begin()
    line = http.client.HTTPConnection(pages.address.removeprefix("http://"), timeout=20)
    line.putrequest("POST", f"{job}/traces")
    line.putheader("origin", pages.address)
    line.putheader("content-type", "multipart/form-data; boundary=x")
    line.putheader("content-length", "999999999999")
    line.endheaders()
    answer = line.getresponse()
    assert answer.status == 413
    said = Html(answer.read().decode()).text
    assert "At most 400 MB are taken here, and nothing was kept.Cut it to the part that matters" in said
    line.close()


def test_a_name_with_folders_stays_in_its_place_and_what_is_old_is_thrown_away(tmp_path: Path) -> None:
    with (LOGS / "two_pressures.csv").open("rb") as file:
        first = take_in(file, "../../etc/passwd")
    lies = waiting_file(first)
    assert lies.name == "passwd"
    assert lies.read_bytes() == (LOGS / "two_pressures.csv").read_bytes()
    old = time.time() - 2 * 24 * 3600.0
    os.utime(lies.parent, (old, old))
    with (LOGS / "two_pressures.csv").open("rb") as file:
        take_in(file, "...")
    with pytest.raises(FieldProblem, match="no longer here"):
        waiting_file(first)
    with pytest.raises(FieldProblem, match="no longer here"):
        waiting_file("../recordings")


def test_a_chosen_column_stays_chosen_where_another_is_not_clear() -> None:
    columns = understood(LOGS / "two_pressures.csv", "holding", {"time": "1"}, "metric")
    by_name = {role.name: role for role in columns.roles}
    assert (by_name["time"].column, by_name["pressure"].unclear) == (1, True)
    assert ("psi", "psi") in by_name["pressure"].units
