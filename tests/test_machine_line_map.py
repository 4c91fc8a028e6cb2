"""Ports of the distributor need not feed the cylinders of their numbers: the two are kept apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenpour.machine.kind import kind_of
from evenpour.machine.line_map import LineMap, line_map_of
from machine_world import HOME, PARAMETERS, SHEETS, ask, drawn_cars, kind, seen, value, with_
from sheet_tools import shipped_sheet

VEE_SIX = kind("vee-six")
FED = VEE_SIX.design.line_map


def test_a_sheet_says_which_cylinder_each_port_feeds() -> None:
    assert FED.fed == (1, 4, 2, 5, 3, 6)
    assert [FED.port(FED.cylinder(port)) for port in range(1, 7)] == [1, 2, 3, 4, 5, 6]
    assert {name for name in SHEETS if line_map_of(shipped_sheet(name)).crosses} == {"vee-six", "vee-eight"}


def test_a_sheet_that_does_not_say_has_each_port_feed_its_own_cylinder() -> None:
    sheet = shipped_sheet("vee-six")
    silent = replace(sheet, values={name: one for name, one in sheet.values.items() if name != "line_map"})
    assert line_map_of(silent).fed == (1, 2, 3, 4, 5, 6)


def test_the_map_renumbers_the_catches_and_changes_nothing_else() -> None:
    sheet = shipped_sheet("vee-six")
    straight = {name: one for name, one in sheet.values.items() if name != "line_map"}
    own = kind_of(replace(sheet, values=straight), PARAMETERS)
    mapped, unmapped = (seen(of, drawn_cars(of, 3)) for of in (VEE_SIX, own))
    for port in range(1, 7):
        caught = value(mapped, "catch", port, through="injectors", opening="part")
        same = value(unmapped, "catch", FED.cylinder(port), through="injectors", opening="part")
        np.testing.assert_array_equal(caught, same)
        for check in ("exhaust_port_temperature", "cylinder_drop", "rest_delivery", "injector_drip"):
            np.testing.assert_array_equal(value(mapped, check, port), value(unmapped, check, port))


def test_a_short_port_2_is_caught_at_port_2_and_leans_the_cylinder_that_it_feeds() -> None:
    sound, short = seen(VEE_SIX), with_(VEE_SIX, "port_restricted", 0.3, cylinder=4)

    def moved(check: str, **stated: str) -> list[int]:
        return [
            number
            for number in range(1, 7)
            if abs(value(short, check, number, **stated) - value(sound, check, number, **stated))[0]
            > 0.02 * abs(value(sound, check, number, **stated))[0]
        ]

    assert moved("catch", through="lines", opening="full") == [2]
    assert moved("catch", through="injectors", opening="part") == [2]
    assert moved("exhaust_port_temperature", state="idle_warm") == [4]
    mixture = short.running(replace(HOME, engine="full_load")).mixture[:, 0]
    assert int(np.argmax(mixture)) == 4 - 1
    looks = [value(cars, "plug_look", 4, after="cut_at_load")[0] for cars in (short, sound)]
    assert looks[0] > looks[1]


def test_an_injector_that_is_clogged_in_cylinder_4_shows_at_port_2_until_it_is_exchanged() -> None:
    clogged = with_(VEE_SIX, "injector_restricted", 0.9, cylinder=4)
    asked = ask(VEE_SIX, "catch", 2, through="injectors", opening="full").situation

    def caught(at_port: tuple[int, ...]) -> int:
        situation = replace(asked, injector_at=FED.by_cylinder(at_port))
        fuel = clogged.pour(situation).fuel[:, 0]
        return FED.port(int(np.argmin(fuel)) + 1)

    assert caught((0, 1, 2, 3, 4, 5)) == 2
    assert caught((0, 2, 1, 3, 4, 5)) == 3


@pytest.mark.parametrize("at_port", [(1, 0, 2), (2, 0, 1), (0, 1, 2)])
def test_what_serves_each_port_serves_the_cylinder_that_it_feeds(at_port: tuple[int, ...]) -> None:
    fed = LineMap((1, 3, 2))
    by_cylinder = fed.by_cylinder(at_port)
    for port, part in enumerate(at_port, start=1):
        assert by_cylinder[fed.cylinder(port) - 1] == fed.cylinder(part + 1) - 1
