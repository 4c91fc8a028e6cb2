"""The conditions of a reading in the words of the trade, wherever a reading is told."""

from __future__ import annotations

import pytest

from evenpour.job.catalogue import catalogue
from evenpour.job.condition_words import _SAID, one_stated, stated_words
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]


@pytest.mark.parametrize("name", sorted(catalogue().kinds))
def test_every_condition_and_each_of_its_words_is_said_plainly(name: str) -> None:
    kind = catalogue().kinds[name]
    for word in kind.choices if name != "fuel" else ():
        assert word in _SAID[name]
        assert "_" not in one_stated(name, word)
    if kind.dimension is not None:
        assert _SAID[name][""].count("{}") == 1
        assert "12 s" in one_stated(name, "12 s")


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("where", "distributor_return", "at the distributor return"),
        ("where", "bench", "on the bench"),
        ("where", "under the tank", "under the tank"),
        ("load", "rested", "battery rested"),
        ("regulator_temperature", "18 degC", "regulator at 18 degC"),
        ("colour", "light_blue", "colour light blue"),  # of a file by another hand
    ],
)
def test_a_condition_in_words(name: str, text: str, said: str) -> None:
    assert one_stated(name, text) == said


def test_conditions_are_told_one_after_the_other() -> None:
    assert stated_words({"valve": "shut", "after": "10 min"}) == "gauge valve shut, after 10 min"
    assert stated_words({}) == ""


def test_the_record_and_the_pages_say_where_and_how_a_reading_was_taken(pages: Pages) -> None:
    job = pages.begin("")
    readings = pages.get(f"{job}/readings").text
    record = pages.get(f"{job}/record.html").html.source.replace("\u00a0", " ")
    for said in ("at the distributor return", "battery rested"):
        assert said in readings
        assert said in record
    assert "load rested" not in record
    assert "where distributor" not in record
