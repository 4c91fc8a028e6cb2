"""Times, and the words of a step with this sheet's figures in them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date

from evenpour.errors import FieldProblem
from evenpour.job import times
from evenpour.job.answers import CatchAnswer, ClaimAnswer, PartAnswer, PartName
from evenpour.job.catalogue import Catalogue
from evenpour.job.port_words import where_words
from evenpour.machine.sheet import Sheet
from evenpour.measure.limits import limit_words
from evenpour.measure.readings import Condition, read_condition
from evenpour.measure.units import range_shown, shown, unit_for
from evenpour.measure.verdicts import SURE, SURE_NOT
from evenpour.path.words import cylinder_list, told_by_cylinder

__all__ = [
    "MANUAL",
    "catch_verdict",
    "cylinder_list",
    "doubt_words",
    "even_words",
    "filled",
    "in_doubt",
    "key_inside",
    "key_words",
    "likelihood",
    "limits_in_words",
    "part_found",
    "part_name",
    "part_words",
    "placeholders",
    "shares",
    "sheet_value_words",
    "surely_off",
    "told_of_each",
    "when_said",
]  # fmt: skip

_PLACE = re.compile(r"\{([a-z_]+)(?::([^{}|]+))?(?:\|([^{}]+))?\}")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November",
    "December",
)  # fmt: skip
HARDLY_BOTH = 105.0  # per cent, of the shares of an either-or: above it several may well be off together
MANUAL = "what the engine's manual says (this sheet does not know)"


def when_said(at: str | None) -> str:
    """A time as people say it: ``3 May 2026, 10:12``; ``at a time not noted`` where nobody said."""
    if not at:
        return "a time not noted"
    moment = times.instant(at)
    return f"{moment.day} {_MONTHS[moment.month - 1]} {moment.year}, {moment:%H:%M}"


def day_said(day: date) -> str:
    """``3 May 2026``."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def told_of_each(claims: Sequence[ClaimAnswer]) -> str:
    """Why one claim stands as it does for some cylinders: what is said alike of all once, else of which."""
    said: dict[str, list[int]] = {}
    for claim in claims:
        if claim.why:
            said.setdefault(claim.why, []).extend(() if claim.cylinder is None else (claim.cylinder,))
    return told_by_cylinder(said) if len(said) > 1 else "".join(said)


def key_words(key: str) -> str:
    """``lines:idle`` as people say it: ``Bare lines, idle opening``."""
    through, opening = key.split(":", 1)
    named = f"{opening} opening" if opening.isalpha() else f"{opening} of lift"
    return f"{'Bare lines' if through == 'lines' else 'Through injectors'}, {named}"


def key_inside(key: str) -> str:
    """The same inside a sentence: ``bare lines, idle opening``."""
    words = key_words(key)
    return f"{words[:1].lower()}{words[1:]}"


def filled(text: str, sheet: Sheet, known: Catalogue, system: str = "metric") -> str:
    """A step's text with every placeholder replaced by this sheet's figure, in the user's units."""

    def figure(found: re.Match[str]) -> str:
        name, of, conditions = found.groups()
        return _figure(name, of or "", _stated(conditions, known), sheet, system, found[0])

    return _PLACE.sub(figure, text)


def placeholders(text: str) -> list[tuple[str, str, str]]:
    """Every placeholder of a text: name, what of, conditions."""
    return [(name, of or "", conditions or "") for name, of, conditions in _PLACE.findall(text)]


def _stated(conditions: str | None, known: Catalogue) -> Mapping[str, Condition]:
    pairs = (part.split("=", 1) for part in (conditions or "").split(",") if part)
    return {name.strip(): read_condition(known.kinds[name.strip()], text.strip()) for name, text in pairs}


def _figure(
    name: str, of: str, conditions: Mapping[str, Condition], sheet: Sheet, system: str, whole: str
) -> str:
    if name == "n":
        return str(sheet.cylinders)
    if name == "sheet":
        return sheet_value_words(sheet, of, system)
    if name == "limit":
        return limits_in_words(sheet, of, conditions, system)
    if name == "opening":
        return sheet_value_words(sheet, f"opening_{of}", system)
    if name == "evenness":
        limit = sheet.evenness_limits().get(of)
        return MANUAL if limit is None else range_shown(None, limit, "share", system)
    if name in ("lift", "raise"):
        up = sheet.word("plate_opens") != "down"
        return {"lift": ("pressed down", "lifted"), "raise": ("press down", "lift")}[name][up]
    raise FieldProblem("text", whole, "is no placeholder of a step")


def sheet_value_words(sheet: Sheet, name: str, system: str) -> str:
    """A value of the sheet in the user's units, or that the manual decides."""
    value = sheet.values.get(name)
    if value is None:
        return MANUAL
    if value.dimension is not None and isinstance(value.value, float):
        # What the system has no unit of its own for stays as typed: degrees of dwell, litres of displacement.
        own = unit_for(value.dimension, system) != unit_for(value.dimension, "metric")
        if system != "metric" and own and name != "displacement":
            return shown(value.value, value.dimension, system)
    return value.text


