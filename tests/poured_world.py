"""Cars whose catches the engine's model pours, their lines and injectors narrowed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from evenness_world import Car
from evenpour.job.engine_model import kind_for
from evenpour.machine.engine_off import pour
from evenpour.machine.kind import Kind
from evenpour.machine.set_up import SetUp
from evenpour.machine.situation import Situation
from evenpour.machine.visibility import sight
from evenpour.measure.evenness import Evenness, evenness

#: What is usually caught of a car on which something is suspected: everything at two openings.
TWO_OPENINGS = (
    ("lines", "idle"),
    ("lines", "full"),
    ("injectors", "idle"),
    ("injectors", "full"),
    ("injectors", "full"),
)
FULL_HEAD = 4.9e5  # Pa, what a bare line has to push with


def flows(kind: Kind, through: str, opening: str, shares: Mapping[str, Sequence[float]]) -> list[float]:
    """Flow at each port, [m³/s], of the car in the middle.

    Args:
        shares: ``line_restriction`` and so on, by position: what is left of each one's flow.
    """
    cars = kind.blueprint.cars(np.zeros((1, len(kind.blueprint.free))))
    for parameter, row in shares.items():
        cars.values[cars.rows[parameter], 0] *= np.array(row)
    situation = Situation(opening=kind.design.openings[opening], lines=through == "lines")
    poured = pour(kind, cars, SetUp(np.zeros(1), np.zeros(1)), situation)
    return [float(flow) for flow in poured.fuel[:, 0]]


def lost(kind: Kind, through: str, opening: str, share: float) -> float:
    """Share that port 1 lacks against port 2 with line 1 narrowed to *share* of its flow."""
    shares = [share, *[1.0] * (kind.design.cylinders - 1)]
    first, second, *_ = flows(kind, through, opening, {"line_restriction": shares})
    return 1.0 - first / second


def kept(kind: Kind, through: str, opening: str, loss: float) -> float:
    """What is left of a line's flow, so that the catch lacks *loss* at its port."""
    low, high = 1e-3, 1.0
    for _ in range(20):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if lost(kind, through, opening, middle) > loss else (low, middle)
    return middle


def passes(kind: Kind, share: float) -> float:
    """What a narrowed line alone passes at full head, [m³/s]."""
    return share * kind.centre["line_restriction"] * math.sqrt(FULL_HEAD)


@dataclass
class Poured(Car):
    """One car of a sheet. ``narrow``: (kind, number) -> what is left of its flow for the root of pressure."""

    sheet: str = "flat-six"
    narrow: Mapping[tuple[str, int], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.kind = kind_for(self.sheet)
        self.cylinders = self.kind.design.cylinders
        super().__post_init__()

    def logs(self, through: str, opening: str, rows: Mapping[str, Sequence[int]]) -> list[float]:
        """Log of the flow the model pours at each position; a spare line is a good one."""
        shares = {
            parameter: [
                math.exp(self.harmless.get((kind, one), 0.0)) * self.narrow.get((kind, one + 1), 1.0)
                if one < self.cylinders
                else 1.0
                for one in rows[kind]
            ]
            for kind, parameter in (
                ("port", "slit_width"),
                ("line", "line_restriction"),
                ("injector", "injector_restriction"),
            )
        }
        poured = flows(self.kind, through, opening, shares)
        middle = sorted(poured)[len(poured) // 2]
        return [math.log(flow / middle) for flow in poured]

    def answer(self) -> Evenness:
        seen = sight(self.kind, ("idle", "part", "full"))
        limits = dict(self.kind.evenness)
        return evenness(self.runs, self.parts, limits, lines_swappable=self.lines_swappable, sight=seen)
