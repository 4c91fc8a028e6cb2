"""Causes of trouble: each changes parameters of the car by its severity, and nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from evenpour.errors import FieldProblem, OutOfRange, unknown
from evenpour.machine.parameters import Blueprint, Cars, Parameter
from evenpour.measure.plain import flag_of, number_of, only, text_of, texts_of
from evenpour.measure.quantities import parse
from evenpour.measure.unit_table import step_of


@dataclass(frozen=True, slots=True)
class Act:
    """What a cause does to one parameter, from the least form (severity 0) to the gross one (1). SI.

    Attributes:
        factor: The parameter is multiplied, in even steps of its logarithm; else something is added.
        every: It does so to every cylinder's, though the cause itself is none of a cylinder.
    """

    parameter: str
    factor: bool
    least: float
    gross: float
    every: bool

    def at(self, severity: Any) -> Any:
        """What is multiplied or added at a severity from 0 to 1."""
        if self.factor:
            return np.exp(np.log(self.least) + severity * (np.log(self.gross) - np.log(self.least)))
        return self.least + severity * (self.gross - self.least)


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that can be wrong.

    Attributes:
        weight: How common, against the others; of a per-cylinder cause the sum over all cylinders.
        forms: What it does; two where it can go either way or shows in another way.
        also_share: How likely it is in its second form, where it has two.
        ways: What each of two forms is, in words.
        minutes, cost: Of the remedy, rough.
        same_as: The cause that has the same remedy, from which only opening the part tells it apart.
        also_only: The device without which its second form is no other than its first.
        mended_by: Further parts on which work can mend it too.
    """

    id: str
    title: str
    weight: float
    per_cylinder: bool
    only: str | None
    part: str
    remedy: str
    minutes: float
    cost: float
    forms: tuple[tuple[Act, ...], ...]
    ways: tuple[str, ...]
    same_as: str | None
    also_only: str | None
    mended_by: tuple[str, ...] = ()
    also_share: float = 0.5

    def form_of(self, sign: float) -> int:
        """The form that a signed severity means: the one that raises or lowers, else the first or second."""
        raises = [acts[0].gross > (1.0 if acts[0].factor else 0.0) for acts in self.forms]
        opposed = len({acts[0].parameter for acts in self.forms}) == 1 and len(set(raises)) == 2
        return raises.index(sign > 0.0) if opposed else int(sign < 0.0)


#: What the data may say of a cause.
FIELDS = (
    "id", "title", "weight", "per_cylinder", "only", "part", "remedy", "minutes", "cost", "acts", "also",
    "also_only", "also_share", "ways", "same_as", "mended_by", "several", "steps", "cautions",
)  # fmt: skip


def cause_from(plain: Mapping[str, Any], parameters: Mapping[str, Parameter]) -> Cause:
    """A cause as the data states it.

    Raises:
        FieldProblem: a field is missing or wrong.
        UnknownName: it acts on a parameter no car has.
    """
    only(plain, FIELDS, "a cause")
    name = text_of(plain, "id")
    forms = [plain.get("acts", []), *plain.get("also", [])]
    ways = tuple(str(one) for one in plain.get("ways", ()))
    if len(ways) != (len(forms) if len(forms) > 1 else 0):
        raise FieldProblem("ways", ways, f"of {name} is not one way in words for each of its two forms")
    share = number_of(plain, "also_share", 0.5)
    if not 0.0 < share < 1.0:
        raise OutOfRange("also_share", share, f"of {name} is no share", allowed="between 0 and 1")
    return Cause(
        name,
        text_of(plain, "title"),
        number_of(plain, "weight", 1.0),
        flag_of(plain, "per_cylinder", False),
        text_of(plain, "only", "") or None,
        text_of(plain, "part"),
        text_of(plain, "remedy"),
        number_of(plain, "minutes", 30.0),
        number_of(plain, "cost", 0.0),
        tuple(tuple(_act(name, one, parameters) for one in form) for form in forms),
        ways,
        text_of(plain, "same_as", "") or None,
        text_of(plain, "also_only", "") or None,
        texts_of(plain, "mended_by"),
        share,
    )


def _act(cause: str, plain: Mapping[str, Any], parameters: Mapping[str, Parameter]) -> Act:
    only(plain, ("on", "times", "add", "every"), f"an act of {cause}")
    on = text_of(plain, "on")
    if on not in parameters:
        raise unknown("on", on, parameters, kind="parameter of a car")
    factor = "times" in plain
    ends = plain.get("times" if factor else "add")
    if not isinstance(ends, Sequence) or len(ends) != 2:
        raise FieldProblem(
            "times" if factor else "add", ends, f"of {cause} is not two ends: the least and the gross"
        )
    if factor:
        least, gross = float(ends[0]), float(ends[1])
        if least <= 0.0 or gross <= 0.0:
            raise OutOfRange("times", min(least, gross), f"of {cause} is not above zero", allowed="above 0")
    else:
        dimension = parameters[on].dimension
        least, gross = (_added(end, dimension, cause) for end in ends)
    return Act(on, factor, least, gross, flag_of(plain, "every", False))


def _added(end: object, dimension: str | None, cause: str) -> float:
    if dimension is None:
        return float(str(end))
    text = str(end)
    less = text.startswith("-")  # a difference: 1.5 bar less is no pressure below a vacuum
    size = parse(text.lstrip("-"), step_of(dimension), field=f"add of {cause}").value
    return -size if less else size


def with_fault(
    plan: Blueprint, cars: Cars, cause: Cause, cylinder: int | None, severity: ArrayLike, form: int = 0
) -> Cars:
    """The same cars with *cause*.

    Args:
        cylinder: Of a per-cylinder cause, from 1.
        severity: From 0, barely noticeable, to 1, gross; a number or shape (cars,).
    Raises:
        OutOfRange: the severity or the cylinder is none.
    """
    severity = np.asarray(severity, dtype=np.float64)
    if not np.all((severity >= 0.0) & (severity <= 1.0)):
        raise OutOfRange(cause.id, float(np.ravel(severity)[0]), "is no severity", allowed="0 to 1")
    if cause.per_cylinder and (cylinder is None or not 1 <= cylinder <= plan.cylinders):
        raise OutOfRange(
            f"{cause.id}, cylinder", cylinder if cylinder is not None else "none", "is no cylinder",
            allowed=f"1 to {plan.cylinders}",
        )  # fmt: skip
    changed = cars.copy()
    act_on(plan, changed.values, cause, cylinder, severity, form)
    return changed


def act_on(
    plan: Blueprint, values: Any, cause: Cause, cylinder: int | None, severity: Any, form: int
) -> None:
    """Change *values*, shape (rows, cars), in place. Hot: nothing is checked."""
    for act in cause.forms[form]:
        rows = plan.where(act.parameter, cylinder if cause.per_cylinder and not act.every else None)
        if act.factor:
            values[rows] *= act.at(severity)
        else:
            values[rows] += act.at(severity)
