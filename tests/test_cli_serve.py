"""``evenpour serve``: on this machine alone, until it is ended; the demo says where its pages are."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from cli_world import Shop, shop
from evenpour.web.serving import address_of, bound

__all__ = ["shop"]

OWN = re.escape("http://127.0.0.1") + r":\d+"


@contextmanager
def started(command: list[str], environment: dict[str, str]) -> Iterator[subprocess.Popen[str]]:
    """The command at work; ended for good when the test is over, also when it fails."""
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as running:
        try:
            yield running
        finally:
            if running.poll() is None:
                running.kill()


def test_the_pages_answer_until_they_are_ended_and_keep_what_was_entered(tmp_path: Path) -> None:
    environment = {**os.environ, "EVENPOUR_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-m", "evenpour", "serve", "--port", str(free_port())]
    with started(command, environment) as running:
        assert running.stdout is not None
        told = running.stdout.readline()
        address = re.search(re.escape("http://127.0.0.1") + r":\d+", told)
        assert address is not None, told
        here = {"origin": address[0]}
        with httpx.Client(base_url=address[0], headers=here, timeout=30.0) as client:
            assert "The book is empty" in client.get("/").text
            said = {"sheet": "flat-six", "car": "Red one", "who": "Ines", "entry_id": "a"}
            begun = client.post("/jobs/new", data=said)
            assert begun.headers["location"] == "/jobs/1"
        running.send_signal(signal.SIGINT)
        rest = running.stdout.read()  # not communicate: it would lose what readline has read ahead
        assert (running.wait(timeout=20), rest) == (0, "Ended. Everything entered is kept.\n")
    listed = subprocess.run(
        [sys.executable, "-m", "evenpour", "job", "list"], env=environment, capture_output=True, check=True
    )
    assert b"Red one" in listed.stdout


def free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


def test_shared_pages_name_their_address_a_code_and_what_it_means(tmp_path: Path) -> None:
    environment = {**os.environ, "EVENPOUR_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-m", "evenpour", "serve", "--share", "--address", "127.0.0.1"]
    with started(command, environment) as running:
        assert running.stdout is not None
        own = found(f"({OWN})/", running.stdout.readline())
        shared = found(f"({OWN})/", running.stdout.readline())
        code = found(
            r"Pairing code: (\d{4} \d{4})  \(for one phone, within 10 minutes\)", running.stdout.readline()
        )
        with httpx.Client(base_url=own) as machine, httpx.Client(base_url=shared) as phone:
            assert code in machine.get("/sharing").text
            assert phone.get("/").status_code == 403
            answer = phone.post("/pair", data={"code": code, "name": "Old one"}, headers={"origin": shared})
            assert answer.status_code == 303
            phone.cookies = answer.cookies
            assert "bay book" in phone.get("/").text
        running.send_signal(signal.SIGINT)
        rest = running.stdout.read()  # not communicate: it would lose what readline has read ahead
        assert running.wait(timeout=20) == 0
        assert "can read along" in " ".join(rest.split())
        assert rest.endswith("Ended. Everything entered is kept; paired phones stay paired.\n")


def found(pattern: str, line: str) -> str:
    match = re.search(pattern, line)
    assert match is not None, line
    return match[1]


@pytest.mark.parametrize("more", ["--https", "--address 192.168.1.20"])
def test_what_belongs_to_sharing_is_bad_input_without_it(shop: Shop, more: str) -> None:
    assert shop(f"serve {more}").status == 2


def test_sharing_is_refused_at_an_address_this_machine_does_not_have(shop: Shop) -> None:
    assert "does not have the address 192.0.2.77" in shop.refused("serve --share --address 192.0.2.77")


def test_a_port_that_is_taken_is_refused_by_its_number(shop: Shop) -> None:
    with bound(0) as taken:
        number = taken.getsockname()[1]
        assert f"Port {number} cannot be used" in shop.refused(f"serve --port {number}")


def test_without_a_port_another_is_taken_where_the_usual_one_is_in_use() -> None:
    with bound() as first, bound() as second:
        assert address_of(first) != address_of(second)
        for opened in (first, second):
            assert opened.getsockname()[0] == "127.0.0.1"


@pytest.mark.parametrize("port", ["0", "70000", "x"])
def test_a_port_that_cannot_be_is_bad_input(shop: Shop, port: str) -> None:
    shop.capsys.readouterr()
    assert shop(f"serve --port {port}").status == 2
