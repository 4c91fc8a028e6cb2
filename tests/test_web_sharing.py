"""On the local network only paired phones get in, and there they may do what a mechanic may, no more."""

from __future__ import annotations

import itertools
import os
import re
import ssl
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import FieldProblem, Refused
from evenpour.job.store import Store
from evenpour.web import phones as phones_module
from evenpour.web.certificate import certificate_for
from evenpour.web.gate import COOKIE
from evenpour.web.local_network import is_near, local_address
from evenpour.web.pairing_codes import HOLDS, MOST_WRONG, PairingCodes
from evenpour.web.phones import Phones
from evenpour.web.qr import QUIET, drawn, modules, printed
from evenpour.web.routes import pages
from sharing_world import Workshop, workshop

WRONG = "00000000"


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workshop]:
    """One workshop with a job in it, for a module."""
    folder = tmp_path_factory.mktemp("workshop")
    with Store(folder / "jobs.db") as store, workshop(store, folder) as opened:
        store.new_job({"sheet": "flat-six", "car": "Blue estate"})
        yield opened


@pytest.fixture
def opened(shared: Workshop) -> Workshop:
    """The same with a fresh code, whatever was tried before."""
    shared.sharing.codes.renew()
    return shared


def test_a_stranger_sees_the_page_that_asks_for_a_code_and_nothing_else(opened: Workshop) -> None:
    with opened.phone() as phone:
        told = set()
        paths = ["/", "/jobs/1", "/jobs/99", "/jobs/1/news", "/sharing", "/nowhere", "/static/start.js"]
        paths += [page.path.replace("{number:int}", "1") for page in pages()]
        for path in dict.fromkeys(paths):
            answer = phone.get(path, follow_redirects=True)
            assert answer.status_code == 403, path
            assert "Pair this phone" in answer.text
            assert "Blue estate" not in answer.text
            told.add(answer.text.replace(f'value="{path}"', ""))
        assert len(told) == 1  # no address answers otherwise than one that is not there
        assert phone.get("/static/page.css").status_code == 200
        assert phone.post("/jobs/1/enter", data={"kind": "note", "text": "x"}).status_code == 403
        assert phone.head("/jobs/1").status_code == 403
    assert len(opened.store.entries(1)) == 1


def test_a_phone_with_the_code_gets_in_and_goes_where_it_wanted(opened: Workshop) -> None:
    with opened.phone() as phone:
        link = opened.sharing.link(opened.sharing.codes.current())
        asked = phone.get(link)
        assert asked.status_code == 200
        assert f'value="{opened.code}"' in asked.text
        answer = phone.post("/pair", data={"code": opened.code, "name": "Bay phone", "go": "/jobs/1"})
        assert (answer.status_code, answer.headers["location"]) == (303, "/jobs/1")
        said = answer.headers["set-cookie"].lower()
        assert "httponly" in said
        assert "samesite=strict" in said
        assert "Blue estate" in phone.get("/jobs/1").text


@pytest.mark.parametrize("go", ["//evil.example.org", "https://example.org", "/\\evil.example.org", "x"])
def test_pairing_leads_nowhere_but_to_our_own_pages(opened: Workshop, go: str) -> None:
    with opened.phone() as phone:
        answer = phone.post("/pair", data={"code": opened.code, "name": "Bay phone", "go": go})
        assert answer.headers["location"] == "/"


def test_a_code_lets_one_phone_in(opened: Workshop) -> None:
    code = opened.code
    with opened.phone() as first, opened.phone() as second:
        assert first.post("/pair", data={"code": code, "name": "One"}).status_code == 303
        answer = second.post("/pair", data={"code": code, "name": "Two"})
        assert answer.status_code == 409
        assert "No pairing code holds now" in answer.text
        assert COOKIE not in second.cookies


def test_a_code_is_not_spent_on_a_phone_without_a_name(opened: Workshop) -> None:
    with opened.phone() as phone:
        answer = phone.post("/pair", data={"code": opened.code, "name": "  "})
        assert answer.status_code == 422
        assert 'id="pair-name-problem"' in answer.text
        assert phone.post("/pair", data={"code": opened.code, "name": "Bay"}).status_code == 303


