"""``evenpour whatif``: what it prints, what it answers with ``--json``, its drawing and its complaints."""

from __future__ import annotations

from pathlib import Path

import pytest

from cli_world import Shop, shop

__all__ = ["shop"]

QUARTER = "whatif --sheet flat-six --set mixture_screw=+0.25turn"


@pytest.mark.parametrize(
    "settings",
    ["", "--set mixture_screw=+0.25turn", "--set altitude=2000m", "--set 'injector_restricted[4]=0.5'"],
)
def test_the_answer_keeps_to_its_schema(shop: Shop, settings: str) -> None:
    found = shop.answer("whatif", f"whatif --sheet flat-six {settings}", status=0)
    assert found["sheet"] == "flat-six"
    assert {"readings", "curve", "states", "settings", "groups", "summary", "notice"} <= set(found)
    assert {"lambda", "healthy", "low", "high", "air_g_per_s"} <= set(found["curve"])
    assert len(found["settings"]) == settings.count("--set")


def test_the_table_says_what_was_set_what_changed_and_what_is_outside(shop: Shop) -> None:
    said = shop(QUARTER)
    assert said.status == 0
    assert "Set: mixture screw" in said.out
    assert "Warm idle: runs at 910 rpm, lambda 0.8" in said.out
    for title in ("Supply", "Pressures", "Catches, in a minute", "Idle", "Road", "Spark and cylinders"):
        assert f"\n{title}\n" in said.out
    idle = said.out.partition("\nIdle\n")[2].partition("\nRoad\n")[0].splitlines()
    marks = [line[0] for line in idle[1:] if line[:1] in ("*", "!", " ") and line[3:4].strip()]
    assert marks.index(" ") > 3  # what changed comes first
    assert "OUTSIDE" in said.out
    assert said.out.rstrip().endswith("your engine's manual decides.")


def test_cylinders_that_read_alike_share_a_line(shop: Shop) -> None:
    said = shop("whatif --sheet flat-six --set 'injector_opens_high[4]=0.5'")
    bench = said.out.partition("on the bench\n")[2].partition("\nIntake air\n")[0]
    opens = [line for line in bench.splitlines() if line[3:].startswith("Opening pressure ")]
    assert [line[0] for line in opens] == ["!", "!", " "]  # cylinder 4, the spread, all others
    assert "[4]" in bench
    assert "[1 to 3, 5 and" in bench  # how a line breaks depends on the widest figure of its table


def test_units_are_as_asked_for(shop: Shop) -> None:
    said = shop("whatif --sheet flat-six --set altitude=2000m --units us")
    assert "psi" in said.out
    assert " bar" not in said.out.partition("\nSupply\n")[2].partition("\nPlate")[0]


def test_the_drawing_is_written_to_a_file(shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "lambda.svg"
    said = shop(QUARTER, "--chart", str(file))
    assert said.status == 0
    assert file.read_text(encoding="utf-8").startswith("<svg")
    assert str(file) in said.out
    assert "is no .svg file" in shop.bad(QUARTER, "--chart", str(tmp_path / "lambda.png"))
    assert "not there" in shop.bad(QUARTER, "--chart", str(tmp_path / "nowhere" / "lambda.svg"))


def test_what_can_be_set_is_listed(shop: Shop) -> None:
    said = shop("whatif --sheet flat-six --list")
    assert said.status == 0
    assert "injector_restricted[k]" in said.out
    assert "frequency_valve_rich" not in said.out
    assert "frequency_valve_rich" in shop("whatif --sheet flat-six-oxygen --list").out
    listed = shop.answer("whatif-settings", "whatif --sheet flat-six --list", status=0)["settings"]
    screw = next(one for one in listed if one["name"] == "mixture_screw")
    assert (screw["unit"], screw["low"], screw["high"], screw["usual"]) == ("turn", -1.0, 1.0, 0.0)


def test_bad_settings_are_all_named(shop: Shop) -> None:
    err = shop.bad(
        "whatif --sheet flat-six --set altitude=2000 --set frequency_valve_rich=1 --set nonsense=1"
    )
    assert err.count("\n") == 3
    for words in (
        "altitude '2000' has no unit",
        "flat-six has no frequency valve",
        "'nonsense' is no setting",
    ):
        assert words in err


def test_a_sheet_must_be_named(shop: Shop) -> None:
    assert "--sheet" in shop.bad("whatif")
    assert "is no sheet" in shop.bad("whatif --sheet flat-seven")