def limits_in_words(sheet: Sheet, check: str, conditions: Mapping[str, Condition], system: str) -> str:
    """The limits of a check that do not contradict *conditions*, in words."""
    fitting = [
        limit
        for limit in sheet.limits_for(check)
        if all(
            match.name not in conditions or match.holds(conditions[match.name])
            for match in limit.when.values()
        )
    ]
    if not fitting:
        return MANUAL
    return "; ".join(dict.fromkeys(limit_words(limit, system, conditions or None) for limit in fitting))


def likelihood(p: float | None) -> str:
    """A probability in per cent that never claims to be certain."""
    if p is None:
        return ""
    if p > 0.995:
        return "over 99 %"
    if p < 0.005:
        return "under 1 %"
    return f"{100.0 * p:.0f} %"


def even_words(even: float | None) -> tuple[str, str]:
    """Whether a kind of catch is even, and how sure that is: ``("even", "over 99 % sure")``."""
    if even is None:
        return "cannot tell", ""
    if even >= SURE:
        return "even", f"{likelihood(even)} sure"
    if even <= SURE_NOT:
        return "uneven", f"{likelihood(1.0 - even)} sure"
    return "cannot tell", f"{likelihood(even)} that it is even"


def catch_verdict(answer: CatchAnswer, key: str) -> tuple[str, str]:
    """Whether a kind of catch is even, and how sure that is; one caught before a part in it was changed
    tells of what was, not of what is: ``("catch again", "it was uneven, but ...")``.
    """
    verdict, sure = even_words(answer.even_by_run[key])
    if key not in answer.outdated:
        return verdict, sure
    was = verdict if verdict in ("even", "uneven") else "not to be told"
    return "catch again", f"it was {was}, but a part was changed since"


def part_name(part: PartName) -> str:
    """``injector 4``; where its port feeds another cylinder ``injector of cylinder 4 (fed by port 2)``,
    ``line of port 2 (feeding cylinder 4)``: as causes and repairs name the place.

    It belongs to a port, which need not be where it hangs: that is said after it, see ``hangs``.
    """
    if part.feeds is None:
        return f"{part.part} {part.cylinder}"
    place, _, fed = where_words(part.part, [(part.feeds, part.cylinder)]).partition(", ")
    return f"{place if part.part == 'port' else f'{part.part} of {place}'} ({fed})"


def part_found(part: PartName) -> str:
    """The same, with where it hangs now if it was exchanged: ``injector 4, now at port 1, ...``."""
    return f"{part_name(part)}, {part.hangs}" if part.hangs else part_name(part)


def part_words(part: PartAnswer, share: float | None = None) -> str:
    """What the catches say of a part: ``injector 4: 18 ± 2 % short, over 99 % sure``.

    *share* is its probability of being off as it is told beside others, see :func:`shares`.

    While the blame is shared, the mean deviation mixes "off by so much" with "not off at all". Nearly all of
    it comes from the former, so that divided by its probability it is the size if this part is the one.
    """
    name, way = part_found(part), "short" if part.deviation < 0.0 else "over"
    if part.p_off >= SURE:
        size = abs(part.deviation)
        digits = 0 if size >= 0.1 else 1
        return (
            f"{name}: {100.0 * size:.{digits}f} ± {200.0 * part.u:.{digits}f} % {way}, "
            f"{likelihood(part.p_off)} sure"
        )
    told = part.p_off if share is None else share
    return f"{name}: {likelihood(told)} likely to be off; if so, {size_if_off(part)}"


def doubt_words(answer: CatchAnswer) -> list[str]:
    """What the catches say of each part that may well be off, the likeliest first."""
    told = shares(answer)
    return [part_words(part, told[part.part, part.cylinder]) for part in in_doubt(answer)]


def shares(answer: CatchAnswer) -> dict[tuple[str, int], float]:
    """How likely each part is to be off, by kind and number, as it is told: of those of which one is off and
    the catches cannot say which, whole per cents that come to no more than a hundred.
    """
    told: dict[tuple[str, int], float] = {(part.part, part.cylinder): part.p_off for part in answer.parts}
    for group in answer.undivided:
        exact = {(one.part, one.cylinder): 100.0 * told[one.part, one.cylinder] for one in group}
        whole = {name: round(share) for name, share in exact.items()}
        over = sum(whole.values()) - 100
        if over > 0 and sum(exact.values()) < HARDLY_BOTH:
            most_rounded_up = sorted(whole, key=lambda name: exact[name] - whole[name])
            told |= {name: (whole[name] - 1) / 100.0 for name in most_rounded_up[:over]}
    return told


def size_if_off(part: PartAnswer) -> str:
    """``about 18 % short``: how far off a part is if it is off at all."""
    way = "short" if part.deviation < 0.0 else "over"
    size = abs(part.deviation) / part.p_off
    if way == "short":
        size = min(size, 1.0)  # nothing is short by more than all it has
    return f"about {100.0 * size:.{0 if size >= 0.1 else 1}f} % {way}"


def surely_off(answer: CatchAnswer) -> list[PartAnswer]:
    """The parts fitted now of which it is sure that they are off."""
    return [part for part in answer.parts if part.p_off >= SURE]


def in_doubt(answer: CatchAnswer) -> list[PartAnswer]:
    """The parts that may well be off, the likeliest first."""
    return sorted((part for part in answer.parts if part.p_off > SURE_NOT), key=lambda part: -part.p_off)