def test_after_five_wrong_codes_the_right_one_is_wrong_too_until_the_machine_opens_anew(
    opened: Workshop,
) -> None:
    right = opened.code
    with opened.phone() as phone, opened.at_machine() as machine:
        for _ in range(MOST_WRONG):
            assert phone.post("/pair", data={"code": WRONG, "name": "Guess"}).status_code == 422
        answer = phone.post("/pair", data={"code": right, "name": "Guess"})
        assert answer.status_code == 409
        assert "Too many wrong codes" in answer.text
        assert "Five wrong codes were tried" in machine.get("/sharing").text
        machine.post("/sharing", data={"do": "new"})
        assert phone.post("/pair", data={"code": opened.code, "name": "Bay"}).status_code == 303


def test_a_phone_that_is_shown_out_gets_nothing_from_its_next_request_on(opened: Workshop) -> None:
    with opened.paired("Lost one") as lost, opened.paired("Kept one") as kept:
        assert lost.get("/jobs/1").status_code == 200
        with opened.at_machine() as machine:
            listed = machine.get("/sharing").text
            assert "Lost one" in listed
            key = next(one.key for one in opened.sharing.phones.all() if one.name == "Lost one")
            machine.post("/sharing", data={"do": "out", "phone": key})
            assert "Lost one" not in machine.get("/sharing").text
        assert lost.get("/jobs/1").status_code == 403
        sent = lost.post("/jobs/1/enter", data={"kind": "note", "text": "x"})
        assert sent.headers["evenpour-door"] == "closed"
        assert kept.get("/jobs/1").status_code == 200


def test_the_page_with_the_code_is_at_the_machine_alone(opened: Workshop) -> None:
    with opened.paired() as phone, opened.at_machine() as machine:
        assert phone.get("/sharing").status_code == 404
        assert phone.post("/sharing", data={"do": "new"}).status_code == 404
        assert 'href="/sharing"' not in phone.get("/").text
        page = machine.get("/sharing").text
        assert 'class="qr"' in page
        assert opened.shared in page
        assert "can read along" in page


def test_a_phone_is_not_told_what_only_a_terminal_can_do(opened: Workshop) -> None:
    with opened.phone() as phone, opened.at_machine() as machine:
        assert "--https" not in phone.get("/pair").text
        assert "can read along" in phone.get("/pair").text
        assert "--https" in machine.get("/sharing").text


def test_the_machine_itself_needs_no_pairing(opened: Workshop) -> None:
    with opened.at_machine() as machine:
        assert "Blue estate" in machine.get("/jobs/1").text


@pytest.mark.parametrize("host", ["evil.example.org", "localhost", "192.168.1.9", "127.0.0.1.example.org"])
def test_a_name_bent_to_the_shared_address_is_refused_even_for_a_paired_phone(
    opened: Workshop, host: str
) -> None:
    with opened.paired() as phone:
        assert phone.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("origin", ["http://example.org", "null", "MACHINE", "HTTPS"])
def test_another_site_cannot_enter_through_a_paired_phone(opened: Workshop, origin: str) -> None:
    said = {"MACHINE": opened.machine, "HTTPS": opened.shared.replace("http:", "https:")}.get(origin, origin)
    with opened.paired() as phone:
        answer = phone.post(
            "/jobs/1/enter", data={"form": "note", "kind": "note", "text": "x"}, headers={"origin": said}
        )
        assert answer.status_code == 403
        assert phone.post("/pair", data={"code": "1"}, headers={"origin": said}).status_code == 403


def test_what_a_paired_phone_carries_is_kept_only_as_a_hash(opened: Workshop) -> None:
    with opened.paired("Hashed") as phone:
        token = phone.cookies[COOKIE]
    folder = opened.sharing.phones.folder
    for file in folder.iterdir():
        assert token not in file.name + file.read_text(encoding="utf-8")
        if os.name == "posix":
            assert file.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("cookie", ["", "x", "../../etc/passwd", "A" * 43, "A" * 5000])
def test_a_made_up_token_lets_nobody_in(opened: Workshop, cookie: str) -> None:
    with opened.phone(cookies={COOKIE: cookie}) as phone:
        assert phone.get("/").status_code == 403


