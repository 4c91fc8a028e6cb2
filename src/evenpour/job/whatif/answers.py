"""What `evenpour whatif` answers."""

from __future__ import annotations

from typing import Literal

from pydantic import ConfigDict, Field

from evenpour.job.answers import Answer, ShownLimit


class SettingTold(Answer):
    """Something that was set, as it was understood."""

    name: str
    cylinder: int | None
    kind: Literal["condition", "parameter", "cause"]
    typed: str
    severity: float | None = Field(
        description="Of a cause, 0 barely noticeable to 1 gross; below zero its other form."
    )
    words: str
    does: list[str] = Field(description="What a cause does to the car's parts.")


class HealthyCars(Answer):
    """What 90 of 100 healthy cars of the kind show, each with its own screws set right."""

    low: float | None = Field(description="5 % of them show less; null for a choice.")
    high: float | None
    p: float | None = Field(description="How likely a healthy car shows the choice in `value`.")
    words: str


class PredictedReading(Answer):
    """What a check would read, in one of its usual states."""

    what: str
    title: str
    cylinder: int | None
    port: int | None = Field(
        default=None, description="Of a catch the port, where it feeds a cylinder of another number."
    )
    group: str
    state: str = Field(description="The state in words; may be empty.")
    conditions: dict[str, str]
    value: float | str | None = Field(description="In `unit`; a choice's likeliest word; null: no reading.")
    unit: str | None
    p: float | None = Field(description="How likely the choice is.")
    shown: str
    healthy: float | str | None = Field(description="The same of the car with nothing set, at its home.")
    healthy_p: float | None
    healthy_shown: str
    change: float | None = Field(description="`value` less `healthy`, in `unit`.")
    change_shown: str
    healthy_cars: HealthyCars
    limit: ShownLimit | None
    within: bool | None = Field(description="Whether the value lies within the limit; null without one.")
    changed: bool = Field(description="By more than a careful person's repeats would blur.")
    stands_out: bool = Field(description="From what healthy cars show: it would be seen without a before.")
    why: str | None = Field(description="Why there is no reading.")


class PortTold(Answer):
    """The port that feeds a cylinder, its line and its injector, at work."""

    model_config = ConfigDict(serialize_by_alias=True)

    cylinder: int
    port: int = Field(description="Its number at the fuel distributor.")
    slit_open_mm: float
    slit_drop_bar: float
    valve_open: float = Field(description="Of the differential-pressure valve, as a share of its travel.")
    before_injector_bar: float
    fuel_ml_per_min: float
    lambda_: float | None = Field(serialization_alias="lambda", description="null with the engine off.")
    missed: float | None = Field(description="Share of charges that do not burn.")
    fuel_shown: str


class InsideTold(Answer):
    """The machine opened while it works; gauge pressures unless a name ends in abs."""

    model_config = ConfigDict(serialize_by_alias=True)

    plate_lift_mm: float = Field(description="Over its rest.")
    plunger_lift_mm: float = Field(description="Over the height at which a right slit begins.")
    plate_gap_cm2: float = Field(description="Open area round the plate.")
    plate_drop_mbar: float
    system_pressure_bar: float
    control_pressure_bar: float
    regulator_temperature_degc: float = Field(description="Of the control-pressure regulator's bimetal.")
    screw_turn: float = Field(description="Mixture screw, from where this car's idle is right.")
    pump_voltage_v: float
    pump_pressure_bar: float = Field(description="Before the filter.")
    pump_ml_per_min: float = Field(description="Behind the filter.")
    control_ml_per_min: float = Field(description="Into the control circuit.")
    return_ml_per_min: float = Field(description="Back to the tank by the primary regulator.")
    air_g_per_s: float = Field(description="All air the engine draws.")
    plate_air_g_per_s: float
    leak_air_g_per_s: float
    fuel_ml_per_min: float = Field(description="Of all ports together.")
    manifold_pressure_bar_abs: float | None = Field(description="null with the engine off, as what follows.")
    speed_rpm: float | None
    lambda_: float | None = Field(serialization_alias="lambda")
    duty: float | None = Field(description="Of the frequency valve, as a fraction; null where there is none.")
    ports: list[PortTold]
    shown: dict[str, str] = Field(description="By key, in the units asked for.")


class StateTold(Answer):
    """The machine in one state, with what was set and without."""

    state: str
    title: str
    runs: bool | None = Field(description="Whether the engine holds this state; null with the engine off.")
    words: str
    now: InsideTold | None = Field(description="null where the engine does not hold this state.")
    healthy: InsideTold
    healthy_low: float | None = Field(
        default=None, description="Lambda that nine in ten healthy cars have here: the least."
    )
    healthy_high: float | None = Field(default=None, description="The most; null with the engine off.")


class CurveMark(Answer):
    """A state of the engine on the curve. ``low``, ``high``: the sheet's limit of lambda there."""

    model_config = ConfigDict(serialize_by_alias=True)

    state: str
    title: str
    air_g_per_s: float | None = Field(description="Through the plate; null where the engine does not run.")
    lambda_: float | None = Field(serialization_alias="lambda")
    healthy_air_g_per_s: float
    healthy_lambda: float
    low: float | None
    high: float | None


class MixtureCurve(Answer):
    """Lambda over the air through the plate, warm, without correction by an oxygen sensor."""

    model_config = ConfigDict(serialize_by_alias=True)

    air_g_per_s: list[float]
    lambda_: list[float | None] = Field(
        serialization_alias="lambda",
        description="With what was set; null where the engine cannot draw so much.",
    )
    healthy: list[float]
    low: list[float] = Field(description="5 % of healthy cars lie below.")
    high: list[float]
    marks: list[CurveMark]
    words: str


class GroupTold(Answer):
    """A block of readings."""

    group: str
    title: str


class WhatIfAnswer(Answer):
    """`evenpour whatif`"""

    sheet: str
    title: str
    notice: str
    home: str = Field(description="Where and on what the screws of the car were set.")
    settings: list[SettingTold]
    summary: list[str] = Field(description="What becomes of the engine, in sentences.")
    telling: list[str] = Field(description="The readings that change most, the most telling first.")
    groups: list[GroupTold]
    readings: list[PredictedReading]
    states: list[StateTold]
    curve: MixtureCurve
    notes: list[str]


class OfferedSetting(Answer):
    """A name that may be set on this engine."""

    name: str
    title: str
    kind: Literal["condition", "parameter", "cause"]
    cylinders: int = Field(description="How many of it there are, one for each cylinder; 0: only one.")
    unit: str | None
    low: float | None = Field(description="Least worth trying, in `unit`; of a cause 0, or -1.")
    high: float | None
    usual: float | None = Field(description="A healthy car's, or the home's, in `unit`.")
    choices: list[str]
    words: str = Field(description="What may be typed.")


class OfferedSettings(Answer):
    """`evenpour whatif --sheet S --list`"""

    sheet: str
    notice: str
    settings: list[OfferedSetting]
