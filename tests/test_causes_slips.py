"""Slips of the pen on a sound car: named as what they are, and no cause blamed for them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from evenpour.job import job_of_text
from evenpour.job.causes.answer import case_of
from evenpour.job.causes.answers import ClashLine
from evenpour.job.causes.clashes import clashes
from evenpour.job.job_file import read_text

HEAD = 'format = "evenpour-job/1"\n[engine]\nsheet = "flat-six"\n'
SOUND = {
    "system_pressure": ("4.95 bar", ""),
    "control_pressure_cold": ("1.45 bar", 'regulator_temperature = "19 degC"'),
    "control_pressure_warm": ("3.6 bar", 'voltage = "12.4 V", heater = "plugged", after = "5 min"'),
    "exhaust_co": ("1.5 %", 'state = "idle_warm"'),
    "exhaust_lambda": ("0.96", 'state = "idle_warm"'),
    "idle_speed": ("900 rpm", 'state = "idle_warm"'),
}
BLAMED = 0.3  # by which no cause may stand for a slip


def reading(what: str, value: str, stated: str = "", cylinder: int | None = None) -> str:
    said = f"conditions = {{ {stated} }}\n" if stated else ""
    where = "" if cylinder is None else f"cylinder = {cylinder}\n"
    return f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"\n{where}sure = true\n{said}'


def at_cylinders(what: str, values: Sequence[str], stated: str = "") -> str:
    return "".join(reading(what, value, stated, number) for number, value in enumerate(values, start=1))


def told(slip: dict[str, str], more: str = "") -> tuple[list[ClashLine], dict[str, float]]:
    """What clashes, and how likely each cause is, alone or as one of two."""
    text = "".join(reading(what, slip.get(what, value), stated) for what, (value, stated) in SOUND.items())
    case = case_of(job_of_text(read_text(HEAD + text + more, "job.toml")))
    listed = case.explanation.suspects
    blamed: dict[str, float] = {}
    for h, p in case.probability.items():
        if h:
            blamed[listed[h].id] = blamed.get(listed[h].id, 0.0) + p
    blamed["two at once"] = math.fsum(case.pair_probability)
    return clashes(case)[0], blamed


def nobody_above(blamed: dict[str, float], most: float = BLAMED) -> bool:
    return max(blamed.values()) < most


@pytest.mark.parametrize(
    ("what", "typed", "slip"),
    [
        ("system_pressure", "72 bar", "meant 4.96 bar (psi written as bar)?"),
        ("control_pressure_cold", "21 bar", "meant 1.45 bar (psi written as bar)?"),
        ("control_pressure_warm", "52 bar", "meant 3.59 bar (psi written as bar)?"),
        ("system_pressure", "4.95 psi", "meant 4.95 bar (bar written as psi)?"),
        ("control_pressure_cold", "1.45 psi", "meant 1.45 bar (bar written as psi)?"),
        ("control_pressure_warm", "3.6 psi", "meant 3.60 bar (bar written as psi)?"),
    ],
)
def test_psi_and_bar_taken_for_each_other_are_named_and_nobody_is_blamed(
    what: str, typed: str, slip: str
) -> None:
    found, blamed = told({what: typed})
    assert [one.what for one in found] == [what]
    assert found[0].slips[0] == slip
    assert nobody_above(blamed), blamed


@pytest.mark.parametrize(
    ("what", "typed", "meant"),
    [("control_pressure_warm", "36 bar", "3.60 bar"), ("system_pressure", "0.495 bar", "4.95 bar"),
     ("idle_speed", "9000 rpm", "900 rpm"), ("exhaust_co", "15 %", "1.5 %")],
)  # fmt: skip
def test_a_point_misplaced_is_named_and_nobody_is_blamed(what: str, typed: str, meant: str) -> None:
    found, blamed = told({what: typed})
    assert [one.what for one in found] == [what]
    assert found[0].slips[0].startswith(f"meant {meant} (the point one place to the")
    assert nobody_above(blamed), blamed


KPA = [("system_pressure", "495 bar", "4.95 bar"), ("control_pressure_warm", "3.6 kPa", "3.60 bar")]


@pytest.mark.parametrize(("what", "typed", "meant"), KPA)
def test_kpa_and_bar_taken_for_each_other_are_named_and_blame_nobody(
    what: str, typed: str, meant: str
) -> None:
    found, blamed = told({what: typed})
    assert [one.what for one in found] == [what]
    assert nobody_above(blamed), blamed
    assert any(meant in slip for one in found for slip in one.slips)


COMPRESSION = ("10 bar", "9.8 bar", "5 bar", "10 bar", "10.1 bar", "9.9 bar")
LEAK_DOWN = ("8 %", "9 %", "60 %", "8 %", "7 %", "9 %")


def exchanged(values: Sequence[str], one: int, other: int) -> list[str]:
    found = list(values)
    found[one - 1], found[other - 1] = found[other - 1], found[one - 1]
    return found


def test_the_values_of_two_neighbours_exchanged_are_named() -> None:
    """Compression low at cylinder 4 and leakage high at 3: one of the two was written in the wrong place."""
    low = at_cylinders("compression", exchanged(COMPRESSION, 3, 4))
    found, blamed = told({}, low + at_cylinders("leak_down", LEAK_DOWN))
    assert found[0].what in {"compression", "leak_down"}
    assert "the values of cylinders 3 and 4 exchanged?" in found[0].slips
    assert blamed["compression_low"] + blamed["valve_clearance_wrong"] > 0.9  # as sure as of the right ones


@pytest.mark.xfail(reason="only neighbours are tried: the readings are said to clash", raises=AssertionError)
def test_the_values_of_two_cylinders_far_apart_exchanged_are_named() -> None:
    low = at_cylinders("compression", exchanged(COMPRESSION, 3, 6))
    found, _ = told({}, low + at_cylinders("leak_down", LEAK_DOWN))
    assert any("3 and 6" in slip for one in found for slip in one.slips)


def test_the_cold_pressure_told_as_the_warm_one_may_not_belong_and_no_one_heater_fault_is_sure() -> None:
    """A dead heater reads just so, and one without current: each may be blamed, but none is sure of it."""
    found, blamed = told({"control_pressure_warm": "1.45 bar"})
    assert [one.what for one in found] == ["control_pressure_warm"]
    assert nobody_above(blamed, 0.5), blamed


@pytest.mark.xfail(
    reason="the state of the engine is none of the slips that are tried", raises=AssertionError
)
@pytest.mark.parametrize(
    ("what", "typed"), [("control_pressure_warm", "1.45 bar"), ("idle_speed", "1400 rpm")]
)
def test_a_reading_of_the_cold_engine_told_as_of_the_warm_one_is_named_as_that(what: str, typed: str) -> None:
    found, _ = told({what: typed})
    assert any("cold" in slip for one in found for slip in one.slips)
