"""The running engine: the manifold pressure at which air, fuel, mixture and speed balance each other."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from evenpour.machine.blocks import BLOCK
from evenpour.machine.design_point import WIDE_OPEN
from evenpour.machine.engine import Engine, Found, engine_of
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Cars
from evenpour.machine.probe import drawn_air
from evenpour.machine.set_up import SetUp
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import lesser
from evenpour.machine.some import PerCar
from evenpour.machine.torque import charge_work
from evenpour.physics.orifice import CRITICAL_RATIO, HEAD, choked_flow, gas_flow

ROUNDS = 30
TOLERATED, STILL = 1e-7, 3e-7  # share of the work; and of system pressure and duty, between two rounds
CONVERGED = 1e-4  # share of the engine's work, or of the pump's flow, left out of balance
LOST = 1e-7  # share of the work, from which on a balance is only nearly one: as where one has just vanished
MADE_UP = 10.0  # by what share of itself the work may change for a share that supply or duty move
HANDFUL = 200  # cars, which take no longer than fewer do
SPACING = 0.036  # of the outside pressure, at which a car is tried that found no balance from where it began
LOOKS = 1  # rounds there, for the duty of an oxygen control to follow
UNTRIED = (0.999, 1.001)  # a little beyond the ends, which have yet to be tried
START = 0.36  # manifold over outside, for a first look
ENDS = (0.12, 0.985)  # manifold over outside, between which a balance is looked for
DROP_CORNER = 0.1  # 1/s, over which the fall of speed ends at standing still
FARTHEST = 0.15  # of the outside pressure, the longest step


@dataclass(frozen=True, slots=True)
class Running(PerCar):
    """A running or cranking engine. Shapes (cars,), or (cylinders, cars) where each has its own; SI.

    Attributes:
        speed: [1/s]. ``manifold``: absolute, [Pa].
        air: All air drawn, [kg/s]; ``plate_air``: past the plate; ``leak_air``: beside it.
        stray: Outside air in the exhaust, over what the engine draws; ``behind``: what more of it gets in
            behind an oxygen sensor.
        lift: Plate over its right rest, [m]; ``plunger``: over the height at which a right slit begins, [m].
        fuel: By cylinder, [m³/s].
        own, given: Air and fuel of each cylinder, [kg/s]; the fuel with what no injector gives.
        mixture: Lambda of each cylinder as it burns; ``whole``: all air over all fuel.
        wet: Share of the fuel that stays liquid on cold walls.
        missed: Share of charges that do not burn.
        duty: Of the frequency valve; where there is none, its middle.
        drop: Fall of speed if one cylinder's spark were cut, [1/s].
        unbalanced: Share of work or supply left out of balance; above CONVERGED the state is no answer: the
            engine does not run so.
    """

    speed: Any
    manifold: Any
    outside: Any
    air: Any
    plate_air: Any
    leak_air: Any
    stray: Any
    behind: Any
    lift: Any
    plunger: Any
    control: Any
    system: Any
    fuel: Any
    own: Any
    given: Any
    mixture: Any
    whole: Any
    wet: Any
    missed: Any
    duty: Any
    timing: Any
    drop: Any
    unbalanced: Any

    @property
    def converged(self) -> Any:
        """Which cars run like that, so that their answers may be used."""
        return self.unbalanced <= CONVERGED


def run(kind: Kind, cars: Cars, screws: SetUp, situation: Situation) -> Running:
    """Solve for the manifold pressure at which the engine balances.

    Idle: what is open past the throttle is given, and speed follows from work against friction and pumping.
    Steady road and fast idle: speed is given, and the driver opens the throttle as far as it takes.
    Cranking: speed is given and the throttle shut; the manifold takes the pressure at which as much comes in
    as is drawn. Full load: the throttle is wide. In these two only supply and demand of fuel are left to
    balance.
    """
    return _ran(engine_of(kind, cars, screws, situation))


def run_together(kind: Kind, asked: Sequence[tuple[Cars, SetUp, Situation]]) -> list[Running]:
    """What `run` gives for each of *asked*, with those that balance in one way solved as one: a round costs
    nearly as much for a few cars as for many.
    """
    engines = [engine_of(kind, cars, screws, situation) for cars, screws, situation in asked]
    alike: dict[Hashable, list[int]] = {}
    for number, one in enumerate(engines):
        alike.setdefault(one.way, []).append(number)
    found: dict[int, Running] = {}
    for numbers in alike.values():
        if len(numbers) == 1:
            found[numbers[0]] = _ran(engines[numbers[0]])
            continue
        counts = [len(asked[number][0]) for number in numbers]
        both = _ran(Engine.joined([engines[number] for number in numbers], counts))
        ends = np.cumsum(counts).tolist()
        for number, end, count in zip(numbers, ends, counts, strict=True):
            found[number] = both.stretch(slice(end - count, end))
    return [found[number] for number in range(len(asked))]


def _ran(engine: Engine) -> Running:
    if engine.held:
        wide = engine.outside * WIDE_OPEN * np.ones(engine.friction.shape)
        manifold = wide if engine.situation.engine == "full_load" else _cranked(engine)
        found = _fed(engine, manifold)
        return _running(engine, manifold, found, np.where(found.moved > CONVERGED, found.moved, 0.0))
    last = _settled(engine, _first(engine), ROUNDS)
    lost = np.flatnonzero(np.abs(last.missing) > LOST * last.needed)
    lost = lost[~engine.some(lost).dead()]
    if lost.size:
        last.put(lost, _sought(engine.some(lost), last.found.some(lost)))
    return _running(engine, last.manifold, last.found, np.abs(last.missing) / np.maximum(last.needed, 1.0))


def _fed(engine: Engine, manifold: Any, found: Found | None = None, rounds: int = ROUNDS) -> Found:
    """An engine at a pressure that is given, once supply and demand of fuel have met, if they do."""
    found = engine.at(manifold, found)
    while rounds and (which := np.flatnonzero(found.moved > STILL)).size:
        rounds -= 1
        if _worth_parting(which, found.moved):
            found.put(which, _fed(engine.some(which), manifold[which], found.some(which), rounds))
            break
        found = engine.at(manifold, found)
    return found


def _cranked(engine: Engine) -> Any:
    """Manifold pressure at which a starter draws as much air as the shut throttle and leaks let in, [Pa].

    With u the pressure ratio to the power 2/7, `gas_flow` is the root of u^5 (1 - u) and what is drawn goes
    with the root of u^7: a quadratic in u; below the critical ratio what comes in is fixed.
    """
    assert engine.speed is not None
    opening, drawn = engine.open + engine.leaks, engine.speed * engine.drawn
    choked = choked_flow(opening, engine.outside, engine.intake) / drawn
    asked = drawn * drawn * engine.intake / (HEAD * opening * opening)
    free = engine.outside * (2.0 / (1.0 + np.sqrt(1.0 + 4.0 * asked))) ** 3.5
    low = ENDS[0] * engine.outside
    return np.maximum(np.where(free > CRITICAL_RATIO * engine.outside, free, choked), low)


def _sought(engine: Engine, found: Found) -> _Trial:
    """The balance at the least manifold pressure; where there is none, the most: the engine stalls.

    Of several balances that one holds itself: with more in the manifold the engine would do more than it is
    asked, with less it is asked more than it does. While what is open at idle chokes, air and mixture stay as
    they are, and there is nothing to find below.
    """
    cars = engine.friction.size
    low, high = (engine.outside * (end * np.ones(cars)) for end in ENDS)
    bottom, top = UNTRIED[0] * low, UNTRIED[1] * high
    start = ENDS[0] if engine.speed is not None else CRITICAL_RATIO - SPACING
    count = 1 + math.ceil((ENDS[1] - start) / SPACING)
    for some in np.array_split(np.arange(cars), -(-cars * count // BLOCK)):
        places = np.linspace(start / ENDS[0] * low[some], high[some], count)
        can = _can(engine.some(some), found.some(some), places)
        first = can.argmax(axis=0)  # place from which on the engine can, where it can at all
        from_there = np.arange(some.size)
        runs = can[first, from_there]
        top[some] = np.where(runs, places[first, from_there], top[some])
        bottom[some] = np.where(runs & (first > 0), places[first - 1, from_there], bottom[some])
    middle = np.where(top < high, 0.5 * (bottom + top), high)
    exact = replace(engine, off=0.0)
    return _settled(exact, _trial(exact, middle, bottom, top), ROUNDS)


def _can(engine: Engine, found: Found, places: Any) -> Any:
    """Whether each car does at least what it is asked, at all manifold pressures of *places* at once."""
    each = np.tile(np.arange(places.shape[1]), len(places))
    looks = LOOKS if engine.cars is not None else 0
    tried = engine.some(each)
    found = _fed(tried, places.ravel(), found.some(each), looks)
    return (found.used + tried.load <= found.work).reshape(places.shape)


@dataclass(frozen=True, slots=True)
class _Trial(PerCar):
    """One round of looking for the manifold pressure.

    Attributes:
        needed: What is used and drives the car, [W]; ``missing``: that, less the work done, which falls with
            the pressure.
        low, high: Between these the balance lies, if there is one, [Pa].
        follows: The pressure to try next, [Pa].
    """

    manifold: Any
    found: Found
    needed: Any
    missing: Any
    low: Any
    high: Any
    follows: Any

    @property
    def moving(self) -> Any:
        """Cars that go on: not in balance, and not at an end, where an engine lands that cannot run."""
        return self.follows != self.manifold


def _first(engine: Engine) -> _Trial:
    """The first round, at the pressure at which the kind's mixture would balance, all else in order."""
    kind, idle = engine.kind, engine.speed is None
    every = np.ones(engine.friction.shape)
    start = engine.outside * (START * every)
    speed = kind.design.idle_speed if engine.speed is None else engine.speed
    if idle:
        air = (engine.open + engine.leaks) * gas_flow(1.0, engine.outside, start, engine.intake)
    else:
        air = (speed * engine.drawn) * start
    work = air * engine.late(speed) * (kind.torque.specific * charge_work(engine.usual))
    low, high = (engine.outside * (end * every) for end in ENDS)
    first = np.clip(engine.balanced(air, work, start), low, high)
    return _trial(engine, first, UNTRIED[0] * low, UNTRIED[1] * high)


