"""Idle sessions at the car, made up: cars drawn from the model, a key with play, an analyser with its errors.

A car answers with its own physics, not with the curve that the advice goes by.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from evenpour.job.engine_model import causes_known, checks_predicted, kind_for
from evenpour.job.sheet.found import find_sheet
from evenpour.machine.checks import NumberCheck
from evenpour.machine.exhaust import exhaust
from evenpour.machine.faults import with_fault
from evenpour.machine.kind import Kind
from evenpour.machine.parameters import Cars
from evenpour.machine.readout import Query, Readout
from evenpour.machine.reads_bench import screw_onset
from evenpour.machine.running import run
from evenpour.machine.set_up import SetUp, set_up
from evenpour.machine.situation import Situation
from evenpour.tune.screw_advice import HALF_STEP, MOST, STEP, Advice, Move, Standing, Window, advise, moves
from evenpour.tune.screw_posterior import GAIN_DOUBT, PLAYS, Posterior, Seen, Start, at_its_end, posterior
from evenpour.tune.screw_response import Response, Spread, responses, spread_of

HOME = Situation(altitude=240.0, ambient_temperature=293.15, fuel=0.05)
#: What an instrument may be wrong by, the same way all session: any error up to it is as likely. Invented.
ERROR = {"exhaust_co": 0.002, "exhaust_lambda": 0.007, "lambda_duty": 0.01}
DRIFT, THERMOMETER = 1.5, 1.15  # K: the air at the plate from reading to reading, and how well it is read
NUMBERS = {name: one for name, one in checks_predicted().items() if isinstance(one, NumberCheck)}

Fault = tuple[str, int | None, float, int]
"""A cause, its cylinder, its severity and its form."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What is the same for all sessions on one kind of engine."""

    sheet: str
    kind: Kind
    spread: Spread
    window: Window
    click: float | None
    usual: Response

    @classmethod
    def of(cls, name: str, check: str) -> Bench:
        """For one kind, its warm idle read by one check; the window is the sheet's."""
        sheet, kind = find_sheet(name), kind_for(name)
        limit = next(
            one
            for one in sheet.limits_for(check)
            if "idle_warm" in one.when["state"].choices and _connected(one.when.get("sensor"))
        )
        assert limit.low is not None
        assert limit.high is not None
        window = Window(check, limit.low, limit.high)
        (usual,) = responses(kind, HOME, [HOME])
        return cls(name, kind, spread_of(kind, HOME), window, sheet.click_turns, usual)


def _connected(sensor: object) -> bool:
    return sensor is None or "connected" in getattr(sensor, "choices", ())


@dataclass
class Car:
    """One car with a key in its screw; turns count from where its idle is right, clockwise positive."""

    bench: Bench
    cars: Cars
    screws: SetUp
    onset: float
    play: float
    gain: float
    key: float = 0.0
    lever: float = 0.0
    air: float = 301.15

    @classmethod
    def drawn(
        cls, bench: Bench, random: np.random.Generator, *, fault: Fault | None = None, widening: float = 1.0
    ) -> Car:
        """A car of the kind: thread from 0.6 to 1.4 of a usual one, play up to 15 degrees."""
        kind, plan = bench.kind, bench.kind.blueprint
        cars = plan.cars(random.standard_normal((1, len(plan.free))), widening)
        gain = random.uniform(0.6, 1.4)
        cars.values[cars.rows["screw_pitch"]] = gain * kind.centre["screw_pitch"]
        cars.values[cars.rows["mixture_screw"]] = 0.0
        screws = set_up(kind.design, kind.torque, kind.funnel, cars, HOME)
        onset = float(screw_onset(Readout(kind, cars, screws), Query("onset", replace(HOME, lines=True)))[0])
        if fault is not None:
            name, cylinder, severity, form = fault
            cars = with_fault(plan, cars, causes_known()[name], cylinder, severity, form)
        return cls(bench, cars, screws, onset, random.uniform(0.0, 15.0 / 360.0), gain)

    def turn(self, move: Move) -> None:
        """Turn the key, past its aim and back where that is asked for."""
        self._turn(move.turns - move.past)
        self._turn(move.past)

    def _turn(self, turns: float) -> None:
        """The lever stands still while the play is crossed."""
        self.key += turns
        self.lever = min(max(self.lever, self.key), self.key + self.play)

    def true(self, levers: list[float] | None = None) -> dict[str, np.ndarray]:
        """What the idle is, by check, with the lever where it stands, or at *levers*."""
        places = np.array([self.lever] if levers is None else levers)
        kind = self.bench.kind
        cars = Cars(self.cars.rows, np.repeat(self.cars.values, len(places), axis=1))
        cars.values[cars.rows["mixture_screw"]] += places
        screws = SetUp(
            np.repeat(self.screws.screw, len(places)), np.repeat(self.screws.idle_area, len(places))
        )
        warm = replace(HOME, engine="idle_warm", intake_temperature=self.air)
        here = replace(warm, sensor="off")
        gas = exhaust(cars, run(kind, cars, screws, here), here)
        found = {
            "exhaust_co": gas.co, "exhaust_lambda": gas.mixture, "exhaust_co2": gas.co2, "exhaust_o2": gas.o2,
            "exhaust_hc": gas.hc,
        }  # fmt: skip
        if kind.oxygen_control:
            found["lambda_duty"] = run(kind, cars, screws, warm).duty
        return found


