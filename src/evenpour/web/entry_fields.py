"""From a kept entry back to the fields of the form it is entered on: what entry_forms.py does, the other way.

Whoever mends a slip finds the very form of that kind of entry, filled with what was kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from evenpour.job.asking import AskedReading
from evenpour.job.forms import OPENINGS
from evenpour.job.rules import read_swap
from evenpour.job.taken_apart import taken_apart, turns_apart
from evenpour.web.entry_forms import MOST_SWAPS, OPEN_CIRCUIT, drafts_of

Fields = dict[str, str]

# What the form of a kind has a field for; whatever else an entry holds stays as it is.
_HELD: Mapping[str, frozenset[str]] = {
    "reading": frozenset({"what", "cylinder", "value", "conditions", "instrument", "sure", "note"}),
    "catch": frozenset(
        {"through", "opening", "duration", "amounts", "tare", "containers", "swaps", "instrument", "discard",
         "temperature", "note"}
    ),
    "did": frozenset({"action", "part", "cylinder", "note"}),
    "move": frozenset({"part", "turns", "approach", "mark", "note"}),
    "happened": frozenset({"what", "cylinder", "note"}),
    "instrument": frozenset({"id", "kind", "range", "class", "error", "resolution", "calibrated", "note"}),
}  # fmt: skip
# What no form has a place for: such an entry is laid open field by field.
_NO_FORM = frozenset({"values", "durations"})


def has_form(kind: str, content: Mapping[str, Any]) -> bool:
    """Whether the form of that kind of entry can hold what this one says."""
    if kind not in _HELD or _NO_FORM & set(content):
        return False
    swaps = content.get("swaps", [])
    return len(swaps) <= MOST_SWAPS and all(read_swap(swap) is not None for swap in swaps)


def fields_of(kind: str, content: Mapping[str, Any]) -> Fields:
    """The fields of the form of any kind but a reading, as they were filled in."""
    return {"note": str(content.get("note", "")), **_FIELDS[kind](content)}


def reading_fields(content: Mapping[str, Any], asked: AskedReading) -> Fields:
    """The fields of a reading's form, which is that of *asked*, as they were filled in."""
    fields = {"what": asked.check, "note": str(content.get("note", ""))}
    fields |= _said(content, "cylinder", "instrument")
    if asked.turns:
        _put_turns(fields, "value", str(content.get("value", "")))
    elif asked.choices:
        fields["value"] = str(content.get("value", ""))
    else:
        _put_quantity(fields, "value", content.get("value"), signed=asked.signed)
    given = content.get("conditions", {})
    for one in asked.conditions:
        text = str(given.get(one.id, ""))
        if text in (word for word, _ in one.choices):
            fields[f"w.{one.id}"] = text
        else:
            _put_quantity(fields, f"c.{one.id}", text, signed=one.signed)
    return fields


def mended(kind: str, kept: Mapping[str, Any], form: Mapping[str, str]) -> dict[str, Any]:
    """The whole content as the form says it now; what the form has no field for is as it was kept.

    Raises:
        FieldProblem: the form says nothing, or something no form could mean.
    """
    said = {name: text for name, text in form.items() if name != "who"}  # who mends is not who did it
    (draft,) = drafts_of({**said, "kind": kind}, "mended")
    content = {name: said for name, said in kept.items() if name not in _HELD[kind]} | dict(draft.content)
    if kind == "reading":
        asked = set(form.get("asks", "").split())
        same = content["what"] == kept.get("what")
        unasked = {
            name: said for name, said in kept.get("conditions", {}).items() if same and name not in asked
        }
        if unasked:
            content["conditions"] = {**unasked, **content.get("conditions", {})}
        if kept.get("sure") and content["value"] == kept.get("value"):
            content["sure"] = True  # said once of this very figure
    return content


