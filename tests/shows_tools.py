"""Job files written by hand from the published form, put through the commands as anybody would."""

from __future__ import annotations

import json
import math
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any

from evenpour import cli

FORM = 'format = "evenpour-job/1"\n'
ROOT_3 = math.sqrt(3.0)

GAUGE_6 = """
[[instrument]]
id = "gauge"
kind = "pressure gauge"
range = "6 bar"
class = 1.0
resolution = "0.05 bar"
"""
U_GAUGE_6 = math.hypot(0.06, 0.025) / ROOT_3  # [bar] class 1.0 of 6 bar, half a division of 0.05 bar


def answered(command: str, text: str, *, suffix: str = ".toml") -> tuple[int, Any, str]:
    """Exit status, JSON answer (None if there was none) and the words on standard error."""
    if suffix == ".toml" and FORM.strip() not in text:
        text = FORM + text
    out, err = StringIO(), StringIO()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"job{suffix}"
        path.write_text(text, encoding="utf-8")
        with redirect_stdout(out), redirect_stderr(err):
            status = cli.main([command, str(path), "--json"])
    said = out.getvalue()
    return status, json.loads(said) if said.strip() else None, err.getvalue()


def judged(text: str) -> list[dict[str, Any]]:
    """The rows of ``evenpour judge``."""
    status, answer, error = answered("judge", text)
    assert answer is not None, error
    rows: list[dict[str, Any]] = answer["readings"]
    assert status == int(any(row["stands"] and row["verdict"] == "outside" for row in rows))
    return rows


def one(text: str) -> dict[str, Any]:
    """The only row of ``evenpour judge``."""
    (row,) = judged(text)
    return row


def pathed(text: str) -> dict[str, Any]:
    """The answer of ``evenpour path``."""
    _, answer, error = answered("path", text)
    assert answer is not None, error
    found: dict[str, Any] = answer
    return found


def caught(text: str) -> dict[str, Any]:
    """The answer of ``evenpour catch``."""
    _, answer, error = answered("catch", text)
    assert answer is not None, error
    found: dict[str, Any] = answer
    return found


def engine(sheet: str = "flat-six") -> str:
    """``[engine]``"""
    return f'\n[engine]\nsheet = "{sheet}"\n'


def time(hour: int, minute: int = 0, *, day: int = 3) -> str:
    """``at``"""
    return f"at = 2026-05-{day:02d}T{hour:02d}:{minute:02d}:00\n"


def reading(what: str, value: str | Sequence[str], conditions: str = "", more: str = "") -> str:
    """``[[reading]]``; *conditions* as they stand between the braces."""
    name = "value" if isinstance(value, str) else "values"
    stated = f"conditions = {{ {conditions} }}\n" if conditions else ""
    return f'\n[[reading]]\nwhat = "{what}"\n{name} = {json.dumps(value, ensure_ascii=False)}\n{stated}{more}'


def did(action: str, part: str, at: str, cylinder: int | None = None) -> str:
    """``[[did]]``"""
    where = "" if cylinder is None else f"cylinder = {cylinder}\n"
    return f'\n[[did]]\naction = "{action}"\npart = "{part}"\n{where}{at}'


def entry(kind: str, at: str = "", **fields: Any) -> str:
    """Any entry of plain fields."""
    written = "".join(f"{name} = {json.dumps(value)}\n" for name, value in fields.items())
    return f"\n[[{kind}]]\n{written}{at}"


def catch(
    through: str, opening: str, amounts: Sequence[str], more: str = "", *, duration: str = "60 s"
) -> str:
    """``[[catch]]``"""
    times = "" if "durations" in more else f'duration = "{duration}"\n'
    held = f'through = "{through}"\nopening = "{opening}"\n{times}'
    return f"\n[[catch]]\n{held}amounts = {json.dumps(amounts)}\n{more}"


def states(answer: Mapping[str, Any]) -> dict[str, str]:
    """Stage by stage."""
    return {stage["stage"]: stage["state"] for stage in answer["stages"]}


def claims(answer: Mapping[str, Any], state: str) -> set[tuple[str, int | None]]:
    """The claims in one state."""
    return {(one["claim"], one["cylinder"]) for one in answer["claims"] if one["state"] == state}


def normal_below(x: float) -> float:
    """The normal distribution function."""
    return 0.5 * (1.0 + math.erf(x / math.sqrt(2.0)))


def p_between(y: float, u: float, low: float | None = None, high: float | None = None) -> float:
    """F((TU - y)/u) - F((TL - y)/u), an open side counting as 1 or 0."""
    above = 1.0 if high is None else normal_below((high - y) / u)
    return above - (0.0 if low is None else normal_below((low - y) / u))
