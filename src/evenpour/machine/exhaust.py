"""What the probe sees in the exhaust: the gas of all cylinders, what did not burn, and outside air."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from evenpour.machine.parameters import Cars
from evenpour.machine.probe import BURNS_LATER, shown
from evenpour.machine.running import Running
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser
from evenpour.machine.tank import tank
from evenpour.measure.mixture import UNMIXED
from evenpour.physics.combustion import NITROGEN_PER_OXYGEN, dry_products, oxygen_demand

HEXANE = 6.0  # carbon atoms
DISPLAY_ENDS = 2.2  # lambda, beyond which no display goes; common practice, no source
WET_LEAVES = (
    1.0 / 3.0
)  # of the fuel that wets cold walls, what the exhaust carries; the oil takes the rest; from memory


@dataclass(frozen=True, slots=True)
class Gas:
    """Dry shares at the probe, (cars,); ``hc`` as hexane; ``mixture``: lambda a wideband sensor shows."""

    co: Any
    co2: Any
    o2: Any
    hc: Any
    mixture: Any


def exhaust(cars: Cars, running: Running, situation: Situation) -> Gas:
    """The dry gas behind all cylinders. Hot.

    Carbon, hydrogen and oxygen balance in each cylinder; a missed charge gives its air and part of its fuel
    as they came, all its air where it gets no fuel; so does what hides in crevices, and part of what wets
    cold walls; the sum is thinned by what the exhaust draws in, before or behind an oxygen sensor.
    """
    blend = tank(cars, situation).blend
    y, z = blend.hydrogen_per_carbon, blend.oxygen_per_carbon
    burnt = dry_products(running.mixture, y, z, unmixed=UNMIXED)
    given = running.given.sum(axis=0)
    carbon = running.given / given  # of each cylinder in one of all
    # the air of each, over what burns the fuel of all: a lambda would end where there is hardly any fuel
    drawn = running.own / (blend.stoichiometric_afr * (1.0 - running.wet) * given)
    fires = carbon * (1.0 - running.missed)
    lost = carbon - fires
    co, co2 = (fires * burnt.co).sum(axis=0), (fires * burnt.co2).sum(axis=0)
    dry = (fires * burnt.dry_total).sum(axis=0)
    hidden = cars["crevice_fuel"]  # with its share of the charge's air
    air = oxygen_demand(y, z) * ((running.missed + hidden) * drawn).sum(axis=0)
    all_lost = lost.sum(axis=0)
    later = BURNS_LATER * all_lost
    wetted = WET_LEAVES * running.wet / (1.0 - running.wet)
    fuel_left = all_lost - later + hidden + wetted
    o2 = (fires * burnt.o2).sum(axis=0) + air - later * oxygen_demand(y, z)
    o2 = 0.5 * (o2 + (o2 * o2 + 1e-6) ** 0.5)
    burnt_later = later * (1.0 - oxygen_demand(y, z))  # carbon dioxide for oxygen; the water is taken out
    total = dry + (1.0 + NITROGEN_PER_OXYGEN) * air + burnt_later + fuel_left / HEXANE
    mixture = running.whole / (1.0 - (1.0 - WET_LEAVES) * running.wet)
    stray = running.stray + running.behind
    more = stray * drawn.sum(axis=0) * (1.0 + NITROGEN_PER_OXYGEN) * oxygen_demand(y, z)
    whole = total + more
    return Gas(
        co / whole,
        (co2 + later) / whole,
        (o2 + more / (1.0 + NITROGEN_PER_OXYGEN)) / whole,
        fuel_left / HEXANE / whole,
        lesser(shown(mixture, all_lost, stray), DISPLAY_ENDS, 0.05),
    )
