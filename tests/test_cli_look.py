"""How printed answers look: plain words, every figure with its unit, at any width, no colour in a pipe."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from cli_world import DEMO, Shop, shop
from evenpour.cli import show
from evenpour.job.wording import likelihood

__all__ = ["shop"]
SHOWN = {
    "judge": ["judge", str(DEMO)],
    "judge us": ["judge", str(DEMO), "--units", "us"],
    "path": ["path", str(DEMO)],
    "catch": ["catch", str(DEMO)],
    "gas": ["gas", "--co", "2", "--co2", "12.4", "--o2", "2.1", "--hc", "240", "--fuel", "E5"],
    "display": ["gas", "--meter", "14.1 AFR", "--fuel", "E85"],
    "step": ["path", str(DEMO), "--step", "onset_lines"],
    "journal": ["job", "show", str(DEMO)],
    "sheets": ["sheet", "list"],
    "sheet": ["sheet", "show", "flat-six"],
    "check": ["sheet", "check", "flat-six"],
}
# Words of statistics and of programs that nobody at the car should have to know.
JARGON = re.compile(
    r"\b(p_within|p_off|p_even|null|None|True|False|dof|posterior|prior|likelihood|sigma|standard deviation|"
    r"uncertainty|probability|hypothesis|cannot_tell|idle_warm|nan|inf)\b"
)


@pytest.fixture(params=SHOWN)
def words(request: pytest.FixtureRequest) -> list[str]:
    return SHOWN[request.param]


@pytest.mark.parametrize("columns", [20, 40, 60, 80, 200])
def test_nothing_breaks_at_any_width_and_no_line_is_wider(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, words: list[str], columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    said = shop("", *words)
    assert (said.status in (0, 1), said.err) == (True, "")
    widest = max(columns, show.NARROWEST)
    assert [line for line in said.out.splitlines() if len(line) > widest] == []


def test_no_line_ends_in_blanks_and_none_holds_a_sign_for_colour(shop: Shop, words: list[str]) -> None:
    said = shop("", *words)
    assert [line for line in said.out.splitlines() if line != line.rstrip()] == []
    assert "\x1b" not in said.out
    assert "\N{NO-BREAK SPACE}" not in said.out


def test_the_words_are_those_of_a_workshop(shop: Shop, words: list[str]) -> None:
    assert JARGON.findall(shop("", *words).out) == []


def test_k_is_named_only_where_it_is_explained(shop: Shop, words: list[str]) -> None:
    flat = " ".join(shop("", *words).out.split())
    assert flat.count("k = 2") == flat.count(
        "about 19 times in 20 the truth lies that close or closer (k = 2; more for few repeats)"
    )
    assert flat.count("k = 2") <= 1
    assert ("±" in flat) <= ("about 19 times in 20 the truth lies that close or closer" in flat)


def test_a_figure_is_never_parted_from_its_unit(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "90")
    for words in (["judge", str(DEMO)], ["judge", str(DEMO), "--units", "us"], ["catch", str(DEMO)]):
        for line in shop("", *words).out.splitlines():
            assert not re.match(r"\s+(bar|psi|ml|rpm|%|°C|°F|fl oz)\b", line), line
            assert not line.endswith("±"), line


def test_every_judged_figure_has_its_unit(shop: Shop) -> None:
    rows = shop.answer("judge", "judge", str(DEMO))["readings"]
    figures = [row for row in rows if isinstance(row["value"], float)]
    assert len(figures) > 30
    for row in figures:
        assert re.search(r"[A-Za-z°%Ω]", row["shown"]), row["shown"]
        if row["limit"]:
            assert re.search(
                r"[A-Za-z°%Ω]",
                row["limit"]["words"].replace("at least", "").replace("at most", "").replace("to", ""),
            )


def test_every_caught_amount_has_its_unit(shop: Shop) -> None:
    for units in ("", "--units us"):
        for run in shop.answer("catch", f"catch {units}", str(DEMO))["runs"]:
            assert all(re.search(r"\d ?(ml|US fl oz)$", amount) for amount in run["shown"])


def test_a_source_is_said_once_below_the_table(shop: Shop) -> None:
    out = shop("judge", str(DEMO)).out
    assert out.count("typical value, from memory, not verified") == 1
    assert "3.60 ± 0.08 bar" in out
    assert re.search(r"3\.40 to 3\.80 bar \[b\]", out)
    assert "\n[b] typical value, from memory, not verified\n" in out


def test_the_same_remark_about_several_cylinders_is_made_once(shop: Shop) -> None:
    out = " ".join(shop("judge", str(DEMO)).out.split())
    assert out.count("not stated: how far below its opening pressure") == 1
    assert "cylinders 1, 2, 3, 4, 5, 6: not stated: how far below its opening pressure" in out


def test_the_sheets_own_warning_stands_at_the_foot_of_every_answer(shop: Shop) -> None:
    for words in (
        ["judge", str(DEMO)],
        ["path", str(DEMO)],
        ["catch", str(DEMO)],
        ["sheet", "show", "flat-six"],
    ):
        out = shop("", *words).out
        assert out.endswith("\nTypical values from common practice; your engine's manual decides.\n")
    shop.begin()
    assert shop("add 1 system 4.9 bar").out.endswith("your engine's manual decides.\n")


@pytest.mark.parametrize(
    "words",
    [["--help"], *([name, "--help"] for name in ("add", "judge", "path", "catch", "gas"))],
    ids=" ".join,
)
def test_the_help_is_whole_and_fits_eighty_columns(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, words: list[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    said = shop("", *words)
    assert said.status == 0
    assert [line for line in said.out.splitlines() if len(line) > 80] == []
    assert [line for line in said.out.splitlines()[1:] if line.endswith("...")] == []


@pytest.mark.parametrize("group", ["job", "sheet"])
def test_the_help_of_a_group_cuts_no_line_short(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, group: str
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert "..." not in shop(f"{group} --help").out.partition("\n")[2]


def test_a_terminal_without_a_sign_gets_question_marks_and_no_failure() -> None:
    environment = {**os.environ, "PYTHONIOENCODING": "latin-1"}  # has ± and °, but no Ω
    command = [sys.executable, "-m", "evenpour", "judge", str(DEMO)]
    run = subprocess.run(command, env=environment, capture_output=True, encoding="latin-1", check=False)
    assert (run.returncode in (0, 1), run.stderr) == (True, "")
    assert "21.5 ± 0.3 ?" in run.stdout
    assert "4.95 ± 0.08 bar" in run.stdout


def test_a_table_gives_way_where_it_is_widest(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    show.table([["1", "a word " * 12, "open"]], ["no", "what", "state"])
    lines = capsys.readouterr().out.splitlines()
    assert [len(line) <= 40 for line in lines] == [True] * len(lines)
    assert lines[0].split() == ["no", "what", "state"]
    assert lines[1].startswith("1   a word")
    assert lines[1].endswith("  open")
    assert all(re.match(r"    (a|word)\b", line) for line in lines[2:])


def test_a_table_without_rows_prints_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    show.table([], ["no", "what"])
    assert capsys.readouterr().out == ""


def test_a_probability_never_claims_to_be_certain() -> None:
    assert [likelihood(p) for p in (None, 0.0, 0.004, 0.08, 0.5, 0.996, 1.0)] == [
        "", "under 1 %", "under 1 %", "8 %", "50 %", "over 99 %", "over 99 %",
    ]  # fmt: skip


def test_more_sources_than_letters_still_have_marks_of_their_own() -> None:
    sources = show.Sources()
    assert len({sources.mark(f"page {number}") for number in range(60)}) == 60
    assert sources.mark("page 0") == "[a]"
    assert Path(DEMO).is_file()