def test_too_long_a_pairing_form_is_refused_unread(opened: Workshop) -> None:
    with opened.phone() as phone:
        assert phone.post("/pair", data={"code": "1" * 3000, "name": "x"}).status_code == 413


def test_shared_pages_carry_the_same_headers_but_what_browsers_only_heed_in_secret(opened: Workshop) -> None:
    with opened.phone() as phone:
        headers = phone.get("/").headers
        assert "script-src 'self'" in headers["content-security-policy"]
        assert headers["cache-control"] == "no-store"


# ---- codes ----


class Clock:
    """Seconds set by hand."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_a_code_runs_out_and_then_none_holds_until_somebody_looks() -> None:
    clock = Clock()
    codes = PairingCodes(clock)
    first = codes.current()
    assert first is not None
    clock.now += HOLDS + 1
    with pytest.raises(Refused, match="No pairing code holds"):
        codes.spend(first.digits)
    second = codes.current()
    assert second is not None
    assert second.digits != first.digits
    codes.spend(second.shown)


def test_wrong_tries_are_counted_over_several_codes() -> None:
    clock = Clock()
    codes = PairingCodes(clock)
    for _ in range(MOST_WRONG):
        assert codes.current() is not None
        with pytest.raises(FieldProblem, match="not the one"):
            codes.spend(WRONG)
        clock.now += HOLDS + 1
    assert codes.current() is None
    codes.renew()
    assert codes.current() is not None


@given(st.text(max_size=30).filter(lambda text: len("".join(text.replace("-", " ").split())) != 8))
def test_what_is_no_code_at_all_counts_as_no_guess(text: str) -> None:
    codes = PairingCodes()
    code = codes.renew()
    for _ in range(MOST_WRONG + 1):
        with pytest.raises(FieldProblem, match="no pairing code"):
            codes.spend(text)
    codes.spend(code.digits)


# ---- phones ----


def test_a_phone_not_seen_for_long_is_forgotten(tmp_path: Path) -> None:
    phones = Phones(tmp_path)
    token = phones.pair("Old one")
    (file,) = tmp_path.iterdir()
    assert phones.known(token)
    long_ago = time.time() - phones_module.FORGOTTEN - 60
    os.utime(file, (long_ago, long_ago))
    assert not phones.known(token)
    assert phones.all() == ()


def test_being_seen_is_noted(tmp_path: Path) -> None:
    phones = Phones(tmp_path)
    token = phones.pair("Bay phone")
    (file,) = tmp_path.iterdir()
    before = time.time() - 3600
    os.utime(file, (before, before))
    was = phones.all()[0].seen
    assert phones.known(token)
    assert phones.all()[0].seen > was
    assert Phones(tmp_path).known(token)  # as another server over the same home, or this one started anew


def test_no_more_phones_are_paired_than_one_can_look_through(tmp_path: Path) -> None:
    phones = Phones(tmp_path)
    for number in range(phones_module.MOST):
        phones.pair(f"Phone {number}")
    with pytest.raises(Refused, match="no more are taken"):
        phones.pair("One more")


# ---- the address, the certificate, the drawing ----


@pytest.mark.parametrize("address", ["8.8.8.8", "1.2.3.4"])
def test_an_address_the_internet_can_reach_is_not_shared(address: str) -> None:
    with pytest.raises(Refused, match="whole internet"):
        local_address(address)


@pytest.mark.parametrize("address", ["workshop", "192.168.1", "::1", ""])
def test_what_is_no_address_is_named(address: str) -> None:
    with pytest.raises(FieldProblem, match="no IPv4 address"):
        local_address(address)


def test_a_private_address_is_shared() -> None:
    assert local_address("192.168.1.20") == "192.168.1.20"
    assert is_near("10.1.2.3")
    assert is_near("127.0.0.1")
    assert not is_near("8.8.8.8")
    assert not is_near("somebody")


def test_without_a_network_nothing_is_shared(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evenpour.web.local_network._addresses", lambda: iter(["127.0.0.1"]))
    with pytest.raises(Refused, match="no network that could be shared on"):
        local_address()


def test_a_certificate_is_kept_and_renewed_for_another_address_or_when_it_runs_out(tmp_path: Path) -> None:
    first = certificate_for("192.168.1.20", tmp_path)
    assert certificate_for("192.168.1.20", tmp_path) == first
    assert re.fullmatch(r"([0-9A-F]{2}:){31}[0-9A-F]{2}", first.fingerprint)
    other = certificate_for("192.168.1.21", tmp_path)
    assert other.fingerprint != first.fingerprint
    later = certificate_for("192.168.1.21", tmp_path, now=other.until - timedelta(days=1))
    assert later.fingerprint != other.fingerprint
    assert later.until > other.until
    if os.name == "posix":
        assert later.key.stat().st_mode & 0o077 == 0
    assert later.until - datetime.now(UTC) < timedelta(days=2 * 365)


def test_a_certificate_whose_files_are_spoilt_is_made_anew(tmp_path: Path) -> None:
    first = certificate_for("192.168.1.20", tmp_path)
    first.key.write_text("spoilt", encoding="utf-8")
    second = certificate_for("192.168.1.20", tmp_path)
    assert second.fingerprint != first.fingerprint
    assert "PRIVATE" in second.key.read_text(encoding="utf-8")


def test_with_https_a_phone_that_trusts_the_certificate_pairs_and_its_cookie_never_leaves_it_in_the_open(
    tmp_path: Path,
) -> None:
    with Store(tmp_path / "jobs.db") as store, workshop(store, tmp_path, https=True) as encrypted:
        trusting = ssl.create_default_context(cafile=str(tmp_path / "certificate.pem"))
        with encrypted.phone(verify=trusting) as phone:
            assert "can read along" not in phone.get("/").text
            answer = phone.post("/pair", data={"code": encrypted.code, "name": "Bay"})
            assert "secure" in answer.headers["set-cookie"].lower()
            assert phone.get("/").status_code == 200
            assert phone.get("/").headers["cross-origin-opener-policy"] == "same-origin"
        with encrypted.at_machine() as machine:
            page = machine.get("/sharing").text
            assert encrypted.sharing.fingerprint in page
            assert "compare its SHA-256 fingerprint" in page
        with httpx.Client(base_url=encrypted.shared) as doubting, pytest.raises(httpx.ConnectError):
            doubting.get("/")


def test_the_drawing_of_a_code_has_the_marks_of_one_and_a_quiet_zone() -> None:
    squares = modules("http://127.0.0.1:8642/pair?code=12345678")
    size = len(squares)
    assert {len(row) for row in squares} == {size}
    assert (size - 2 * QUIET - 17) % 4 == 0  # a version has four more modules a side than the one before
    ring = [squares[row][column] for row, column in itertools.product(range(size), repeat=2)
            if min(row, column, size - 1 - row, size - 1 - column) < QUIET]  # fmt: skip
    assert not any(ring)
    corner = [row[QUIET : QUIET + 7] for row in squares[QUIET : QUIET + 7]]
    assert corner[0] == [True] * 7
    assert corner[1] == [True, *[False] * 5, True]
    assert corner[3] == [True, False, True, True, True, False, True]
    lines = printed("http://127.0.0.1:8642/").split("\n")
    assert all(line.startswith("\x1b[38;5;16m\x1b[48;5;231m") for line in lines)


def test_the_drawing_and_the_print_hold_the_same_squares() -> None:
    text = "http://127.0.0.1:8642/pair?code=12345678"
    squares = modules(text)
    dark = {
        (row, column) for row, line in enumerate(squares) for column, is_dark in enumerate(line) if is_dark
    }
    runs = re.findall(r"M(\d+) (\d+)h(\d+)v1h-\3z", str(drawn(text, "a code")))
    assert {(int(y), int(x) + more) for x, y, length in runs for more in range(int(length))} == dark
    halves = {" ": (False, False), "▀": (True, False), "▄": (False, True), "█": (True, True)}
    lines = [re.sub(r"\x1b\[[0-9;]*m", "", line) for line in printed(text).split("\n")]
    seen = {(2 * row + half, column) for row, line in enumerate(lines) for column, sign in enumerate(line)
            for half in (0, 1) if halves[sign][half]}  # fmt: skip
    assert seen == dark
