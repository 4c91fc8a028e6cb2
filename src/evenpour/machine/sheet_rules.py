"""What cannot be true together on one sheet, though each value alone could be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from evenpour.errors import FieldProblem
from evenpour.machine.sheet_form import Value
from evenpour.measure.limits import Limit

OPENINGS = ("opening_idle", "opening_part", "opening_full")


def contradictions(values: Mapping[str, Value]) -> Iterator[tuple[str, FieldProblem]]:
    """The values that contradict others, each with its problem.

    Args:
        values: By name, in SI; what is missing is not compared.
    """
    yield from _orders(values)
    yield from _openings(values)
    if values.get("lines_pinchable") not in (None, ("none",)) and "none" in _tuple(values["lines_pinchable"]):
        yield (
            "lines_pinchable",
            FieldProblem("lines_pinchable", None, "says none and a hose too", remedy="Leave one of them out"),
        )


def limits_twice(limits: Sequence[tuple[int, Limit]]) -> Iterator[tuple[int, FieldProblem]]:
    """Limits of one check that hold under the same conditions, by their index in the file."""
    seen: list[Limit] = []
    for index, limit in limits:
        if any(limit.check == other.check and limit.when == other.when for other in seen):
            yield (
                index,
                FieldProblem(
                    "check",
                    limit.check,
                    "has two limits for the same conditions",
                    remedy="Take one out, or tell them apart by when",
                ),
            )
        seen.append(limit)


def _orders(values: Mapping[str, Value]) -> Iterator[tuple[str, FieldProblem]]:
    cylinders = values.get("cylinders")
    if not isinstance(cylinders, int):
        return
    for name in ("firing_order", "line_map"):
        order = _tuple(values.get(name, ()))
        if order and sorted(order) != list(range(1, cylinders + 1)):
            yield (
                name,
                FieldProblem(
                    name,
                    "-".join(str(one) for one in order),
                    f"does not name each of {cylinders} cylinders once",
                    allowed=f"the numbers 1 to {cylinders}, each once",
                ),
            )


def _openings(values: Mapping[str, Value]) -> Iterator[tuple[str, FieldProblem]]:
    stated = [(name, value) for name in OPENINGS if isinstance(value := values.get(name), float)]
    for (smaller, low), (larger, high) in pairwise(stated):
        if not low < high:
            yield (
                larger,
                FieldProblem(larger, _mm(high), f"is not above {smaller} of {_mm(low)}"),
            )
    most = values.get("plate_lift_max", values.get("plate_diameter"))
    if isinstance(most, float):
        words = "the largest lift" if "plate_lift_max" in values else "the plate's own diameter"
        for name, lift in stated:
            if lift > most:
                yield (
                    name,
                    FieldProblem(name, _mm(lift), f"lies beyond the plate's travel: {words} is {_mm(most)}"),
                )


def _mm(length: float) -> str:
    return f"{1e3 * length:.4g} mm"


def _tuple(value: Value) -> tuple[int | str, ...]:
    return value if isinstance(value, tuple) else (str(value),)