def _trial(engine: Engine, manifold: Any, low: Any, high: Any, last: _Trial | None = None) -> _Trial:
    """A round at *manifold* [Pa]: the secant through this and the last round says where to look next.

    Where there is no last one, or the two lie too near to each other, or the line points the wrong way, work
    and air are taken to stay as they are; where that leads out of what is left, the middle of it is tried.
    """
    found = engine.at(manifold, None if last is None else last.found)
    needed = found.used + engine.load
    missing = needed - found.work
    follows = engine.balanced(found.air, found.work, manifold)
    if last is not None:
        change = manifold - last.manifold
        slope = (missing - last.missing) / np.where(change == 0.0, 1.0, change)
        usable = (np.abs(change) > 1e-7 * manifold) & (slope < 0.0)
        follows = np.where(usable, manifold - missing / np.where(usable, slope, 1.0), follows)
    # as long as supply or duty still move, only a lack larger than they can make up says on which side one is
    unsure = MADE_UP * found.moved * needed
    low, high = np.where(missing > unsure, manifold, low), np.where(missing < -unsure, manifold, high)
    done = (np.abs(missing) <= TOLERATED * needed) & (found.moved <= STILL)
    most = FARTHEST * engine.outside
    follows = _within_ends(engine, np.clip(follows, manifold - most, manifold + most))
    inside = (follows > low) & (follows < high)
    follows = np.where(inside, follows, _within_ends(engine, 0.5 * (low + high)))
    follows = np.where(done, manifold, follows)
    return _Trial(manifold, found, needed, missing, low, high, follows)


