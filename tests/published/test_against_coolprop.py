"""Air, its moisture and fuels against CoolProp, a library of the properties of real substances.

All in one module, and imported late: the library takes seconds to load, and so only one of the processes that
run the tests waits for it.
"""

import importlib
import itertools
import math
from types import ModuleType

import numpy as np
import pytest
from achieved import Check
from scipy.optimize import minimize_scalar

from evenpour.physics.air import dry_air_density, humid_air_density, saturation_vapour_pressure
from evenpour.physics.blend import blend, blend_density, blend_viscosity
from evenpour.physics.orifice import choked_flow, gas_flow

HUMID = "CoolProp, humid air and water"
COMFORT = Check(
    topic="Air",
    source=HUMID,
    what="density of humid air, 15 to 27 °C, 600 to 1100 hPa, 0 to 100 %",
    tolerance=1e-4,
    relative=True,
    because="models of real air differ by 1e-4",
)
BEYOND = Check(
    topic="Air",
    source=HUMID,
    what="density of humid air, -20 to 60 °C, where the formula is extrapolated",
    tolerance=1e-3,
    relative=True,
    because="what the docstring promises; half a kelvin of doubt costs 1.7e-3",
)
STEAM = Check(
    topic="Air",
    source=HUMID,
    what="saturation pressure of water, 0 to 60 °C",
    tolerance=1e-3,
    relative=True,
    because="what the docstring promises for temperatures outside 15 to 27 °C",
)
REAL = Check(
    topic="Air",
    source="CoolProp, dry air as a real gas",
    what="ideal density of dry air, -20 to 60 °C, 600 to 1100 hPa",
    tolerance=1.1e-3,
    relative=True,
    because="second virial coefficient of -18 cm³/mol at -20 °C: 0.95e-3 at 1.1 bar; 1e-4 for carbon dioxide",
)
REAL_GAS = Check(
    topic="Air through holes",
    source="CoolProp, isentropic flow of air as a real gas, its largest flux searched",
    what="choked flow and flow at a ratio of 0.8, 1 to 2 bar, -10 to 50 °C",
    tolerance=0.002,
    relative=True,
    because="k is 1.400 to 1.404 there, worth 0.1 %, and air departs from an ideal gas by 0.1 %",
)
PURE_ETHANOL = Check(
    topic="Fuel",
    source="CoolProp, ethanol",
    what="density, -20 to 60 °C",
    tolerance=1e-3,
    relative=True,
    because="what the module promises of a law with one constant; a kelvin of doubt costs as much",
)
VISCOSITY = {
    share: Check(
        topic="Fuel",
        source=f"CoolProp, {name}",
        what="kinematic viscosity, -20 to 80 °C",
        tolerance=tolerance,
        relative=True,
        because="what the module promises of a law with one exponent",
    )
    for share, name, tolerance in ((0.0, "n-heptane, which stands for petrol", 0.01), (1.0, "ethanol", 0.025))
}
SUBSTANCE = {0.0: "n-Heptane", 1.0: "Ethanol"}
ICE = 273.15


@pytest.fixture(scope="module")
def library() -> ModuleType:
    return importlib.import_module("CoolProp.CoolProp")


@pytest.mark.parametrize(
    ("check", "celsius"), [(COMFORT, (15.0, 20.0, 27.0)), (BEYOND, (-20.0, 0.0, 40.0, 60.0))]
)
def test_humid_air_agrees(library: ModuleType, check: Check, celsius: tuple[float, ...]) -> None:
    for t, pressure, humidity in itertools.product(celsius, (60e3, 85e3, 101325.0, 110e3), (0.0, 0.4, 1.0)):
        state = ("T", t + ICE, "P", pressure, "R", humidity)
        theirs = (1.0 + library.HAPropsSI("W", *state)) / library.HAPropsSI("Vda", *state)
        check.holds(humid_air_density(pressure, t + ICE, humidity), theirs)


def test_saturation_agrees(library: ModuleType) -> None:
    for kelvin in np.arange(0.0, 61.0, 5.0) + 273.16:  # from the triple point
        STEAM.holds(saturation_vapour_pressure(kelvin), library.PropsSI("P", "T", kelvin, "Q", 0, "Water"))


def test_the_models_dry_air_is_near_real_air(library: ModuleType) -> None:
    for t, pressure in itertools.product((-20.0, 0.0, 20.0, 40.0, 60.0), (60e3, 101325.0, 110e3)):
        theirs = library.PropsSI("D", "T", t + ICE, "P", pressure, "Air")
        REAL.holds(dry_air_density(pressure, t + ICE), theirs)


@pytest.mark.parametrize(
    ("upstream", "kelvin"), [(1e5, 263.15), (101325.0, 293.15), (1e5, 323.15), (2e5, 293.15)]
)
def test_air_flow_agrees_with_air_as_it_really_is(
    library: ModuleType, upstream: float, kelvin: float
) -> None:
    heat, entropy = (library.PropsSI(name, "P", upstream, "T", kelvin, "Air") for name in "HS")

    def flux(downstream: float) -> float:
        density, left = (library.PropsSI(name, "P", downstream, "S", entropy, "Air") for name in "DH")
        return float(density * math.sqrt(2.0 * (heat - left)))

    bounds = (0.4 * upstream, 0.7 * upstream)
    choked = -minimize_scalar(lambda p: -flux(p), bounds=bounds, method="bounded").fun
    REAL_GAS.holds(choked_flow(1.0, upstream, kelvin), choked)
    REAL_GAS.holds(gas_flow(1.0, upstream, 0.8 * upstream, kelvin), flux(0.8 * upstream))


def test_pure_ethanol_is_as_heavy(library: ModuleType) -> None:
    for kelvin in np.arange(-20.0, 61.0, 10.0) + ICE:
        theirs = library.PropsSI("D", "T", kelvin, "P", 101325.0, "Ethanol")
        PURE_ETHANOL.holds(blend_density(blend(1.0), kelvin), theirs)


@pytest.mark.parametrize("share", VISCOSITY)
def test_fuels_are_as_thin(library: ModuleType, share: float) -> None:
    for kelvin in np.arange(-20.0, 81.0, 10.0) + ICE:
        at = ("T", kelvin, "P", 4e5, SUBSTANCE[share])
        theirs = library.PropsSI("V", *at) / library.PropsSI("D", *at)
        VISCOSITY[share].holds(blend_viscosity(blend(share), kelvin), theirs)
