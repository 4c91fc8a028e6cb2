"""``evenpour serve``: on this machine alone, until it is ended; the demo says where its pages are."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from cli_world import Shop, shop
from evenpour.web.serving import address_of, bound

__all__ = ["shop"]


def test_the_pages_answer_until_they_are_ended_and_keep_what_was_entered(tmp_path: Path) -> None:
    environment = {**os.environ, "EVENPOUR_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-m", "evenpour", "serve", "--port", str(free_port())]
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        said = running.stdout.readline()
        address = re.search(re.escape("http://127.0.0.1") + r":\d+", said)
        assert address is not None, said
        here = {"origin": address[0]}
        with httpx.Client(base_url=address[0], headers=here, timeout=30.0) as client:
            assert "The book is empty" in client.get("/").text
            begun = client.post("/jobs/new", data={"sheet": "flat-six", "car": "Red one", "entry_id": "a"})
            assert begun.headers["location"] == "/jobs/1"
        running.send_signal(signal.SIGINT)
        rest, _ = running.communicate(timeout=20)
        assert (running.returncode, rest) == (0, "Ended. Everything entered is kept.\n")
    listed = subprocess.run(
        [sys.executable, "-m", "evenpour", "job", "list"], env=environment, capture_output=True, check=True
    )
    assert b"Red one" in listed.stdout


def free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


def test_sharing_is_refused_while_it_is_not_there(shop: Shop) -> None:
    assert "not there yet" in shop.refused("serve --share")


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
