"""Writes docs/reference.md from the shipped data: checks, conditions, parts, steps, claims, cautions,
what a sheet may name, and what a what-if may set.

The words are those the tool itself uses, so the page cannot fall behind; a test compares it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from evenpour.job.catalogue import Catalogue, catalogue
from evenpour.job.engine_model import causes_known
from evenpour.job.forms import ACTIONS
from evenpour.job.sheet.found import form
from evenpour.job.whatif.data import whatif_data
from evenpour.measure.checks import Check

CHECK_HEADS = ["id", "takes", "per cylinder", "conditions", "typed short"]
PART_HEADS = ["id", "means", "per cylinder", "also"]
SETTING_HEADS = ["id", "means", "takes", "per cylinder", "only where fitted"]
CAUSE_HEADS = ["id", "means", "per cylinder", "only where fitted"]
PAGE = Path(__file__).resolve().parent.parent / "docs" / "reference.md"


def page() -> str:
    """The whole page."""
    known = catalogue()
    return "\n".join(
        [
            "# Names that job files, sheets and what-ifs use",
            "",
            "Written by `scripts/write_reference.py` from the shipped data. Change the data, not this page.",
            *_section("Checks", "`what` of a reading", CHECK_HEADS, _checks(known)),
            *_section(
                "Conditions", "`conditions` of a reading", ["id", "means", "takes"], _conditions(known)
            ),
            *_section("Parts", "`part` of a `[[did]]` or `[[move]]`", PART_HEADS, _parts(known)),
            "",
            f"Actions: {', '.join(f'`{action}`' for action in ACTIONS)}. "
            "`disconnected`, `removed` and `fitted` put a thing on the put-back list; "
            "`reconnected`, `refitted`, `replaced` and `taken_out` take it off, `replaced` only what no "
            "step took out: that hangs where the step put it, new or old.",
            *_section("Steps", "`id` of a `[[step]]`", ["id", "stage", "title"], _steps(known)),
            *_section("Claims", "`claim` of an `[[override]]`", ["id", "stage", "says"], _claims(known)),
            *_section("Happenings", "`what` of a `[[happened]]`", ["id", "says"], _happenings(known)),
            *_section("Cautions", "`id` of a `[[caution]]`", ["id", "title"], _cautions(known)),
            *_section("Sheet values", "a name in `[values]` of a sheet", ["id", "means", "takes"], _values()),
            *_section("Devices", "a name in `[devices]` of a sheet", ["id", "means"], _devices()),
            *_section("Settings", "NAME of `evenpour whatif --set NAME=VALUE`", SETTING_HEADS, _settings()),
            *_section("Causes", "NAME of the same, with a severity from 0 to 1", CAUSE_HEADS, _causes()),
            "",
        ]
    )


def _section(title: str, use: str, heads: list[str], rows: Iterable[list[str]]) -> Iterator[str]:
    yield from ("", f"## {title}", "", f"Used as {use}.", "")
    yield f"| {' | '.join(heads)} |"
    yield f"|{'---|' * len(heads)}"
    for row in rows:
        yield f"| {' | '.join(cell.replace('|', '/') for cell in row)} |"


def _takes(check: Check) -> str:
    return ", ".join(check.choices) if check.choices else " or ".join(check.dimensions).replace("_", " ")


def _checks(known: Catalogue) -> Iterator[list[str]]:
    for check in known.checks.values():
        if check.spread_of is None and check.id not in ("catch", "catch_evenness"):
            conditions = ", ".join(name for name in check.conditions if name not in known.everywhere)
            yield [
                f"`{check.id}`",
                _takes(check),
                "yes" if check.per_cylinder else "",
                conditions,
                ", ".join(check.also),
            ]


def _conditions(known: Catalogue) -> Iterator[list[str]]:
    for kind in known.kinds.values():
        takes = [kind.dimension.replace("_", " ")] if kind.dimension else []
        yield [
            f"`{kind.id}`",
            kind.title,
            "; ".join([*takes, *([", ".join(kind.choices)] if kind.choices else [])]),
        ]


def _parts(known: Catalogue) -> Iterator[list[str]]:
    also: dict[str, list[str]] = {}
    for name, part in known.part_names.items():
        if name != part:
            also.setdefault(part, []).append(name)
    for one in known.parts.values():
        if one.kind != "state":
            yield [
                f"`{one.id}`",
                one.title,
                "yes" if one.per_cylinder else "",
                ", ".join(also.get(one.id, [])),
            ]


def _steps(known: Catalogue) -> Iterator[list[str]]:
    return ([f"`{table['id']}`", table["stage"], table["title"]] for table in known.steps)


def _claims(known: Catalogue) -> Iterator[list[str]]:
    return ([f"`{table['id']}`", table["stage"], table["says"]] for table in known.claims)


def _happenings(known: Catalogue) -> Iterator[list[str]]:
    return ([f"`{name}`", says] for name, says in known.happenings.items())


def _cautions(known: Catalogue) -> Iterator[list[str]]:
    return ([f"`{caution.id}`", caution.title] for caution in known.cautions.values())


def _values() -> Iterator[list[str]]:
    for kind in form().values.values():
        yield [f"`{kind.id}`", kind.title, ", ".join(kind.choices) or kind.takes.replace("_", " ")]


def _devices() -> Iterator[list[str]]:
    return ([f"`{device.id}`", device.title] for device in form().devices.values())


def _settings() -> Iterator[list[str]]:
    for one in whatif_data().settable.values():
        takes = [one.dimension.replace("_", " ")] if one.dimension else []
        takes += [", ".join(one.choices)] if one.choices else []
        each = "yes" if one.per_cylinder else ""
        yield [f"`{one.id}`", one.title, "; ".join(takes), each, one.only]


def _causes() -> Iterator[list[str]]:
    for one in causes_known().values():
        yield [f"`{one.id}`", one.title, "yes" if one.per_cylinder else "", one.only or ""]


if __name__ == "__main__":
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(page(), encoding="utf-8")
    print(f"Wrote {PAGE.name}.", file=sys.stderr)