def _within_ends(engine: Engine, manifold: Any) -> Any:
    return np.clip(manifold, ENDS[0] * engine.outside, ENDS[1] * engine.outside)


def _settled(engine: Engine, trial: _Trial, rounds: int) -> _Trial:
    """Rounds until no car moves."""
    while rounds and trial.moving.any():
        which = np.flatnonzero(trial.moving)
        if _worth_parting(which, trial.moving):
            trial.put(which, _settled(engine.some(which), trial.some(which), rounds))
            break
        trial = _trial(engine, trial.follows, trial.low, trial.high, trial)
        rounds -= 1
    return trial


def _worth_parting(which: Any, among: Any) -> bool:
    """Whether *which* of the cars are so few, *among* so many, that they had better go on by themselves."""
    return bool(among.size > HANDFUL and 3 * which.size < among.size)


def _running(engine: Engine, manifold: Any, found: Found, unbalanced: Any) -> Running:
    torque = engine.kind.torque
    steep = torque.friction_slope(found.speed, engine.friction) + torque.pumping(1.0) * engine.outside
    speed = found.speed + 0.0 * manifold
    return Running(
        speed=speed,
        manifold=manifold,
        outside=engine.outside,
        air=found.air,
        plate_air=found.plate,
        leak_air=found.leak,
        stray=engine.stray(found.air, found.speed),
        behind=drawn_air(engine.tail_leak, found.air, engine.kind.design.idle_air),
        lift=found.height,
        plunger=found.plunger,
        control=found.control,
        system=found.system,
        fuel=found.flow,
        own=found.own,
        given=found.given,
        mixture=found.mixture,
        whole=engine.whole(found),
        wet=1.0 - engine.evaporated,
        missed=1.0 - found.burnt,
        duty=found.duty,
        timing=found.timing + 0.0 * manifold,
        drop=lesser(found.each * (found.late / steep), speed, DROP_CORNER),
        unbalanced=np.maximum(unbalanced, found.supply_missed),
    )
