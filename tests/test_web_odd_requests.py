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
