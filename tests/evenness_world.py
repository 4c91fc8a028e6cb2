"""Cars made up for catching fuel: known faults, drawn amounts, and somebody who follows the advice."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from evenpour.measure.evenness import Evenness, Part, Run, evenness
from evenpour.measure.visibility import table

LIMITS: Mapping[str, float | None] = {"idle": 0.15, "part": 0.10, "full": 0.08}
AMOUNT = {"idle": 20e-6, "part": 50e-6, "full": 80e-6}  # m³
NOISE = {"idle": 0.035, "part": 0.015, "full": 0.012}  # standard, log, as stated to the method
REPEATABILITY = 0.01
USUAL = (
    ("lines", "idle"),
    ("lines", "idle"),
    ("lines", "full"),
    ("injectors", "full"),
    ("injectors", "full"),
)
Fault = tuple[str, int, str, float]  # kind, number, way, log effect where it is fully visible

FULL = float(LIMITS["full"] or 0.0)
IDLE = float(LIMITS["idle"] or 0.0)
FAULTS: dict[str, tuple[str, str, float]] = {
    "port, width": ("port", "moderate", 2.0 * FULL),
    "port, edge": ("port", "edge", 2.0 * IDLE),
    "line, moderate": ("line", "moderate", 2.0 * FULL),
    "line, severe": ("line", "severe", 2.0 * FULL),
    "injector, moderate": ("injector", "moderate", 2.0 * FULL),
    "injector, severe": ("injector", "severe", 2.0 * FULL),
}


@dataclass
class Car:
    """One car. ``noise`` multiplies the noise behind the method's back; one amount may be tipped."""

    random: np.random.Generator
    cylinders: int = 6
    faults: Sequence[Fault] = ()
    noise: float = 1.0
    small: float = 0.01
    lines_swappable: bool = True
    tipped: bool = False
    runs: list[Run] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.parts = [
            Part(kind, number + 1, number)
            for kind in ("port", "line", "injector")
            for number in range(self.cylinders)
        ]
        self.harmless = {
            (part.kind, part.identity): self.small * self.random.standard_normal() for part in self.parts
        }
        self.spare = self.cylinders

    def effect(self, kind: str, identity: int, through: str, opening: str) -> float:
        """Log effect of one part in one catch."""
        seen = table(through, opening)[kind]
        total = self.harmless.get((kind, identity), 0.0) * seen["moderate"]
        return total + sum(
            log * seen[way] for k, number, way, log in self.faults if (k, number - 1) == (kind, identity)
        )

    def off(self, kind: str, number: int) -> bool:
        """Does its effect, where it shows most, exceed half the limit there? An edge shows most at idle."""
        through = "lines" if kind == "port" else "injectors"
        openings = {"edge": "idle"}
        ways = {way for k, n, way, _ in self.faults if (k, n) == (kind, number)} or {"moderate"}
        return any(
            abs(math.expm1(self.effect(kind, number - 1, through, opening))) > 0.5 * (LIMITS[opening] or 0.0)
            for opening in (openings.get(way, "full") for way in ways)
        )

    def logs(self, through: str, opening: str, rows: Mapping[str, Sequence[int]]) -> list[float]:
        """Log of the true flow at each position, up to a level common to all."""
        kinds = ("port", "line") if through == "lines" else ("port", "line", "injector")
        return [
            sum(self.effect(kind, rows[kind][position], through, opening) for kind in kinds)
            for position in range(self.cylinders)
        ]

    def catch(
        self, through: str, opening: str, swaps: Sequence[tuple[str, int, int]] = (), spare: int | None = None
    ) -> None:
        """Make one catch; swaps count from home, by the parts' own numbers, in turn."""
        rows = {kind: list(range(self.cylinders)) for kind in ("port", "line", "injector")}
        for kind, a, b in swaps:
            i, j = rows[kind].index(a - 1), rows[kind].index(b - 1)
            rows[kind][i], rows[kind][j] = rows[kind][j], rows[kind][i]
        if spare is not None:
            rows["line"][rows["line"].index(spare - 1)] = self.spare
            self.parts.append(Part("line", spare, self.spare, current=False))
            self.spare += 1
        level = 0.05 * self.random.standard_normal()
        amounts = []
        for log in self.logs(through, opening, rows):
            noise = self.noise * NOISE[opening] * self.random.standard_t(5) / math.sqrt(5.0 / 3.0)
            amounts.append(AMOUNT[opening] * math.exp(level + log + noise))
        if self.tipped and len(self.runs) == 1:
            amounts[int(self.random.integers(self.cylinders))] *= self.random.uniform(0.4, 0.8)
        u = math.sqrt(NOISE[opening] ** 2 - REPEATABILITY**2)
        self.runs.append(
            Run(
                through=through,
                opening=opening,
                amounts=tuple(amounts),
                u=tuple(u * amount for amount in amounts),
                durations=(60.0,) * self.cylinders,
                u_duration=0.5,
                timed_each=False,
                ports=tuple(rows["port"]),
                lines=tuple(rows["line"]),
                injectors=tuple(rows["injector"]) if through == "injectors" else None,
            )
        )

    def usual(self) -> Evenness:
        """The usual catches of the benchmark, and what they say."""
        for through, opening in USUAL:
            self.catch(through, opening)
        return self.answer()

    def answer(self) -> Evenness:
        return evenness(self.runs, self.parts, LIMITS, lines_swappable=self.lines_swappable)

    def follow(self, answer: Evenness, most: int = 3) -> tuple[Evenness, int]:
        """Do what is asked for while something is to be divided or told; at most *most* further catches."""
        for done in range(most):
            asked = answer.next_catch
            if asked is None or not (asked.information or asked.swaps or asked.spare):
                return answer, done  # the plain order, or a part to be put right first
            self.catch(asked.through, asked.opening, asked.swaps, asked.spare)
            answer = self.answer()
        return answer, most


def p_off(answer: Evenness, kind: str, number: int) -> float:
    return next(part.p_off or 0.0 for part in answer.parts if (part.kind, part.number) == (kind, number))


def group_sum(answer: Evenness, kind: str, number: int) -> float:
    """Probability of the part, or of the undivided group it is in, together."""
    groups = [group for group in answer.undivided if (kind, number) in group]
    alone = p_off(answer, kind, number)
    return max([alone, *(sum(p_off(answer, *part) for part in group) for group in groups)])


def one_fault(random: np.random.Generator, kind: str, way: str, size: float, cylinders: int = 6) -> Fault:
    """Restrictions pour less; a port may pour more as well."""
    richer = kind == "port" and random.random() < 0.5
    return kind, int(random.integers(cylinders)) + 1, way, math.log1p(size if richer else -size)


def drawn_faults(random: np.random.Generator) -> list[Fault]:
    """None, one or two faults of any size up to 40 %, most of them small."""
    ways = [(kind, way) for kind, way, _ in FAULTS.values()]
    faults = []
    for _ in range(int(random.choice([0, 1, 2], p=[0.3, 0.55, 0.15]))):
        kind, way = ways[int(random.integers(len(ways)))]
        size = min(0.4, float(random.exponential(0.12)))
        faults.append(one_fault(random, kind, way, size))
    return faults
