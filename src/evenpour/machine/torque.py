"""What a charge of air and fuel does at the crankshaft, and what friction and pumping take of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenpour.machine.design_point import IDLE_MANIFOLD, REFERENCE_PRESSURE_ABS, DesignPoint
from evenpour.machine.parameters import Cars
from evenpour.machine.smooth import lesser, positive, step

# All common practice without source or from memory, not verified; together they decide only how far idle
# speed answers, since the engine's own idle is given.
SPECIFIC_WORK = 0.97e6  # J per kg of air, best mixture and timing, a third of the heat of petrol
BEST_MIXTURE = 0.88  # lambda of most work for the air
RICH_FALL, LEAN_FALL = 0.80, 0.67  # widths of the fall of work on either side, in ln lambda
BEST_TIMING = 28.0 / 360.0  # turns before top dead centre
TIMING_FALL = 5.3e-4 * 360.0**2  # share of work lost for each turn² away from the best
FRICTION_AT_REST = 0.75  # share of the friction at idle that does not grow with speed
COLD_FRICTION, COLD_STEP = (
    0.15,
    38.0,
)  # -, K: oil that thickens e times for each step below working temperature
WORKING_TEMPERATURE = 353.15  # K
ADVANCE_FROM, ADVANCE_TO = 18.0, 46.0  # 1/s, between which the weights move the timing
ADVANCE_CORNER = 0.02  # of their way, over which the weights begin and end to move
VACUUM_ADVANCE = 8.0 / 360.0  # turns, by the vacuum unit


@dataclass(frozen=True, slots=True)
class Torque:
    """Torque of one kind of engine. SI; turns for angles.

    Attributes:
        friction_torque: At idle, warm, [N m].
        idle_timing, full_timing: Before top dead centre at idle and at 50 1/s without vacuum, [turns].
    """

    friction_torque: float
    idle_speed: float
    displacement: float
    idle_timing: float
    full_timing: float
    specific: float = SPECIFIC_WORK

    def friction(self, speed: Any, cold: Any) -> Any:
        """Power of friction, [W]. Hot."""
        share = FRICTION_AT_REST + (1.0 - FRICTION_AT_REST) * speed / self.idle_speed
        return (2.0 * np.pi * self.friction_torque) * share * cold * speed

    def friction_slope(self, speed: Any, cold: Any) -> Any:
        """Its derivative by speed, [W s]. Hot."""
        share = FRICTION_AT_REST + 2.0 * (1.0 - FRICTION_AT_REST) * speed / self.idle_speed
        return (2.0 * np.pi * self.friction_torque) * share * cold

    def speed_at(self, power: Any, cold: Any, more: Any) -> Any:
        """Speed, [1/s], at which friction and *more* [W s] a turn use up *power* [W]: a quadratic. Hot."""
        flat = self.friction_slope(0.0, cold)
        curved = flat * ((1.0 - FRICTION_AT_REST) / (FRICTION_AT_REST * self.idle_speed))
        flat = flat + more
        return 2.0 * power / (flat + np.sqrt(flat * flat + 4.0 * curved * power))

    def pumping(self, speed: Any) -> Any:
        """Power of drawing a charge, for each pascal of vacuum, [W/Pa]. Hot."""
        return 0.5 * self.displacement * speed

    def timing(self, speed: Any, error: Any, comes: Any, hose: bool, vacuum_share: Any = 0.0) -> Any:
        """Timing before top dead centre, [turns]. Hot.

        Args:
            error: Early positive, [turns].
            comes: Share of the weights' advance that comes.
            vacuum_share: How far of its way the vacuum unit moves.
        """
        weights = (speed - ADVANCE_FROM) / (ADVANCE_TO - ADVANCE_FROM)
        weights = lesser(positive(weights, ADVANCE_CORNER), 1.0, ADVANCE_CORNER)
        early = (self.full_timing - self.idle_timing) * weights * comes
        return self.idle_timing + error + early + (VACUUM_ADVANCE * vacuum_share if hose else 0.0)

    def timing_share(self, timing: Any, light: float = 0.0) -> Any:
        """Share of the work left by a timing, [-]. Hot.

        Args:
            timing: Before top dead centre, [turns].
            light: 1 where the charge is thin and burns slowly, as on a light throttle: the vacuum unit is
                built for that; 0 at full load, and at idle, where the charge burns badly at any timing.
        """
        off = timing - (min(BEST_TIMING, self.full_timing) + VACUUM_ADVANCE * light)
        return 1.0 / (1.0 + TIMING_FALL * off * off)


def torque_of(design: DesignPoint, idle_timing: float, full_timing: float) -> Torque:
    """The friction that makes a right idle hold its speed at the manifold pressure of the kind."""
    bare = Torque(1.0, design.idle_speed, design.displacement, idle_timing, full_timing)
    share = bare.timing_share(bare.timing(design.idle_speed, 0.0, 1.0, True))
    work = bare.specific * charge_work(design.mixture[0]) * share * design.idle_air
    vacuum = (1.0 - IDLE_MANIFOLD) * REFERENCE_PRESSURE_ABS
    power = work - bare.pumping(design.idle_speed) * vacuum
    return Torque(
        float(power / (2.0 * np.pi * design.idle_speed)),
        design.idle_speed,
        design.displacement,
        idle_timing,
        full_timing,
    )


def advance_comes(cars: Cars) -> Any:
    """Share of the weights' advance that comes, [-]. Hot."""
    return cars["advance_reach"] * (1.0 - cars["advance_stuck"])


