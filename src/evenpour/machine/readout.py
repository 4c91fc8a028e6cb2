"""Cars in front of one's eyes: each state worked out once, however many readings are taken in it."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np

from evenpour.machine.engine_off import (
    Ports,
    Poured,
    Pressures,
    Supplied,
    ports,
    pour,
    pour_together,
    pressures_together,
    supplied,
)
from evenpour.machine.exhaust import Gas, exhaust
from evenpour.machine.holding import held, held_together
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Cars
from evenpour.machine.running import Running, run, run_together
from evenpour.machine.set_up import SetUp
from evenpour.machine.situation import Situation

State = TypeVar("State")
#: Cars with something altered for a moment, made of those in front of one's eyes: a function by its name.
Altered = Callable[["Readout"], Cars]
#: What is solved for, and in which circumstances.
Solved = tuple[str, Any]
_SOLVED = ("running", "altered", "pressures", "pour", "held")


@dataclass(frozen=True)
class Query:
    """One thing to be read: a check, on a cylinder where it has one, in a situation.

    Attributes:
        cylinder: Of a catch the port (see `evenpour.machine.line_map`).
        stated: The reading's conditions that are not part of the situation, in SI or as words: ``after``,
            ``blocked``, ``temperature``, ``duration``, ``soak``, ``where``, ``speed`` ...
    """

    check: str
    situation: Situation
    cylinder: int | None = None
    stated: Mapping[str, float | str] = field(default_factory=dict)

    def number(self, name: str, fallback: float) -> float:
        """A condition's value, SI."""
        found = self.stated.get(name, fallback)
        return fallback if isinstance(found, str) else found

    def word(self, name: str, fallback: str) -> str:
        """A condition's choice."""
        found = self.stated.get(name, fallback)
        return found if isinstance(found, str) else fallback


class Readout:
    """Many cars of one kind, and what has been worked out of them so far."""

    def __init__(self, kind: Kind, cars: Cars, screws: SetUp) -> None:
        self.kind, self.cars, self.screws = kind, cars, screws
        self._kept: dict[tuple[str, Hashable], Any] = {}

    def pressures(self, situation: Situation) -> Pressures:
        """Pump on, engine off, plate at rest."""
        return self._once("pressures", situation, lambda: self._supplied(situation).pouring(None)[0])

    def pour(self, situation: Situation) -> Poured:
        """A flow test."""

        def work() -> Poured:
            supply, open_to = self._supplied(situation), self._ports(situation)
            return pour(self.kind, self.cars, self.screws, situation, supply, open_to)

        return self._once("pour", situation, work)

    def _supplied(self, at: Situation) -> Supplied:
        volts, heater = (at.engine, at.pump_voltage), (at.heater_time, at.heater_voltage, at.heater_fed)
        key = (volts, heater, at.regulator_temperature, at.ambient_temperature, at.vacuum)
        return self._once("supplied", key, lambda: supplied(self.cars, at))

    def _ports(self, at: Situation) -> Ports:
        behind = (at.lines, at.line_at, at.injector_at)
        key = (behind, at.fuel, at.fuel_density, at.ambient_temperature)
        return self._once("ports", key, lambda: ports(self.kind, self.cars, at))

    def running(self, situation: Situation, altered: Altered | None = None) -> Running:
        """The engine running; with a parameter *altered* for a moment."""
        if altered is None:
            return self._once("running", situation, lambda: run(self.kind, self.cars, self.screws, situation))
        return self._once(
            "altered", (situation, altered), lambda: run(self.kind, altered(self), self.screws, situation)
        )

    def held(self, situation: Situation, time: float, blocked: str) -> tuple[Any, Any]:
        """What is left *time* [s] after the stop: see `evenpour.machine.holding.held`."""
        system = self.pressures(situation).system
        return self._once("held", (situation, time, blocked), lambda: held(self.cars, system, time, blocked))

    @property
    def solved(self) -> tuple[Solved, ...]:
        """What was solved for, in the order in which it was asked for."""
        return tuple(one for one in self._kept if one[0] in _SOLVED)

    def solve(self, wanted: Sequence[Solved]) -> None:
        """Solve for these, all of one kind together: that costs less than one after the other."""
        keys = {what: [key for name, key in wanted if name == what] for what in _SOLVED}
        engines = [(self.cars, at) for at in keys["running"]] + [
            (how(self), at) for at, how in keys["altered"]
        ]
        ran = run_together(self.kind, [(cars, self.screws, at) for cars, at in engines])
        self._put("running", keys["running"], ran[: len(keys["running"])])
        self._put("altered", keys["altered"], ran[len(keys["running"]) :])
        if keys["pressures"]:
            supplies = [self._supplied(at) for at in keys["pressures"]]
            self._put("pressures", keys["pressures"], pressures_together(supplies, len(self.cars)))
        asked = [(at, self._supplied(at), self._ports(at)) for at in keys["pour"]]
        self._put("pour", keys["pour"], pour_together(self.kind, self.cars, self.screws, asked))
        if keys["held"]:
            stops = [(self.pressures(at).system, time, blocked) for at, time, blocked in keys["held"]]
            self._put("held", keys["held"], held_together(self.cars, stops))

    def _put(self, what: str, keys: Sequence[Hashable], found: Sequence[Any]) -> None:
        self._kept.update(zip(((what, key) for key in keys), found, strict=True))

    def gas(self, situation: Situation) -> Gas:
        """Its exhaust."""
        return self._once("gas", situation, lambda: exhaust(self.cars, self.running(situation), situation))

    def balanced(self, situation: Situation) -> Any:
        """Which cars found a balance in all that was worked out in a situation; shape (cars,)."""
        found = np.ones(len(self.cars), dtype=bool)
        for (_, key), state in self._kept.items():
            if key == situation and isinstance(state, Pressures | Poured | Running):
                found &= state.converged
        return found

    def of(self, parameter: str, query: Query) -> Any:
        """A parameter, of the query's cylinder where each has its own; shape (cars,)."""
        values = self.cars[parameter]
        return values if values.ndim == 1 else values[(query.cylinder or 1) - 1]

    def _once(self, what: str, key: Hashable, work: Callable[[], State]) -> State:
        if (what, key) not in self._kept:
            self._kept[what, key] = work()
        found: State = self._kept[what, key]
        return found
