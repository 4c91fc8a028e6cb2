"""``evenpour whatif``: what everything on an engine would read, and do, with some things set otherwise.

The screws stay where they were set at home, on the healthy car at the sheet's usual place: height, weather,
fuel and faults move the car, its set-up stays, but for a fault in the form that it was set again since.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from evenpour.job.engine_model import kind_for
from evenpour.job.sheet.found import find_sheet, sheet_stamp
from evenpour.job.whatif.answers import (
    GroupTold,
    InsideTold,
    SettingTold,
    StateTold,
    WhatIfAnswer,
)
from evenpour.job.whatif.data import whatif_data
from evenpour.job.whatif.readings import Key, Line, Readings, Usual, lines, read, usual
from evenpour.job.whatif.settings import Settings, settings_from
from evenpour.job.whatif.states import (
    HealthyCurve,
    curve_told,
    healthy_curve,
    insides,
    states_told,
    usual_mixtures,
)
from evenpour.job.whatif.told import telling_words, told
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Readout
from evenpour.machine.set_up import set_since, set_up
from evenpour.machine.sheet import Sheet
from evenpour.machine.situation import Situation
from evenpour.measure.units import SYSTEMS, shown

DRAWS, SEED = 400, 1
COLD = "idle_cold"  # the state in which some of the fuel stays on the walls
TOLD = 8  # readings that are told in sentences
NOTES = (
    "Model and spread of healthy cars rest on common practice and on the sheet's typical values: directions "
    "are physics, sizes are rough.",
)


@dataclass(frozen=True, slots=True)
class Healthy:
    """A sheet's engine with nothing set: the car in the middle, and what many healthy ones show.

    ``asked`` and ``states``: by system of units.
    """

    sheet: Sheet
    kind: Kind
    home: Situation
    seen: Readout
    asked: Mapping[str, tuple[Line, ...]]
    states: Mapping[str, Mapping[str, InsideTold]]
    readings: Readings
    usual: dict[Key, Usual]
    curve: HealthyCurve
    mixtures: Mapping[str, tuple[float, float]]


def whatif(sheet: str, settings: Sequence[str] = (), *, units: str | None = None) -> WhatIfAnswer:
    """What becomes of an engine.

    Args:
        sheet: A sheet's name or path.
        settings: As typed: ``"altitude=2000m"``, ``"injector_restricted[4]=0.5"``.
        units: ``metric``, ``us`` or ``imperial``; metric if not given.
    Raises:
        FieldProblem, Problems: a setting that cannot be understood, or cannot be on this engine.
    """
    system = units or "metric"
    healthy = healthy_engine(sheet)
    chosen = settings_from(settings, healthy.kind, healthy.home, healthy.seen.cars, system)
    kind, before = healthy.kind, healthy.seen.screws
    screws = set_since(kind.design, kind.torque, kind.funnel, chosen.set_up_as, healthy.home, before)
    now = Readout(kind, chosen.cars, screws)
    asked = healthy.asked[system]
    if chosen.conditions:
        asked = lines(healthy.kind, healthy.sheet, chosen.situation, chosen.conditions, system)
    found = read(now, asked)
    rows = [
        told(line, found, healthy.readings, healthy.usual[line.key], healthy.sheet, system)
        for line in asked
        if line.key in healthy.usual
    ]
    states = states_told(now, chosen.situation, healthy.states[system], healthy.mixtures, system)
    shown_groups = {one.reading.group for one in rows}
    return WhatIfAnswer(
        sheet=healthy.sheet.id,
        title=healthy.sheet.title,
        notice=healthy.sheet.notice,
        home=home_words(healthy.home, system),
        settings=_settings(chosen),
        summary=summary(states),
        telling=telling_words(rows, TOLD),
        groups=[
            GroupTold(group=id_, title=title)
            for id_, title in whatif_data().groups.items()
            if id_ in shown_groups
        ],
        readings=[one.reading for one in rows],
        states=states,
        curve=curve_told(now, chosen.situation, healthy.curve, states, healthy.sheet),
        notes=list(NOTES),
    )


def healthy_engine(sheet: str) -> Healthy:
    """A sheet's engine with nothing set; kept until its file changes."""
    return _healthy(sheet, sheet_stamp(sheet))


