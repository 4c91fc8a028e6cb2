"""From a form's fields to entries: names and texts are put in their places, nothing is judged here.

A figure and its unit become one text, as somebody would write it: what it means is read by job.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from evenpour.errors import FieldProblem
from evenpour.job.closing import cause_text, choices, closing_content, cylinder_of
from evenpour.job.entries import Draft
from evenpour.job.typed_words import accuracy_class, whole

Form = Mapping[str, str]
OPEN_CIRCUIT = "open"
OWN_WORDS = "own"  # a cause that no list has
SHARED = ("who", "note")
MOST_ROWS = 16
MOST_SWAPS = 3


def drafts_of(form: Form, entry_id: str) -> list[Draft]:
    """The entries that a form says, each under *entry_id*; several with a number behind it.

    Raises:
        FieldProblem: it says none.
    """
    kind = form.get("kind", "")
    if kind not in READERS:
        raise FieldProblem("kind", kind or None, "is no form of ours", remedy="Load the page again.")
    contents = READERS[kind](form)
    at = form.get("at", "").strip() or None
    if len(contents) == 1 and contents[0][0] is None:
        return [Draft(kind, contents[0][1], entry_id, at)]
    return [Draft(kind, content, f"{entry_id}.{row}", at) for row, content in contents]


def _shared(form: Form) -> dict[str, Any]:
    return {name: form[name].strip() for name in SHARED if form.get(name, "").strip()}


def amount(form: Form, name: str, unit_name: str = "") -> str:
    """``-4.8 bar`` from a figure, its unit and its sign; a unit typed with the figure stands."""
    text = form.get(name, "").strip()
    unit = form.get(unit_name or f"{name}-unit", "").strip()
    if unit == OPEN_CIRCUIT:
        return OPEN_CIRCUIT
    if not text:
        return ""
    sign = "-" if form.get(f"{name}-sign") == "-" and not text.startswith(("-", "−", "+")) else ""
    bare = text.replace(",", ".").lstrip("+-−").replace(".", "", 1).isdigit()
    return f"{sign}{text} {unit}".strip() if bare else text


def turns(form: Form, name: str) -> str:
    """``-1 3/16 turn`` from whole turns, sixteenths and a direction; empty where nothing is said."""
    whole, part = form.get(f"{name}-whole", "").strip(), form.get(f"{name}-part", "").strip()
    if not whole and part in ("", "0"):
        return "0 turn" if form.get(f"{name}-way") and part == "0" else ""
    sign = "-" if form.get(f"{name}-way") == "anticlockwise" else "+"
    parts = [one for one in (whole, part) if one not in ("", "0")] or ["0"]
    return f"{sign}{' '.join(parts)} turn"


Rows = list[tuple[int | None, dict[str, Any]]]
"""Contents with the row each was typed in; ``None`` for a form of one entry."""


def _reading(form: Form) -> Rows:
    conditions = dict(conditions_in(form))
    more = _shared(form)
    if form.get("instrument"):
        more["instrument"] = form["instrument"]
    if form.get("sure") == "yes":
        more["sure"] = True
    if conditions:
        more["conditions"] = conditions
    what = form.get("what", "")
    if form.get("rows") != "yes":
        content: dict[str, Any] = {"what": what, "value": _value(form, "value") or None, **more}
        return [(None, _with_cylinder(content, form))]
    rows: Rows = []
    for row in range(1, MOST_ROWS + 1):
        value = _value(form, f"value.{row}", "value-unit")
        if value:
            rows.append((row, {"what": what, "cylinder": row, "value": value, **more}))
    if not rows:
        raise FieldProblem("value", None, "is missing", remedy="Fill in at least one cylinder.")
    return rows


def _value(form: Form, name: str, unit_name: str = "") -> str:
    if f"{name}-way" in form or f"{name}-whole" in form:
        return turns(form, name)
    return amount(form, name, unit_name)


def conditions_in(form: Form) -> Iterator[tuple[str, str]]:
    """Fields ``c.NAME`` hold figures, ``w.NAME`` words; where both are filled in, the word counts."""
    names = dict.fromkeys(field[2:].partition("-")[0] for field in form if field.startswith(("c.", "w.")))
    for name in names:
        text = form.get(f"w.{name}", "").strip() or amount(form, f"c.{name}")
        if text:
            yield name, text


def _catch(form: Form) -> Rows:
    ports = _number(form, "ports", "ports")
    unit = form.get("unit", "").strip()
    content: dict[str, Any] = {
        "through": form.get("through", ""),
        "opening": form.get("opening", "") if form.get("opening") != "other" else amount(form, "lift"),
        "duration": amount(form, "duration") or None,
        "amounts": [_with_unit(form.get(f"amount.{port}", ""), unit) for port in range(1, ports + 1)],
        **_shared(form),
    }
    tares = [_with_unit(form.get(f"tare.{port}", ""), unit) for port in range(1, ports + 1)]
    if any(tares):
        content["tare"] = [tare or f"0 {unit}" for tare in tares]
    containers = [form.get(f"container.{port}", "").strip() for port in range(1, ports + 1)]
    if any(containers):
        content["containers"] = [name or str(port) for port, name in enumerate(containers, start=1)]
    swaps = list(_swaps(form))
    if swaps:
        content["swaps"] = swaps
    if form.get("instrument"):
        content["instrument"] = form["instrument"]
    if form.get("discard") == "yes":
        content["discard"] = True
    temperature = amount(form, "temperature")
    if temperature:
        content["temperature"] = temperature
    if form.get("valve_hum"):
        content["valve_hum"] = form["valve_hum"] == "yes"
    return [(None, content)]


def _with_unit(text: str, unit: str) -> str:
    """``8.2 ml``; empty or a dash is a lost amount."""
    text = text.strip()
    if text in ("", "-", "–", "lost"):
        return ""
    bare = text.replace(",", ".").replace(".", "", 1).isdigit()
    return f"{text} {unit}" if bare else text


def _swaps(form: Form) -> Iterator[str]:
    for row in range(1, MOST_SWAPS + 1):
        kind, first, second = (form.get(f"swap-{name}.{row}", "") for name in ("kind", "first", "second"))
        if kind and first and second:
            yield f"{kind} {first} with {second}"


def _step(form: Form) -> Rows:
    content: dict[str, Any] = {"id": form.get("id", ""), "done": form.get("done") == "yes", **_shared(form)}
    if form.get("reason", "").strip():
        content["reason"] = form["reason"].strip()
    elif not content["done"]:
        raise FieldProblem("reason", None, "is missing", remedy="Say why it is passed over.")
    if content["done"]:
        _by_somebody(form, "A step is done")
    return [(None, _with_cylinder(content, form))]


def _by_somebody(form: Form, what: str) -> None:
    if not form.get("who", "-").strip():  # asked for on the page, and left empty
        raise FieldProblem("who", None, "is missing", remedy=f"{what} by somebody: the record says who.")


def _caution(form: Form) -> Rows:
    """All the cautions that were read at once, one entry each."""
    named = [name for name in form.get("ids", "").split() if name]
    if not form.get("who", "").strip():
        raise FieldProblem("who", None, "is missing", remedy="Cautions are read by name.")
    return [(row, {"id": name, **_shared(form)}) for row, name in enumerate(named, start=1)]


def _did(form: Form) -> Rows:
    content = {"action": form.get("action", ""), "part": form.get("part", ""), **_shared(form)}
    if content["action"] and content["part"]:
        _by_somebody(form, "Work on a part is done")
    return [(None, _with_cylinder(content, form))]


def _move(form: Form) -> Rows:
    said = turns(form, "turns")
    if not said and form.get("mark", "").strip():
        said = "0 turn"  # it was marked, and not turned
    elif said and not form.get("turns-way"):
        raise FieldProblem("turns", None, "have no direction", allowed="clockwise or anticlockwise")
    content: dict[str, Any] = {"part": form.get("part", "mixture_screw"), "turns": said or None}
    content |= {name: form[name].strip() for name in ("approach", "mark") if form.get(name, "").strip()}
    content |= _shared(form)
    return [(None, content)]


def _happened(form: Form) -> Rows:
    return [(None, _with_cylinder({"what": form.get("what", ""), **_shared(form)}, form))]


def _override(form: Form) -> Rows:
    content: dict[str, Any] = {name: form[name] for name in ("claim", "item") if form.get(name)}
    content |= {"reason": form.get("reason", "").strip() or None, "who": None, **_shared(form)}
    return [(None, _with_cylinder(content, form))]


def _note(form: Form) -> Rows:
    text = form.get("text", "").strip()
    if not text:
        raise FieldProblem("text", None, "is missing", remedy="Write the note first.")
    content = {"text": text, **({"who": form["who"].strip()} if form.get("who", "").strip() else {})}
    return [(None, _with_cylinder(content, form))]


def _instrument(form: Form) -> Rows:
    content: dict[str, Any] = {
        "id": form.get("id", "").strip(),
        "kind": form.get("instrument_kind", "").strip() or None,
        "range": amount(form, "range") or None,
        "error": amount(form, "error") or None,
        "resolution": amount(form, "resolution") or None,
        **_shared(form),
    }
    if form.get("class", "").strip():
        content["class"] = accuracy_class(form["class"])
    if form.get("calibrated", "").strip():
        content["calibrated"] = form["calibrated"].strip()
    return [(None, content)]


def _closed(form: Form) -> Rows:
    """Up to two causes, each chosen from a list; or one that the list has not, in words."""
    suspected = form.get("suspected") == "yes"
    if form.get("cause") != OWN_WORDS:
        causes = [_cause(form, "cause", "cylinder"), _cause(form, "second", "second-cylinder")]
        return [(None, {**_shared(form), **closing_content([*filter(None, causes)], suspected=suspected)})]
    own = form.get("own", "").strip()
    if not own:
        raise FieldProblem("own", None, "is missing")
    if form.get("second"):
        raise FieldProblem("own", own, "stand beside a second cause", remedy="Say both in words")
    content: dict[str, Any] = {"cause": own, **({"confirmed": False} if suspected else {}), **_shared(form)}
    return [(None, _with_cylinder(content, form))]


def _cause(form: Form, name: str, at: str) -> str:
    """``spark_missing[2]`` from a cause and its cylinder; the likeliest say theirs themselves."""
    chosen, cylinder = form.get(name, "").strip(), form.get(at, "").strip()
    known = next((one for one in choices() if one.cause == chosen), None)
    if known is None:
        own = cylinder_of(chosen)
        if cylinder and (own is None or str(own) != cylinder):
            raise FieldProblem(at, cylinder, "is not that of the cause chosen", remedy="Leave it at none")
        return chosen
    if known.per_cylinder and not cylinder:
        raise FieldProblem(at, None, "is missing")
    if cylinder and not known.per_cylinder:
        raise FieldProblem(at, cylinder, f"does not go with this: {known.title}", remedy="Leave it at none")
    return cause_text(chosen, _number(form, at, at) if cylinder else None)


def _with_cylinder(content: dict[str, Any], form: Form) -> dict[str, Any]:
    if form.get("cylinder", "").strip():
        content["cylinder"] = _number(form, "cylinder", "cylinder")
    return content


def _number(form: Form, name: str, field: str) -> int:
    text = form.get(name, "").strip()
    number = whole(text)
    if number is None or number > MOST_ROWS:
        raise FieldProblem(field, text or None, "is no number of this engine")
    return number


READERS: Mapping[str, Callable[[Form], Rows]] = {
    "reading": _reading,
    "catch": _catch,
    "step": _step,
    "caution": _caution,
    "did": _did,
    "move": _move,
    "happened": _happened,
    "override": _override,
    "note": _note,
    "instrument": _instrument,
    "closed": _closed,
}
