"""What is typed at the car, word by word, becomes an entry: ``cold 1.45 bar regulator_temperature=18C
with=gauge``.

A first word that is an action, ``catch``, ``move``, ``done`` ... says what kind of entry it is; any other
is a check.
``name=value`` words are conditions and fields; a cylinder is written ``cylinder=4`` or behind the name:
``drip 4 dry``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from evenpour.errors import FieldProblem, unknown
from evenpour.job.catalogue import Catalogue, plain_name
from evenpour.job.forms import ACTIONS, OPENINGS, THROUGH
from evenpour.job.typed_words import NUMBER, accuracy_class, listed_amounts, split_pairs, whole
from evenpour.measure.checks import Check
from evenpour.measure.readings import OPEN_CIRCUIT

Typed = tuple[str, dict[str, Any]]
"""Kind of entry and its content."""

_AMOUNT_BEGINS = re.compile(r"[+\-−.,0-9¼½¾⅛]")
_TARGET = re.compile(r"(.*)\[([0-9]+)\]")
_FIELDS = {"with": "instrument", "instrument": "instrument", "who": "who", "note": "note", "photo": "photo"}
_KIND_WORDS = (
    "catch", "move", "done", "passed", "happened", "read", "override", "note", "instrument", "conditions",
    "correct",
    "withdraw",
)  # fmt: skip


def entry_of(words: Sequence[str], known: Catalogue) -> Typed:
    """The entry that *words* say.

    Raises:
        FieldProblem: they say none; the message shows how it is written.
    """
    if not words:
        raise FieldProblem(
            "what", None, "is missing", allowed="a check, an action, or one of " + ", ".join(_KIND_WORDS)
        )
    if words[0].lower() == "note":
        return _note(words[1:])
    plain, pairs = split_pairs(words)
    first = plain[0].lower() if plain else ""
    if first in _READ:
        return _READ[first](plain[1:], pairs, known)
    if first in ACTIONS:
        return _action(first, plain[1:], pairs, known)
    if not plain:
        raise FieldProblem(
            "what", " ".join(words), "names no check", remedy="Write the check first, then its value."
        )
    return _reading(plain, pairs, known)


def _shared(pairs: dict[str, str]) -> dict[str, Any]:
    """The fields any entry may carry; what is left in *pairs* is the kind's own."""
    content: dict[str, Any] = {}
    for word, field in _FIELDS.items():
        if word in pairs:
            content[field] = pairs.pop(word)
    return content


def _cylinder(text: str) -> int:
    number = whole(text)
    if number is None:
        raise FieldProblem("cylinder", text, "is no cylinder", allowed="a number like 4")
    return number


