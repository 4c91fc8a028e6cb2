"""Writes docs/checked-against.md: what the tool was checked against, and how near it came.

Runs the tests in tests/published/ and takes from them every source, the largest difference met and the
difference allowed. A test compares the page's list of checks with the tests; its digits only a run can tell.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
PUBLISHED = ROOT / "tests" / "published"
PAGE = ROOT / "docs" / "checked-against.md"
HEADS = ["what", "source", "values", "largest difference", "allowed", "why that much"]

HEAD = """\
# What we checked it against

Written by `scripts/write_checked.py` from the tests in `tests/published/`, which run with all the others.
Every line holds values of the tool against values from elsewhere: a standard, a handbook, a worked example,
another program, or arithmetic done apart from the tool.

*From memory* means that the source itself was not at hand when its values were written down. A difference in
per cent is a share of the published value. *Half the last digit printed* is what a correct value may differ
by from one that was rounded to be printed; the difference is then given as a share of that.

Not every function checked here is one that an answer stands on: orifice plates, power standards and some of
the electric ones only stand ready. And but for one, the gas of an engine that fails on one cylinder, no line
holds what the machine's model makes of these laws together: that rests on common practice, as its answers
say."""


def page(checks: Sequence[Any]) -> str:
    """The whole page, from the checks that a run has filled."""
    idle = [check.key for check in checks if not check.values]
    if idle:
        raise SystemExit(f"No test holds anything against these: {idle}")
    topics = sorted({check.topic for check in checks})
    total = sum(check.values for check in checks)
    lines = [HEAD, "", f"{len(checks)} checks, {total:,} values.", ""]
    for topic in topics:
        lines += [f"## {topic}", "", f"| {' | '.join(HEADS)} |", f"|{'---|' * len(HEADS)}"]
        ours = sorted((check for check in checks if check.topic == topic), key=lambda check: check.key)
        lines += [f"| {' | '.join(_row(check))} |" for check in ours]
        lines.append("")
    return "\n".join(lines)


def listed(text: str) -> Iterator[tuple[str, str, str, str, str]]:
    """What a page says of each check but for its digits: topic, source, what, allowed, why."""
    topic = ""
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("## "):
            topic = line.removeprefix("## ")
        elif len(cells) == len(HEADS) and cells != HEADS and set(cells) != {"---"}:
            what, source, _, _, allowed, why = cells
            yield topic, source, what, allowed, why


def entry(check: Any) -> tuple[str, str, str, str, str]:
    """The same of a check."""
    return check.topic, check.source, check.what, _allowed(check), check.because


def _row(check: Any) -> list[str]:
    return [check.what, check.source, f"{check.values:,}", _met(check), _allowed(check), check.because]


def _met(check: Any) -> str:
    if isinstance(check.tolerance, str):
        return f"{100.0 * check.largest:.0f} % of it"
    return _amount(check.largest, check)


def _allowed(check: Any) -> str:
    return check.tolerance if isinstance(check.tolerance, str) else _amount(check.tolerance, check)


def _amount(value: float, check: Any) -> str:
    if value == 0.0:
        return "none"
    return f"{100.0 * value:.3g} %" if check.relative else f"{value:.3g} {check.unit}".strip()


def filled() -> list[Any]:
    """Every check, once the published tests have run; ends here if one fails."""
    failed = pytest.main(["-q", "-n0", "-p", "no:cacheprovider", str(PUBLISHED)])
    if failed:
        raise SystemExit("A published value is not met: the page was left as it is.")
    return list(sys.modules["achieved"].CHECKS)


if __name__ == "__main__":
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(page(filled()), encoding="utf-8")
    print(f"Wrote {PAGE.name}.", file=sys.stderr)