class Stuck(Car):
    """A key that turns nothing."""

    def _turn(self, turns: float) -> None:
        self.key += turns


class Backward(Car):
    """Moves that are entered with the wrong sign."""

    def _turn(self, turns: float) -> None:
        self.key += turns
        self.lever -= turns


@dataclass(frozen=True, slots=True)
class Choice:
    """What a player does: a move, or none; why, and how sure of the window."""

    verdict: str
    move: Move | None = None
    reason: str | None = None
    p: float = 0.0  # of the window as it stands


@dataclass
class Session:
    """What the player knows: readings so far, each with where the key stood.

    Attributes:
        wrong: How far the starting point lies from where the idle is right, [turn].
        by_rule: It is half a turn back from the onset whatever the thread, and wrong on top of that.
        inverted: The duty meter counts the other way.
        model_off: One standard deviation of the logarithm of CO, by which the car departs from the model.
    """

    car: Car
    random: np.random.Generator
    wrong: float
    by_rule: bool = False
    inverted: bool = False
    model_off: float = 0.0
    looked: bool = False
    read: list[Seen] = field(default_factory=list)
    keys: list[float] = field(default_factory=list)
    lags: list[tuple[tuple[float, float], ...]] = field(default_factory=list)
    moved: list[Move] = field(default_factory=list)
    read_here: int = 0

    def __post_init__(self) -> None:
        car, check = self.car, self.check
        self.error = self.random.uniform(-1.0, 1.0) * ERROR[check]
        self.factor = math.exp(self.model_off * self.random.standard_normal())
        car.key = self.wrong + (car.onset - 0.5 if self.by_rule else 0.0)
        self.rich = self.random.random() < 0.5  # which way the last bit came, which the ledger knows
        car.lever = car.key + (car.play if self.rich else 0.0)
        self.began = car.key
        self.lag_now = tuple((play, play) if self.rich else (0.0, 0.0) for play in PLAYS)

    @property
    def check(self) -> str:
        """What is read."""
        return self.car.bench.window.check

    def true(self) -> float:
        """The value that the window is about."""
        value = float(self.car.true()[self.check][0])
        return value * self.factor if self.check == "exhaust_co" else value

    def take(self, check: str = "") -> None:
        """Read the idle once; *check* where it is another than the window's, read with the sensor off."""
        error = self.error if not check else self.random.uniform(-1.0, 1.0) * ERROR[check]
        check = check or self.check
        self.car.air += DRIFT * self.random.standard_normal()
        number = NUMBERS[check]
        true = self.true() if check == self.check else float(self.car.true()[check][0])
        compared = number.compared(true) + number.repeats * self.random.standard_normal()
        value = max(float(number.uncompared(compared)) + error, 0.0)
        if check == "lambda_duty":
            value = min(max(1.0 - value if self.inverted else value, 0.05), 0.95)
        stated = self.car.air + THERMOMETER * self.random.standard_normal()
        (self.here,) = responses(self.car.bench.kind, HOME, [replace(HOME, intake_temperature=stated)])
        u_lift = 0.5 * THERMOMETER / 300.0 / 0.42
        self.read.append(Seen(check, 0.0, (), value, ERROR[check] / math.sqrt(3.0), self.here, u_lift))
        self.keys.append(self.car.key)
        self.lags.append(self.lag_now)
        self.read_here += 1

    def known(self, gain: tuple[float, float] = (1.0, GAIN_DOUBT), play: float | None = None) -> Posterior:
        """What the readings so far tell; *play* where the player knows it."""

        def lags(assumed: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
            if play is None:
                return assumed
            return ((play, play) if assumed[-1][0] > 0.0 else (0.0, 0.0),) * len(PLAYS)

        seen = [
            replace(one, turns=key - self.car.key, lags=lags(assumed))
            for one, key, assumed in zip(self.read, self.keys, self.lags, strict=True)
        ]
        start = Start(0.5 - (self.car.key - self.began), 0.03, "lines")
        return posterior(seen, NUMBERS, self.check, self.car.bench.spread, start, lags(self.lag_now), gain)

    def move(self, move: Move) -> None:
        """Turn the key."""
        self.moved.append(move)
        self.car.turn(move)
        self.read_here = 0
        if move.past or move.turns > max(PLAYS):
            self.lag_now = ((0.0, 0.0),) * len(PLAYS)
        elif move.turns < 0.0:
            self.lag_now = tuple((play, play) for play in PLAYS)


Player = Callable[[Session], Choice]


def adviser(session: Session) -> Choice:
    """What evenpour advises."""
    return _chosen(advised(session, session.known()))


def knowing(session: Session) -> Choice:
    """The same for a player who knows this screw's gain and play beforehand."""
    return _chosen(advised(session, session.known((session.car.gain, 0.01), session.car.play)))


def advised(session: Session, known: Posterior) -> Advice:
    """The advice after *known*."""
    bench = session.car.bench
    last = next(one.value for one in reversed(session.read) if one.check == session.check)
    ends = at_its_end(session.check, last)
    away = session.car.key - session.began
    standing = Standing(away, len(session.moved), session.read_here, session.looked, ends)
    return advise(known, bench.window, session.here, bench.click, standing)


def _chosen(advice: Advice) -> Choice:
    return Choice(advice.verdict, advice.move, advice.reason, advice.p_now)


def plain_rule(session: Session) -> Choice:
    """What is off, over the slope of the kind at the window's middle, to the nearest sixteenth or click."""
    bench = session.car.bench
    window, usual = bench.window, bench.usual
    value = session.read[-1].value
    if window.low <= value <= window.high:
        return Choice("stay")
    middle = 0.5 * (window.low + window.high)
    lift = usual.where(window.check, middle)
    low, high = (float(usual.at(window.check, lift + side)) for side in (-0.02, 0.02))
    turns = (middle - value) / ((high - low) / 0.04)
    step = bench.click or STEP
    most = math.floor(MOST / step + 1e-9)
    steps = min(max(round(turns / step), -most), most) or (1 if turns > 0.0 else -1)
    return Choice("move", Move(steps * step, 0.0))


def clairvoyant(session: Session) -> Choice:
    """Who sees the true value, and what it would be after every move that a hand can make."""
    bench, car = session.car.bench, session.car
    middle = 0.5 * (bench.window.low + bench.window.high)
    offered = moves(bench.click or HALF_STEP, True)
    levers = [car.key + move.turns for move in offered]
    true = car.true([car.lever, *levers])[session.check]
    if session.check == "exhaust_co":
        true = true * session.factor
    if bench.window.low <= true[0] <= bench.window.high:
        return Choice("stay", p=1.0)
    return Choice("move", offered[int(np.argmin(np.abs(true[1:] - middle)))])


@dataclass(frozen=True, slots=True)
class Told:
    """How a session went.

    Attributes:
        true: The true value at each reading. ``inside``: of the last one.
        overshot: A move ended beyond the window twice as wide, on the side it went to.
        farthest: The largest turn of the key in one go, the way past its aim counted in.
        strayed: How far from the starting point it ever stood.
        p: The odds of the window that were told at the end.
    """

    moves: tuple[float, ...]
    readings: int
    true: tuple[float, ...]
    verdict: str
    reason: str | None
    inside: bool
    overshot: bool
    farthest: float
    strayed: float
    p: float


def play(session: Session, player: Player, most: int = 3) -> Told:
    """One session, until the player is content, stops, or has made *most* moves."""
    window = session.car.bench.window
    true: list[float] = []
    overshot, farthest, strayed = False, 0.0, 0.0
    while True:
        session.take()
        true.append(session.true())
        if session.moved and session.read_here == 1:
            overshot = overshot or went_past(window, true[-2], true[-1])
        choice = player(session)
        if choice.reason == "which_way":  # the sensor is unplugged and lambda read, as the advice says
            session.take("exhaust_lambda")
            true.append(session.true())
            choice = player(session)
        if choice.verdict == "read":
            continue
        if choice.move is None or len(session.moved) == most:
            break
        farthest = max(farthest, abs(choice.move.turns - choice.move.past), choice.move.past)
        session.move(choice.move)
        strayed = max(strayed, abs(session.car.key - session.began))
    return Told(
        tuple(move.turns for move in session.moved),
        len(session.read),
        tuple(true),
        choice.verdict,
        choice.reason,
        window.low <= true[-1] <= window.high,
        overshot,
        farthest,
        strayed,
        choice.p,
    )


def went_past(window: Window, before: float, after: float) -> bool:
    """Whether it ended outside the window twice as wide, on the side to which it went."""
    width = window.high - window.low
    middle = 0.5 * (window.low + window.high)
    high, low = middle + width, middle - width
    return (before < high < after) or (after < low < before)
