"""What one car is made of: its parameters in their order, and many cars at once as rows and columns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import FieldProblem, unknown
from evenpour.machine.some import PerCar
from evenpour.measure.plain import flag_of, only, text_of
from evenpour.measure.quantities import parse
from evenpour.measure.unit_table import DIMENSIONS, step_of

Values = NDArray[np.float64]

#: What a spread may be counted in, where a parameter takes nothing a person would state: a share of one.
_SHARE = "share"


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of a car. SI.

    Attributes:
        dimension: What a person states it in; ``None`` where only a fault or the spread turns it.
        spread: One standard deviation between healthy cars; a share where *relative*, else SI; 0 for none.
        relative: The spread multiplies (log-normal) instead of adding.
    """

    id: str
    title: str
    per_cylinder: bool
    dimension: str | None
    spread: float
    relative: bool


def parameter_from(plain: Mapping[str, object]) -> Parameter:
    """A parameter as the data states it.

    Raises:
        FieldProblem: a field is missing, unknown, or of the wrong kind.
    """
    only(plain, ("id", "title", "takes", "spread", "per_cylinder"), "a car's parameter")
    name = text_of(plain, "id")
    dimension = text_of(plain, "takes", "") or None
    if dimension is not None and dimension not in DIMENSIONS:
        raise unknown("takes", dimension, DIMENSIONS, kind="kind of quantity")
    stated = text_of(plain, "spread", "")
    spread, relative = 0.0, False
    if stated:
        kinds = (_SHARE,) if dimension in (None, _SHARE) else (step_of(dimension), _SHARE)
        quantity = parse(stated, kinds, field=f"spread of {name}")
        spread, relative = quantity.value, quantity.dimension == _SHARE and dimension != _SHARE
        if spread <= 0.0:
            raise FieldProblem(
                "spread", stated, f"of {name} is not above zero", remedy="Leave it out for none"
            )
    title, each = text_of(plain, "title"), flag_of(plain, "per_cylinder", False)
    return Parameter(name, title, each, dimension, spread, relative)


@dataclass(frozen=True, slots=True)
class Blueprint:
    """The parameters of one engine's cars, and in which rows they stand.

    Attributes:
        centre: The middle of each row, shape (rows,).
        spread: One standard deviation of each row, shape (rows,); 0 where all cars are alike.
        relative: Which rows the spread multiplies, shape (rows,).
    """

    parameters: tuple[Parameter, ...]
    cylinders: int
    rows: Mapping[str, slice]
    centre: Values
    spread: Values
    relative: NDArray[np.bool_]

    @property
    def free(self) -> NDArray[np.intp]:
        """The rows in which healthy cars differ: one standard normal number each."""
        return np.flatnonzero(self.spread)

    def named(self, id_: str) -> Parameter:
        """The parameter *id_*.

        Raises:
            UnknownName: there is none.
        """
        for one in self.parameters:
            if one.id == id_:
                return one
        raise unknown("parameter", id_, tuple(one.id for one in self.parameters), kind="parameter of a car")

    def where(self, id_: str, cylinder: int | None) -> slice:
        """The rows of a parameter; of one cylinder where *cylinder* says which, counted from 1."""
        rows = self.rows[id_]
        if cylinder is None or rows.stop - rows.start == 1:
            return rows
        return slice(rows.start + cylinder - 1, rows.start + cylinder)

    def cars(self, draws: Values, widening: float = 1.0) -> Cars:
        """Healthy cars from standard normal numbers.

        Args:
            draws: Shape (cars, free rows); zeros give the car in the middle.
            widening: Factor on every spread, for cars odder than the data says.
        """
        return self.drawn(self.free, widening * self.spread[self.free], draws)

    def drawn(self, rows: NDArray[np.intp], spread: Values, draws: Values) -> Cars:
        """Cars that differ in *rows* only, by *draws*, shape (cars, len(rows)), times *spread*. Hot."""
        values = np.empty((len(self.centre), len(draws)))
        values[:] = self.centre[:, None]
        for row, width, draw in zip(rows, spread, draws.T, strict=True):
            moved = width * draw
            if self.relative[row]:
                values[row] *= np.exp(moved)
            else:
                values[row] += moved
        return Cars(self.rows, values)


def blueprint(parameters: Sequence[Parameter], cylinders: int, centre: Mapping[str, float]) -> Blueprint:
    """Put parameters in rows.

    Args:
        parameters: In the order of the data.
        centre: The middle of each, by id; SI.
    Raises:
        UnknownName: the data names a parameter the model does not know, or leaves one out that it needs.
    """
    ids = tuple(one.id for one in parameters)
    _agree(ids, tuple(centre))
    rows, start = {}, 0
    for one in parameters:
        rows[one.id] = slice(start, start + (cylinders if one.per_cylinder else 1))
        start = rows[one.id].stop

    def spread_out(values: Iterable[Any]) -> Any:
        counts = [rows[one.id].stop - rows[one.id].start for one in parameters]
        return np.repeat(np.array(list(values)), counts)

    return Blueprint(
        tuple(parameters),
        cylinders,
        rows,
        spread_out(centre[name] for name in ids).astype(np.float64),
        spread_out(one.spread for one in parameters).astype(np.float64),
        spread_out(one.relative for one in parameters),
    )


def _agree(stated: tuple[str, ...], known: tuple[str, ...]) -> None:
    for name in stated:
        if name not in known:
            raise unknown("parameter", name, known, kind="parameter of the model")
    for name in known:
        if name not in stated:
            raise FieldProblem(name, None, "is missing among the car's parameters")


@dataclass(frozen=True, slots=True)
class Cars(PerCar):
    """Many cars at once. ``values``: shape (rows, cars), SI."""

    rows: Mapping[str, slice]
    values: Values

    def __len__(self) -> int:
        return int(self.values.shape[1])

    def __getitem__(self, id_: str) -> Values:
        """One parameter of all cars: shape (cars,), or (cylinders, cars) where each cylinder has its own."""
        rows = self.rows[id_]
        found: Values = self.values[rows.start] if rows.stop - rows.start == 1 else self.values[rows]
        return found

    def part(self, some: slice) -> Cars:
        """Some of the cars; a view."""
        return Cars(self.rows, self.values[:, some])

    def copy(self) -> Cars:
        """The same cars, free to be changed."""
        return Cars(self.rows, self.values.copy())