def _put_quantity(
    fields: Fields, name: str, kept: object, unit_name: str = "", *, signed: bool = False
) -> None:
    """Figure, unit and sign apart; whatever is no plain figure with a unit stands in the field as it is."""
    text = "" if kept is None else str(kept).strip()
    unit_name = unit_name or f"{name}-unit"
    apart = taken_apart(text)
    if text == OPEN_CIRCUIT:
        fields |= {name: "", unit_name: OPEN_CIRCUIT}
    elif apart is None:
        fields[name] = text
    else:
        fields[name] = apart.figure if signed or not apart.below_nought else f"-{apart.figure}"
        fields[unit_name] = apart.unit
        if signed and apart.below_nought:
            fields[f"{name}-sign"] = "-"


def _put_turns(fields: Fields, name: str, text: str) -> None:
    """Whole turns, the part of one and the direction; what is no turns stands in the field as it is."""
    apart = turns_apart(text) if text else None
    if apart is None:
        fields[f"{name}-whole"] = text
    else:
        fields |= {f"{name}-whole": apart.whole, f"{name}-part": apart.part}
        fields[f"{name}-way"] = "clockwise" if apart.clockwise else "anticlockwise"


def _catch(content: Mapping[str, Any]) -> Fields:
    fields = _said(content, "through", "instrument")
    opening = str(content.get("opening", ""))
    if opening in OPENINGS:
        fields["opening"] = opening
    else:
        fields["opening"] = "other"
        _put_quantity(fields, "lift", opening)
    _put_quantity(fields, "duration", content.get("duration"))
    _put_quantity(fields, "temperature", content.get("temperature"), signed=True)
    amounts = [str(one) for one in content.get("amounts", [])]
    units = [apart.unit for text in amounts if (apart := taken_apart(text)) and apart.unit]
    fields["unit"] = units[0] if units else ""
    tares = content.get("tare", [])
    tares = tares if isinstance(tares, list) else [tares] * len(amounts)
    for port, text in enumerate(amounts, start=1):
        fields[f"amount.{port}"] = _in(fields["unit"], text)
    for port, weight in enumerate(tares, start=1):
        fields[f"tare.{port}"] = _in(fields["unit"], str(weight))
    for port, container in enumerate(content.get("containers", []), start=1):
        fields[f"container.{port}"] = str(container)
    for row, swap in enumerate(content.get("swaps", []), start=1):
        kind, one, other = read_swap(swap) or ("", "", "")
        fields |= {f"swap-kind.{row}": kind, f"swap-first.{row}": str(one), f"swap-second.{row}": str(other)}
    if content.get("discard"):
        fields["discard"] = "yes"
    if isinstance(content.get("valve_hum"), bool):
        fields["valve_hum"] = "yes" if content["valve_hum"] else "no"
    return fields


def _in(unit: str, text: str) -> str:
    """The figure alone of what is in the unit that the form states once; anything else with its own."""
    apart = taken_apart(text)
    return apart.figure if apart and apart.unit == unit and not apart.below_nought else text


def _did(content: Mapping[str, Any]) -> Fields:
    return _said(content, "action", "part", "cylinder")


def _move(content: Mapping[str, Any]) -> Fields:
    fields = _said(content, "part", "approach", "mark")
    _put_turns(fields, "turns", str(content.get("turns", "")))
    return fields


def _happened(content: Mapping[str, Any]) -> Fields:
    return _said(content, "what", "cylinder")


def _instrument(content: Mapping[str, Any]) -> Fields:
    fields = {**_said(content, "id", "class", "calibrated"), "instrument_kind": str(content.get("kind", ""))}
    for name in ("range", "error", "resolution"):
        _put_quantity(fields, name, content.get(name))
    return fields


def _said(content: Mapping[str, Any], *names: str) -> Fields:
    return {name: str(content[name]) for name in names if content.get(name) is not None}


_FIELDS: Mapping[str, Callable[[Mapping[str, Any]], Fields]] = {
    "catch": _catch,
    "did": _did,
    "move": _move,
    "happened": _happened,
    "instrument": _instrument,
}