def friction_share(shortfall: Any) -> Any:
    """Friction over a warm engine's, [-], *shortfall* [K] below working temperature. Hot."""
    return 1.0 + COLD_FRICTION * np.expm1(shortfall / COLD_STEP)


def charge_work(mixture: Any) -> Any:
    """Work for the air at lambda *mixture*, over the best, [-]: flat at 0.88, falling on both sides. Hot."""
    away = np.log(np.maximum(mixture, 0.05) / BEST_MIXTURE)
    fall = np.maximum(away / LEAN_FALL, away / -RICH_FALL)  # the side it lies on is the positive one
    return 1.0 / (1.0 + fall * fall)


# Lambda at which half the charges miss. From memory, not verified.
LEAN_END_WARM, LEAN_END_COLD, RICH_END = 1.30, 1.12, 0.50
# By how much leaner pure ethanol still burns, whose flame is faster: lambda. From memory, not verified.
ETHANOL_LEANER = 0.10
LEAN_WIDTH, RICH_WIDTH = 0.035, 0.03
# Of the lean end, what an injector that gives nothing but strings takes: a warm port makes vapour of most.
STRINGS_WARM, STRINGS_COLD = 0.10, 0.35


def missed(mixture: Any, sparks_missing: Any, spray: Any, pressing: Any, cold: Any) -> Any:
    """Share of charges that do not burn, [-], by mixture, spark, spray and compression. Hot.

    Args:
        mixture: Lambda of the cylinder.
        sparks_missing: Share of sparks that fail.
        spray: Share of the fuel in strings and drops: what does not hang in the air does not burn with it.
        pressing: Compression over a right one.
        cold: 0 warm, 1 cold.
    """
    sound = charge_sound(sparks_missing, spray, pressing, cold)
    return 1.0 - fired(mixture, lean_end(spray, cold), sound)


def lean_end(spray: Any, cold: Any, ethanol: Any = 0.0) -> Any:
    """Lambda above which half the charges miss, [-]. Hot.

    Args:
        spray, cold: As for `missed`.
        ethanol: Share of it in the fuel, by volume.
    """
    strings = STRINGS_WARM + (STRINGS_COLD - STRINGS_WARM) * cold
    return LEAN_END_WARM + (LEAN_END_COLD - LEAN_END_WARM) * cold - strings * spray + ETHANOL_LEANER * ethanol


def charge_sound(sparks_missing: Any, spray: Any, pressing: Any, cold: Any) -> Any:
    """Share of charges that burn if only the mixture is right, [-]. Arguments as for `missed`. Hot."""
    weak = step((0.42 - pressing) / 0.05)
    patchy = np.minimum(0.12 * spray * spray * (1.0 + 3.0 * cold), 0.9)
    return (1.0 - weak) * (1.0 - patchy) * (1.0 - np.minimum(sparks_missing, 1.0))


def fired(mixture: Any, lean_end: Any, sound: Any) -> Any:
    """Share of charges that burn, [-], lambda *mixture* below 20: two logistic ends of what is sound. Hot."""
    lean = np.exp((mixture - lean_end) * (1.0 / LEAN_WIDTH))
    rich = np.exp((RICH_END - mixture) * (1.0 / RICH_WIDTH))
    return sound / ((1.0 + lean) * (1.0 + rich))
