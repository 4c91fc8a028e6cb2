"""How the command line ends: which status, and on which stream the words are."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from types import ModuleType

import click
import pytest

from evenpour import __version__, cli
from evenpour.cli.commands import COMMANDS, Listed
from evenpour.errors import FieldProblem, Problems, Refused

Ends = Callable[[object], int]


@pytest.fixture
def ends(monkeypatch: pytest.MonkeyPatch) -> Ends:
    """Runs a command that returns the given value, or raises it if it is an exception."""

    def run(outcome: object) -> int:
        @click.command()
        def command() -> object:
            click.echo("the answer")
            if isinstance(outcome, BaseException):
                raise outcome
            return outcome

        module = ModuleType("invented_command")
        vars(module)["command"] = command
        monkeypatch.setitem(sys.modules, "invented_command", module)
        monkeypatch.setitem(COMMANDS, "invented", Listed("invented_command", "An invented one."))
        return cli.main(["invented"])

    return run


@pytest.mark.parametrize(("returned", "status"), [(None, 0), (0, 0), (1, 1)])
def test_a_command_returns_its_status(ends: Ends, returned: object, status: int) -> None:
    assert ends(returned) == status


def test_bad_input_ends_with_two_and_says_what_to_mend_on_standard_error(
    ends: Ends, capsys: pytest.CaptureFixture[str]
) -> None:
    problem = FieldProblem("pressure", "high", "is no pressure", allowed="0 to 20 bar")
    assert ends(problem) == 2
    said = capsys.readouterr()
    assert said.out == "the answer\n"
    assert said.err == "pressure 'high' is no pressure. Allowed: 0 to 20 bar.\n"


def test_every_problem_of_a_file_is_shown(ends: Ends, capsys: pytest.CaptureFixture[str]) -> None:
    found = [FieldProblem(name, None, "is missing") for name in ("title", "sheet")]
    assert ends(Problems(found)) == 2
    assert capsys.readouterr().err == "title is missing.\nsheet is missing.\n"


def test_a_refusal_ends_with_one_and_gives_its_reasons(
    ends: Ends, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ends(Refused("This job cannot be closed.", ["the fuel cap is off"])) == 1
    assert "  - the fuel cap is off" in capsys.readouterr().err


def test_a_failure_of_the_tool_is_one_line_with_a_way_to_see_more(
    ends: Ends, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("EVENPOUR_DEBUG", raising=False)
    assert ends(ZeroDivisionError("division\nby zero")) == 3
    error = capsys.readouterr().err
    assert error.startswith("evenpour failed: ZeroDivisionError: division by zero.")
    assert error.count("\n") == 1
    assert "EVENPOUR_DEBUG=1" in error


def test_with_debug_on_the_whole_trace_is_shown(
    ends: Ends, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVENPOUR_DEBUG", "1")
    assert ends(ZeroDivisionError("division by zero")) == 3
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize("interruption", [KeyboardInterrupt(), click.Abort(), EOFError()])
def test_a_person_who_stops_it_gets_no_trace(
    ends: Ends, interruption: BaseException, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ends(interruption) == 130
    assert capsys.readouterr().err == "\nStopped.\n"


def test_a_mistyped_command_is_answered_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["jugde"]) == 2
    assert "Did you mean judge?" in capsys.readouterr().err


def test_a_word_near_no_command_is_answered_with_all_of_them(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["xyzzy"]) == 2
    assert ", ".join(COMMANDS) in capsys.readouterr().err


def test_an_unknown_option_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--loud"]) == 2
    assert "--loud" in capsys.readouterr().err


def test_the_version_is_answered(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--version"]) == 0
    assert capsys.readouterr().out == f"evenpour {__version__}\n"


def test_the_help_lists_every_command_in_the_order_of_the_work(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--help"]) == 0
    listed = capsys.readouterr().out.partition("Commands:")[2].splitlines()
    assert [line.split()[0] for line in listed if line.strip()] == list(COMMANDS)


def test_help_lines_fit_a_narrow_terminal() -> None:
    # two blanks, the longest name, two blanks, the line: all within the 80 columns of a plain terminal
    width = 4 + max(map(len, COMMANDS))
    assert [listed.line for listed in COMMANDS.values() if width + len(listed.line) > 78] == []


def test_a_reader_that_goes_away_is_no_failure() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    command = [sys.executable, "-m", "evenpour", "--help"]
    run = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, text=True, check=False)
    os.close(writing)
    assert run.stderr == ""
    assert run.returncode == 141


def test_a_terminal_without_the_sign_shows_a_question_mark() -> None:
    program = "import sys; from evenpour import cli; cli._print_what_the_terminal_can(); print('20 °C')"
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    command = [sys.executable, "-c", program]
    run = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    assert run.stdout == "20 ?C\n"
