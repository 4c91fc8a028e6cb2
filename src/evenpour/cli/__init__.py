"""The command line. Faces only ask ``evenpour.job``; nothing heavy is imported before a command is called.

Exit status: 0 answered; 1 answered and a reading is outside, a part is surely off, a proof is stale, or
what was asked for is refused; 2 bad input; 3 the tool failed. A command returns its status (nothing is 0) and
raises what is wrong.
"""

from __future__ import annotations

import io
import os
import sys
import traceback
from collections.abc import Sequence

import click

from evenpour import __version__
from evenpour.cli.commands import COMMANDS
from evenpour.cli.groups import LazyGroup
from evenpour.errors import Problem, Refused

ANSWERED, REFUSED, BAD_INPUT, FAILED = 0, 1, 2, 3
STOPPED = 130  # as a shell reports a program that was ended from the keyboard
PIPE_CLOSED = 141  # as a shell reports a program whose reader went away


@click.group(cls=LazyGroup, table=COMMANDS)
@click.version_option(__version__, message="evenpour %(version)s")
def group() -> None:
    """Re-commissioning of petrol engines with continuous-flow mechanical fuel injection.

    Judges readings, finds the part that pours unevenly, keeps the order of proofs and writes the record. JOB
    is a job file or the number of a stored job. The engine's manual, local codes and licensed practice come
    first.
    """


def main(args: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; errors go to standard error.

    Args:
        args: The words after ``evenpour``; ``None`` takes them from the process.
    """
    _print_what_the_terminal_can()
    # Thousands of small matrices are worked on by threads of our own; threads of the library's besides, two
    # for each, take four times as long. It is asked when it is loaded, which is later.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        status = _run(sys.argv[1:] if args is None else list(args))
        sys.stdout.flush()  # a reader that went away is noticed here, not after the end
    except click.ClickException as problem:
        problem.show()
        return BAD_INPUT
    except Problem as problem:
        click.echo(str(problem), err=True)
        return REFUSED if isinstance(problem, Refused) else BAD_INPUT
    except (KeyboardInterrupt, EOFError, click.Abort):
        click.echo("\nStopped.", err=True)
        return STOPPED
    except BrokenPipeError:
        _forget_standard_output()
        return PIPE_CLOSED
    except Exception as failure:  # noqa: BLE001  the last line of defence: said in one line, never hidden
        return _failed(failure)
    return status


def _run(words: list[str]) -> int:
    try:
        with group.make_context("evenpour", words) as context:
            status = group.invoke(context)
    except click.exceptions.Exit as ended:
        return ended.exit_code
    return ANSWERED if status is None else int(status)


def _failed(failure: Exception) -> int:
    debug = os.environ.get("EVENPOUR_DEBUG", "") not in ("", "0")
    if debug:
        traceback.print_exception(failure)
    words = " ".join(str(failure).split()) or "no words with it"
    hint = "" if debug else " Run it again with EVENPOUR_DEBUG=1 to see where."
    click.echo(f"evenpour failed: {type(failure).__name__}: {words}.{hint}", err=True)
    return FAILED


def _print_what_the_terminal_can() -> None:
    """Show a question mark where the terminal has no sign for ° or ±, instead of failing half way."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _forget_standard_output() -> None:
    """Send what is still buffered nowhere, or the interpreter would complain while it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
