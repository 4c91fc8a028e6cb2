"""``evenpour sheet`` and ``evenpour schema``."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from cli_world import DEMO, Shop, shop, validator
from evenpour import data
from evenpour.data import read_toml, sheet_names, shipped_text
from evenpour.job.schemas import schema_names

__all__ = ["shop"]


def test_the_shipped_sheets_are_listed_then_ones_own(shop: Shop) -> None:
    listed = shop.answer("sheets", "sheet list", status=0)["sheets"]
    assert {one["sheet"] for one in listed} == set(sheet_names())
    assert shop("sheet copy flat-six my-six").status == 0
    assert shop.answer("sheets", "sheet list")["sheets"][-1] == {
        "sheet": "my-six", "title": "Flat six, 2.7 l", "origin": "your own",
    }  # fmt: skip
    assert shop("sheet list").out.splitlines()[-1].split() == [
        "my-six",
        "Flat",
        "six,",
        "2.7",
        "l",
        "your",
        "own",
    ]


@pytest.mark.parametrize("name", sheet_names())
@pytest.mark.parametrize("units", ["metric", "us", "imperial"])
def test_every_sheet_is_shown_with_the_source_of_every_figure(shop: Shop, name: str, units: str) -> None:
    told = shop.answer("sheet", f"sheet show {name} --units {units}", status=0)
    assert all(one["origin"] for one in (*told["values"], *told["limits"]))
    out = shop(f"sheet show {name} --units {units}").out
    assert out.count("\n[a] ") == 1
    assert "your engine's manual decides" in out


def test_a_sheet_in_us_units_speaks_as_people_there_do(shop: Shop) -> None:
    told = shop.answer("sheet", "sheet show flat-six --units us")
    shown = {one["name"]: one["shown"] for one in told["values"]}
    assert shown["displacement"] == "2.7 l"  # nobody gives it in fluid ounces
    assert shown["dwell"] == "38 deg"  # nor a dwell angle in turns
    assert shown["catch_amount_full"].endswith("US fl oz")
    assert shown["oil_temperature_warm"] == "176 °F"


def test_a_copy_is_checked_and_used_by_name_and_by_path(shop: Shop, tmp_path: Path) -> None:
    target = tmp_path / "mine.toml"
    said = shop("sheet copy flat-six mine -o", str(target))
    assert said.status == 0
    assert f"evenpour sheet check {target}" in " ".join(said.out.split())
    answer = shop.answer("sheet-check", "sheet check", str(target), status=0)
    assert answer["sheet"] == "mine"
    assert "system_pressure" in answer["unchecked"]
    written = shop.answer("written", "sheet copy flat-six my-six")
    assert Path(written["file"]) == shop.home / "sheets" / "my-six.toml"
    assert written["unchecked"] == answer["unchecked"]
    assert shop("job new my-six").status == 0
    assert shop("job new", str(target)).status == 0
    assert shop("path 1").status == 0
    assert shop.answer("path", "path 2")["sheet"] == "mine"


def test_a_copy_overwrites_nothing_and_takes_no_shipped_name(shop: Shop) -> None:
    shop("sheet copy flat-six my-six")
    mine = shop.home / "sheets" / "my-six.toml"
    before = mine.read_bytes()
    assert shop("sheet copy inline-four my-six").status == 2
    assert "is a shipped sheet's name" in shop.bad("sheet copy flat-six inline-four")
    assert mine.read_bytes() == before
    assert sorted(path.name for path in mine.parent.iterdir()) == ["my-six.toml"]


def test_a_sheet_with_mistakes_is_told_all_of_them_with_their_lines(shop: Shop, tmp_path: Path) -> None:
    text = shipped_text("sheets/flat-six.toml").replace('low = "4.7 bar"', 'low = "4.7 ml"')
    text = text.replace('displacement = { is = "2.7 l"', 'displacment = { is = "2.7 l"')
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    told = shop.bad("sheet check", str(path)).splitlines()
    assert len(told) == 3  # the name that is missing now, the misspelt one, and the limit
    assert all(line.startswith("mine.toml, line ") for line in told)
    assert "Did you mean displacement" in told[1]


@pytest.mark.parametrize("command", ["show", "check"])
def test_a_sheet_that_is_not_there_is_bad_input(shop: Shop, command: str) -> None:
    assert "Did you mean flat-six" in shop.bad(f"sheet {command} flat-sex")
    assert "is not there" in shop.bad(f"sheet {command} mine/six.toml")


def test_every_schema_is_listed_and_sound(shop: Shop) -> None:
    listed = json.loads(shop("schema --json").out)["schemas"]
    assert listed == schema_names()
    out = shop("schema").out
    for name in listed:
        assert name in out
        said = shop(f"schema {name}")
        assert (said.status, said.err) == (0, "")
        Draft202012Validator.check_schema(json.loads(said.out))


def test_the_printed_schema_is_the_one_answers_are_held_to(shop: Shop) -> None:
    assert json.loads(shop("schema judge").out) == validator("judge").schema


def test_a_schema_nobody_has_is_bad_input(shop: Shop) -> None:
    assert "Did you mean judge?" in shop.bad("schema juge")


@pytest.mark.parametrize("name", sheet_names())
def test_a_shipped_sheet_fits_its_schema(name: str) -> None:
    file = f"sheets/{name}.toml"
    validator("sheet-file").validate(read_toml(shipped_text(file), file).values)


def test_the_demo_job_fits_the_schema_of_job_files() -> None:
    values = read_toml(DEMO.read_text(encoding="utf-8"), "demo.toml").values
    validator("job-file").validate(json.loads(json.dumps(values, default=str)))


def test_an_answer_that_lacks_a_key_fails_its_schema(shop: Shop) -> None:
    answer = shop.answer("catch", "catch", str(DEMO))
    del answer["even_by_run"]
    assert not validator("catch").is_valid(answer)
    assert data.sheet_names()
