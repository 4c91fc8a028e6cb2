"""How many checks it takes until the right repair is nearly sure: the tool's, a fixed order, chance."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from cause_cars import KINDS, World, car, with_questions

from evenpour.causes.explanation import Explanation
from evenpour.causes.next_test import Candidate, held_by, ranked
from evenpour.causes.observed import Observation
from evenpour.job.engine_model import checks_predicted
from evenpour.job.sheet.found import known_checks
from evenpour.machine.checks import ChoiceCheck
from evenpour.machine.readout import Query
from simulated_cars import INSTRUMENT, STANDARD, questions

MORE = (
    "pump_voltage", "timing_static", "spark_seen", "injector_opening_pressure",
    "regulator_heater_resistance", "control_flow", "plate_rest_height",
)  # fmt: skip
#: The usual order of a handbook: easy looks, electrics, fuel supply, pressures, mixture bench, then running.
HANDBOOK = (
    "start_outcome", "idle_speed", "plug_look", "spark_seen", "timing_static", "pump_voltage",
    "regulator_heater_resistance", "system_pressure", "control_pressure_cold", "control_pressure_warm",
    "holding_pressure", "pump_delivery", "control_flow", "intake_smoke", "plate_rest_height",
    "plunger_return", "injector_opening_pressure", "onset", "catch", "manifold_vacuum", "exhaust_co",
    "exhaust_o2", "exhaust_hc", "exhaust_lambda", "hot_restart",
)  # fmt: skip
SURE = 0.8  # of the right repair, at which the search ends


@dataclass(frozen=True)
class Action:
    """One check as it is done in one go: all its cylinders, all its usual states."""

    check: str
    rows: tuple[int, ...]
    minutes: float


def actions_of(world: World) -> tuple[list[Query], list[Action]]:
    checks, _ = known_checks()
    asked: list[Query] = []
    found = []
    for name in HANDBOOK:
        assert name in STANDARD or name in MORE
        own = questions(world.kind, [name])
        rows = tuple(range(len(asked), len(asked) + len(own)))
        asked += own
        times = len(own) if checks[name].per_cylinder and name != "catch" else 1
        minutes = 50.0 if name == "catch" else checks[name].minutes * times
        found.append(Action(name, rows, minutes))
    return asked, found


def orders(world: World, key: Sequence[int], kind: str) -> dict[str, object] | None:
    """Checks and minutes that each way takes on one car; None where all checks together do not settle it."""
    asked, actions = actions_of(world)
    one = with_questions(car(world, key, sound=False, least=0.2), asked)
    readings = one.readings(world, KINDS[kind])
    remedies = np.array(world.remedies())
    same = remedies == remedies[one.fault]

    def sure(done: Sequence[int]) -> tuple[bool, Explanation]:
        rows = sorted(row for number in done for row in actions[number].rows)
        told = world.explained([readings[row] for row in rows])
        return bool(told.probability[same].sum() >= SURE), told

    everything = list(range(len(actions)))
    if not sure(everything)[0]:
        return None
    random = np.random.default_rng([*key, 7])
    shuffled = [int(number) for number in random.permutation(len(actions))]
    ways = {
        "tool": _tool(world, readings, actions, asked, sure),
        "handbook": everything[: _first(everything, lambda done: sure(done)[0])],
        "chance": shuffled[: _first(shuffled, lambda done: sure(done)[0])],
    }
    return {
        "kind": kind,
        "cause": world.listed[one.fault].id,
        "severity": one.severity,
        **{f"{name}_checks": len(done) for name, done in ways.items()},
        **{f"{name}_minutes": sum(actions[number].minutes for number in done) for name, done in ways.items()},
        "asked": [actions[number].check for number in ways["tool"]],
    }


def _first(order: Sequence[int], sure: Callable[[Sequence[int]], bool]) -> int:
    """How many of an order it takes until it is sure for the first time, as the tool's own way stops."""
    return next(count for count in range(1, len(order) + 1) if sure(order[:count]))


def _tool(
    world: World,
    readings: Sequence[Observation],
    actions: Sequence[Action],
    asked: Sequence[Query],
    sure: Callable[[Sequence[int]], tuple[bool, Explanation]],
) -> list[int]:
    """One check after the other, each the most telling a minute after those before."""
    done: list[int] = []
    while True:
        settled, told = sure(done) if done else (False, world.explained([]))
        if settled or len(done) == len(actions):
            return done
        done.append(_next(told, actions, asked, done))


def _next(told: Explanation, actions: Sequence[Action], asked: Sequence[Query], done: Sequence[int]) -> int:
    known = checks_predicted()
    left = [number for number in range(len(actions)) if number not in done]
    candidates, owner = [], []
    for number in left:
        for rows in _together(actions[number], asked):
            check = known[actions[number].check]
            u = INSTRUMENT.get(check.check, 0.02)
            relative = check.check not in INSTRUMENT
            candidates.append(Candidate(tuple((check, asked[row]) for row in rows), u, 1.0, relative))
            owner.append(number)
    gained: dict[int, float] = {}
    for worth in ranked([held_by(told)], candidates):
        number = owner[worth.candidate]
        gained[number] = gained.get(number, 0.0) + worth.information
    return max(left, key=lambda number: gained[number] / max(actions[number].minutes, 2.0))


def _together(action: Action, asked: Sequence[Query]) -> list[tuple[int, ...]]:
    """Columns whose information is worked out jointly: a catch's ports, a number at all cylinders."""
    if action.check != "catch":
        if isinstance(checks_predicted()[action.check], ChoiceCheck):
            return [(row,) for row in action.rows]
        return [action.rows]
    runs: dict[object, list[int]] = {}
    for row in action.rows:
        runs.setdefault(asked[row].situation, []).append(row)
    return [tuple(rows) for rows in runs.values()]