def _reading(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    check, rest = _check(plain, known)
    content = _shared(pairs)
    cylinder = pairs.pop("cylinder", None)
    if cylinder is None and check.per_cylinder and _begins_with_cylinder(check, rest):
        cylinder = rest.pop(0)
    if cylinder is not None:
        content["cylinder"] = _cylinder(cylinder)
    if pairs.pop("sure", "") in ("yes", "true"):
        content["sure"] = True
    if not rest:
        allowed = ", ".join(check.choices) if check.choices else "a value with its unit"
        raise FieldProblem("value", None, f"is missing from {check.id}", allowed=allowed)
    content = {"what": check.id, "value": " ".join(rest), **content}
    for name in pairs:
        if name not in known.kinds:
            fields = [*check.conditions, "cylinder", "with", "who", "note", "sure"]
            raise unknown("condition", name, fields, kind=f"condition of {check.id}")
    if pairs:
        content["conditions"] = dict(pairs)
    return "reading", content


def _check(plain: Sequence[str], known: Catalogue) -> tuple[Check, list[str]]:
    """The check that the first words name, and the words behind it: ``system pressure 4.9 bar``."""
    for count in range(min(len(plain), 5), 1, -1):
        found = known.check_names.get(plain_name(" ".join(plain[:count])))
        if found is not None:
            return known.checks[found], list(plain[count:])
    return known.check(plain[0]), list(plain[1:])


def _begins_with_cylinder(check: Check, rest: Sequence[str]) -> bool:
    """``4 dry``, ``3 10.4 bar``; not ``150 psi``, where the cylinder was left out."""
    if len(rest) < 2 or not rest[0].isdigit():
        return False
    return bool(check.choices) or _AMOUNT_BEGINS.match(rest[1]) is not None or rest[1].lower() in OPEN_CIRCUIT


def _action(action: str, plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    content = _shared(pairs)
    words = list(plain)
    cylinder = pairs.pop("cylinder", None)
    if cylinder is None and len(words) > 1 and words[-1].isdigit():
        cylinder = words.pop()
    if not words:
        raise FieldProblem("part", None, "is missing", remedy=f"What was {action.replace('_', ' ')}?")
    part = known.part(" ".join(words))
    content = {"action": action, "part": part.id, **content}
    if cylinder is not None:
        content["cylinder"] = _cylinder(cylinder)
    _nothing_left(pairs, "an action")
    return "did", content


def _catch(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    """``catch injectors full 35 s 80 81 79.5 66 80 80.5 ml``; a lost one is ``-``."""
    form = "catch injectors full 35s 80 81 79.5 - 80 80.5 ml"
    content = _shared(pairs)
    words = list(plain)
    if not words or words[0] not in THROUGH:
        if not words:
            raise FieldProblem(
                "through", None, "is missing from the catch", allowed=f"lines or injectors, like: {form}"
            )
        raise unknown("through", words[0], THROUGH, kind="way to catch")
    through = words.pop(0)
    opening = words.pop(0) if words else ""
    if opening not in OPENINGS and words and words[0] in ("mm", "in"):
        opening = f"{opening} {words.pop(0)}"
    if not words:
        raise FieldProblem("duration", None, "is missing from the catch", remedy=f"Write it like: {form}")
    duration = words.pop(0)
    if NUMBER.fullmatch(duration) and words and words[0] in ("s", "sec", "min"):
        duration = f"{duration} {words.pop(0)}"
    content = {
        "through": through,
        "opening": opening,
        "duration": duration,
        "amounts": listed_amounts(words, "amounts", "the catch", form),
        **content,
    }
    if "swap" in pairs:
        content["swaps"] = [part.strip() for part in pairs.pop("swap").split(",")]
    if pairs.pop("discard", "") in ("yes", "true"):
        content["discard"] = True
    for name in ("temperature", "fuel", "tare", "liquid"):
        if name in pairs:
            content[name] = pairs.pop(name)
    _nothing_left(pairs, "a catch")
    return "catch", content


def _move(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    content = _shared(pairs)
    words = list(plain)
    name = []
    while words and not _AMOUNT_BEGINS.match(words[0]):
        name.append(words.pop(0))
    if name and not words and plain_name(" ".join(name)) not in known.part_names:
        raise FieldProblem(
            "turns", " ".join(name), "is no size of a move, and no screw",
            remedy="Write it like: move +1/8 turn (clockwise is plus)",
        )  # fmt: skip
    part = known.part(" ".join(name)).id if name else "mixture_screw"
    if not words:
        raise FieldProblem(
            "turns", None, "is missing", remedy="Write it like: move +1/8 turn (clockwise is plus)"
        )
    said: dict[str, str] = {name: pairs.pop(name) for name in ("approach", "mark") if name in pairs}
    _nothing_left(pairs, "a move")
    return "move", {"part": part, "turns": " ".join(words), **said, **content}


def _step(done: bool) -> Callable[[Sequence[str], dict[str, str], Catalogue], Typed]:
    def read(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
        content = _shared(pairs)
        if not plain:
            raise FieldProblem("step", None, "is missing", remedy="See: evenpour path JOB")
        content = {"id": plain[0], "done": done, **content}
        rest = list(plain[1:])
        _take_cylinder(content, pairs, rest)
        reason = pairs.pop("reason", None)
        if reason is None and not done:
            reason = " ".join(rest)
            rest = []
        if reason:
            content["reason"] = reason
        if rest:
            raise FieldProblem(
                "step",
                " ".join(rest),
                "does not belong behind a step",
                allowed="a cylinder, who=, note=, reason=",
            )
        _nothing_left(pairs, "a step")
        return "step", content

    return read


def _take_cylinder(
    content: dict[str, Any], pairs: dict[str, str], rest: list[str], last: bool = False
) -> None:
    """``cylinder=4``, or a bare number as the first (or *last*) of the words left."""
    cylinder = pairs.pop("cylinder", None)
    place = -1 if last else 0
    if cylinder is None and rest and rest[place].isdigit():
        cylinder = rest.pop(place)
    if cylinder is not None:
        content["cylinder"] = _cylinder(cylinder)


def _happened(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    content = _shared(pairs)
    words = list(plain)
    _take_cylinder(content, pairs, words, last=True)
    if not words:
        raise FieldProblem("happened", None, "is missing", allowed=", ".join(known.happenings))
    _nothing_left(pairs, "a happening")
    return "happened", {"what": plain_name(" ".join(words)), **content}


def _caution(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    content = _shared(pairs)
    if not plain:
        raise FieldProblem("caution", None, "is missing", allowed=", ".join(known.cautions))
    _nothing_left(pairs, "a caution")
    return "caution", {"id": plain_name(" ".join(plain)), **content}


def _override(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    content = _shared(pairs)
    words = list(plain)
    if not words:
        raise FieldProblem(
            "override", None, "names nothing", allowed="a claim, a caution, or an item on the put-back list"
        )
    bracketed = _TARGET.fullmatch(words[-1])
    if bracketed:
        words[-1:] = [bracketed[1], bracketed[2]]
    _take_cylinder(content, pairs, words, last=len(words) > 1)
    name = plain_name(" ".join(words))
    claims = {table["id"] for table in known.claims} | set(known.cautions)
    if name in claims:
        content = {"claim": name, **content}
    elif name in known.part_names:
        content = {"item": known.part_names[name], **content}
    else:
        raise unknown(
            "override",
            name,
            sorted(claims | set(known.part_names)),
            kind="claim, caution or item to put back",
        )
    if "reason" in pairs:
        content["reason"] = pairs.pop("reason")
    _nothing_left(pairs, "an override")
    return "override", content


def _note(words: Sequence[str]) -> Typed:
    """Everything is its text, in the order typed, but for who and photo."""
    _, pairs = split_pairs([word for word in words if word.split("=")[0] in ("who", "photo") and "=" in word])
    text = [word for word in words if not (word.split("=")[0] in ("who", "photo") and "=" in word)]
    return "note", {**pairs, "text": " ".join(text)}


def _instrument(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    if not plain:
        raise FieldProblem(
            "instrument", None, "has no id", remedy='Write it like: instrument gauge range="6 bar" class=1.0'
        )
    content: dict[str, Any] = {"id": plain[0], "kind": " ".join(plain[1:]) or "instrument"}
    for name, text in pairs.items():
        content[name] = accuracy_class(text) if name == "class" else text
    return "instrument", content


def _conditions(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    return "conditions", dict(pairs)


def _correct(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    """``correct reading-3 reason="wrong scale" system 4.9 bar``"""
    reason = pairs.pop("reason", None)
    if len(plain) < 2:
        form = 'correct reading-3 reason="wrong scale" system 4.9 bar'
        raise FieldProblem(
            "correct", None, "needs an entry and its new content", remedy=f"Write it like: {form}"
        )
    _, new = entry_of([*plain[1:], *(f"{name}={text}" for name, text in pairs.items())], known)
    return "correction", {"of": plain[0], "new": new, **({"reason": reason} if reason else {})}


def _withdraw(plain: Sequence[str], pairs: dict[str, str], known: Catalogue) -> Typed:
    content = _shared(pairs)
    if not plain:
        raise FieldProblem("withdraw", None, "names no entry", remedy="See the ids in: evenpour job show JOB")
    reason = pairs.pop("reason", None) or " ".join(plain[1:])
    _nothing_left(pairs, "a withdrawal")
    return "correction", {
        "of": plain[0],
        "withdrawn": True,
        **({"reason": reason} if reason else {}),
        **content,
    }


def _nothing_left(pairs: Mapping[str, str], kind: str) -> None:
    for name, text in pairs.items():
        raise FieldProblem(name, text, f"does not belong to {kind}")


_READ: Mapping[str, Callable[[Sequence[str], dict[str, str], Catalogue], Typed]] = {
    "catch": _catch,
    "move": _move,
    "done": _step(True),
    "passed": _step(False),
    "happened": _happened,
    "read": _caution,
    "override": _override,
    "instrument": _instrument,
    "conditions": _conditions,
    "correct": _correct,
    "withdraw": _withdraw,
}