@lru_cache(maxsize=16)
def _healthy(name: str, stamp: float) -> Healthy:
    sheet, kind = find_sheet(name), kind_for(name)
    home = home_of(sheet)
    free = len(kind.blueprint.free)
    middle = _set_up(kind, np.zeros((1, free)), home)
    many = _set_up(kind, np.random.default_rng(SEED).standard_normal((DRAWS, free)), home)
    by_system = {system: lines(kind, sheet, home, {}, system) for system in SYSTEMS}
    asked = by_system["metric"]
    return Healthy(
        sheet,
        kind,
        home,
        middle,
        by_system,
        {system: insides(middle, home, system) for system in SYSTEMS},
        read(middle, asked),
        usual(asked, read(many, asked)),
        healthy_curve(middle, many, home),
        usual_mixtures(many, home),
    )


def _set_up(kind: Kind, draws: NDArray[np.float64], home: Situation) -> Readout:
    cars = kind.blueprint.cars(draws)
    return Readout(kind, cars, set_up(kind.design, kind.torque, kind.funnel, cars, home))


def home_of(sheet: Sheet) -> Situation:
    """Where a sheet's car was set up: the usual air, height and fuel."""
    density = sheet.number("fuel_reference_density")
    return Situation() if density is None else Situation(fuel_density=density)


def home_words(home: Situation, system: str) -> str:
    """``Screws set at 20 °C, 200 m above the sea, on E5.``"""
    air = shown(float(home.ambient_temperature), "temperature", system)
    height = shown(float(home.altitude), "length", system, unit="ft" if system != "metric" else "m")
    return f"Screws set at {air}, {height} above the sea, on E{100.0 * home.fuel:g}."


def _settings(chosen: Settings) -> list[SettingTold]:
    return [
        SettingTold(
            name=one.name,
            cylinder=one.cylinder,
            kind=one.kind,
            typed=one.typed,
            severity=one.severity,
            words=one.words,
            does=list(one.does),
        )
        for one in chosen.told
    ]


def summary(states: Sequence[StateTold]) -> list[str]:
    """What becomes of the engine, state by state."""
    return [_state_sentence(state) for state in states if state.runs is not None]


def _state_sentence(state: StateTold) -> str:
    title = f"{state.title[:1].upper()}{state.title[1:]}"
    usual_words = f"lambda {state.healthy.lambda_:.3f}"
    if state.state.startswith("idle"):
        usual_words = f"{state.healthy.shown['speed']}, {usual_words}"
    if state.healthy_low is not None:
        usual_words += f"; nine of ten cars {state.healthy_low:.3f} to {state.healthy_high:.3f}"
    if state.now is None:
        return f"{title}: {state.words} (healthy: {usual_words})."
    wet = f" {_wet_words(state.now, state.healthy)}" if state.state == COLD else ""
    return f"{title}: {state.words}, lambda {state.now.lambda_:.3f} (healthy: {usual_words}).{wet}"


def _wet_words(now: InsideTold, healthy: InsideTold) -> str:
    """What of the mixture burns in a cold engine, which runs at a lambda at which none would."""
    here, usual = (f"{_as_it_burns(one):.3f}" for one in (now, healthy))
    return f"Some of that fuel only wets cold walls; what burns, burns at lambda {here} (healthy: {usual})."


def _as_it_burns(found: InsideTold) -> float:
    """Lambda of all cylinders together, of the fuel that burns."""
    burning = [(one.lambda_, one.fuel_ml_per_min) for one in found.ports if one.lambda_ is not None]
    weight = math.fsum(fuel for _, fuel in burning)
    return math.fsum(mixture * fuel for mixture, fuel in burning) / max(weight, 1e-9)
