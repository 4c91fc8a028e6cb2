"""A run of the flow test and the parts that were in it, as plain values."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evenpour.errors import FieldProblem, OutOfRange

KINDS = ("port", "line", "injector")
THROUGH = ("lines", "injectors")
FEWEST, MOST = 2, 16


@dataclass(frozen=True, slots=True)
class Part:
    """A port, line or injector. A replaced part is a new identity with the same number."""

    kind: str
    number: int  # as the workshop counts it, from 1
    identity: int  # unique within its kind
    current: bool = True  # still on the car; findings are given for these only

    @property
    def words(self) -> str:
        return f"{self.kind} {self.number}"


@dataclass(frozen=True, slots=True)
class Run:
    """One catch.

    Args:
        through: ``lines`` (bare) or ``injectors``.
        opening: ``idle``, ``part``, ``full``, ``rest`` or a lift such as ``12 mm``.
        amounts: By port position, [m³]; ``None`` where the amount was lost.
        u: Standard reading error of each amount, [m³].
        durations: How long each container was under its line, [s].
        u_duration: Standard doubt of the time, [s]; common to the run unless *timed_each*.
        timed_each: Each container had its own clock.
        ports, lines, injectors: Identity of the part at each position in this run; injectors ``None`` when
            bare.
        containers: Identity of the container at each position, if containers are told apart.
        u_container: Relative standard error of a container's marks; repeats wherever that container stands.
        visibility: Kind -> way of being off -> 0 to 1, where it is told for this run; kinds left out, or
            ``None``: as the engine shows it (``visibility.Sight``).
        typed: The amounts as they were typed, to find slips of the pen; may be left out.
    """

    through: str
    opening: str
    amounts: tuple[float | None, ...]
    u: tuple[float, ...]
    durations: tuple[float, ...]
    u_duration: float
    timed_each: bool
    ports: tuple[int, ...]
    lines: tuple[int, ...]
    injectors: tuple[int, ...] | None
    containers: tuple[int, ...] | None = None
    u_container: float = 0.0
    visibility: Mapping[str, Mapping[str, float]] | None = None
    typed: tuple[str, ...] | None = None

    @property
    def key(self) -> str:
        """``lines:idle``: what was caught, whatever the arrangement."""
        return f"{self.through}:{self.opening}"

    @property
    def size(self) -> int:
        return len(self.amounts)

    @property
    def rates(self) -> tuple[float | None, ...]:
        """Amount over time at each position, [m³/s]; ``None`` where lost."""
        return tuple(
            None if amount is None else amount / duration
            for amount, duration in zip(self.amounts, self.durations, strict=True)
        )

    def at(self, kind: str) -> tuple[int, ...] | None:
        """Identities of one kind by position; ``None`` where none lies in the path."""
        if kind == "port":
            return self.ports
        if kind == "line":
            return self.lines
        return self.injectors if self.through == "injectors" else None

    def path(self, position: int) -> tuple[tuple[str, int], ...]:
        """(kind, identity) of every part the fuel at *position* ran through."""
        return tuple((kind, row[position]) for kind in KINDS if (row := self.at(kind)) is not None)

    def arrangement(self) -> tuple[tuple[int, ...] | None, ...]:
        """What makes two runs of one key comparable position by position."""
        return tuple(self.at(kind) for kind in KINDS)


def check_runs(runs: Sequence[Run], parts: Sequence[Part]) -> None:
    """Refuse runs that cannot be a catch.

    Raises:
        FieldProblem: lengths disagree, a part is unknown or stands twice, a name is none of ours.
        OutOfRange: an amount below zero, a time or reading error not above zero; nan counts.
    """
    known = {(part.kind, part.identity) for part in parts}
    if len(known) != len(parts):
        raise FieldProblem("parts", None, "has a part twice", remedy="Each identity stands once in its kind.")
    for index, run in enumerate(runs):
        _check_run(run, f"catch {index + 1}", known)


def _check_run(run: Run, name: str, known: set[tuple[str, int]]) -> None:
    if run.through not in THROUGH:
        raise FieldProblem(
            f"{name}: through", run.through, "is no way of catching", allowed="lines, injectors"
        )
    if not FEWEST <= run.size <= MOST:
        raise OutOfRange(
            f"{name}: amounts", run.size, "is no number of cylinders here", allowed=f"{FEWEST} to {MOST}"
        )
    rows = {"u": run.u, "durations": run.durations, "containers": run.containers, "typed": run.typed}
    rows |= {f"{kind}s": run.at(kind) for kind in KINDS}
    for field, row in rows.items():
        if row is not None and len(row) != run.size:
            raise FieldProblem(f"{name}: {field}", len(row), f"values stand beside {run.size} amounts")
    if run.through == "injectors" and run.injectors is None:
        raise FieldProblem(f"{name}: injectors", None, "is missing", remedy="Say which injector sat where.")
    for kind in KINDS:
        row = run.at(kind)
        if row is None:
            continue
        if len(set(row)) != len(row):
            raise FieldProblem(
                f"{name}: {kind}s", row, "puts one part in two places", remedy="Check the swaps."
            )
        for identity in row:
            if (kind, identity) not in known:
                raise FieldProblem(f"{name}: {kind}s", identity, f"is no known {kind}")
    for amount in run.amounts:
        if amount is not None and not (math.isfinite(amount) and amount >= 0.0):
            raise OutOfRange(
                f"{name}: amounts",
                amount,
                "is no amount",
                allowed="zero and up",
                remedy="Leave it empty if lost.",
            )
    for field, positive in (("u", run.u), ("durations", run.durations)):
        for value in positive:
            if not (math.isfinite(value) and value > 0.0):
                raise OutOfRange(f"{name}: {field}", value, "is out of range", allowed="above zero")
    for field, share in (("u_duration", run.u_duration), ("u_container", run.u_container)):
        if not (math.isfinite(share) and share >= 0.0):
            raise OutOfRange(f"{name}: {field}", share, "is out of range", allowed="zero and up")
