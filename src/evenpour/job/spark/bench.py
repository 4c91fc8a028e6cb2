"""What the spark calculators share: whose sheet, whose cautions, in whose units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from evenpour.errors import FieldProblem
from evenpour.job.answers import ShownLimit
from evenpour.job.catalogue import Catalogue, catalogue
from evenpour.job.caution_told import cautions_told
from evenpour.job.job import Job
from evenpour.job.opening import open_job
from evenpour.job.sheet.found import find_sheet
from evenpour.job.spark.answers import Figure, SparkVerdict
from evenpour.machine.sheet import Sheet
from evenpour.measure.checks import Check
from evenpour.measure.quantities import parse
from evenpour.measure.readings import Condition, Reading, read_conditions
from evenpour.measure.uncertainty import coverage
from evenpour.measure.units import in_unit, label, range_shown, shown, unit_for
from evenpour.measure.verdicts import Verdict, judge

NO_SHEET = "name the engine's sheet with --sheet NAME or --job JOB, or hold it against the manual"


@dataclass(frozen=True, slots=True)
class Bench:
    """A calculator's surroundings.

    ``units`` is the user's system; ``None`` shows figures in the units they were typed in.
    """

    sheet: Sheet | None
    job: Job | None
    known: Catalogue
    units: str | None

    @property
    def system(self) -> str:
        """The system of units for everything that nobody typed."""
        return self.units or "metric"

    @property
    def notice(self) -> str:
        """What the sheet says of itself."""
        return self.sheet.notice if self.sheet else "No sheet was named; your engine's manual decides."

    def common(self, step: str) -> dict[str, Any]:
        """The fields every answer of a step's calculator has."""
        return {
            "sheet": self.sheet.id if self.sheet else None,
            "notice": self.notice,
            "cautions": cautions_told(step, self.known, self.job.facts if self.job else None),
            "step": step,
        }

    def needed(self) -> Sheet:
        """The sheet, where nothing can be said without one."""
        if self.sheet is None:
            raise FieldProblem("sheet", None, "is missing", remedy="Add --sheet NAME or --job JOB")
        return self.sheet

    def conditions(self, check: Check, pairs: Mapping[str, str]) -> Mapping[str, Condition]:
        """Conditions as typed behind a reading: ``throttle=wide``."""
        return read_conditions(check, pairs, self.known.kinds)

    def judged(self, reading: Reading, check: Check) -> Verdict:
        """The reading held against the sheet; without one nothing can be told."""
        limits = self.sheet.limits_for(check.id) if self.sheet else ()
        return judge(reading, limits, self.system)

    def figure(
        self,
        value: float,
        dimension: str,
        *,
        u: float | None = None,
        unit: str | None = None,
        prefer: str | None = None,
        dof: int | None = None,
    ) -> Figure:
        """A number as it is answered: in the user's units, or else in *unit*, the typed one."""
        chosen = unit_for(dimension, self.system, prefer) if self.units or unit is None else unit
        step = in_unit(1.0, chosen, dimension) - in_unit(0.0, chosen, dimension)
        return Figure(
            value=float(f"{in_unit(value, chosen, dimension):.10g}"),
            unit=label(chosen),
            u=None if u is None else float(f"{u * step:.10g}"),
            shown=shown(value, dimension, u=u, k=coverage(dof), unit=chosen),
        )

    def degrees(self, value: float, u: float | None = None) -> Figure:
        """An angle in degrees, whatever the user's units."""
        return Figure(
            value=float(f"{value * 360.0:.10g}"),
            unit=label("deg"),
            u=None if u is None else float(f"{u * 360.0:.10g}"),
            shown=shown(value, "angle", u=u, unit="deg"),
        )

    def length(self, text: str, field: str) -> float:
        """A length as typed, [m]."""
        return parse(text, "length", field=field).value

    def verdict(self, check: Check, reading: Reading, verdict: Verdict) -> SparkVerdict:
        """A verdict as it is answered."""
        assert isinstance(verdict.value, float)
        assert check.dimension is not None
        unit = reading.unit or None
        return SparkVerdict(
            what=check.id,
            title=check.title,
            value=self.figure(
                verdict.value, check.dimension, u=verdict.u, unit=unit, prefer=check.prefer, dof=verdict.dof
            ),
            limit=self.limit(verdict, check.dimension, unit, check.prefer),
            p_within=verdict.p_within,
            verdict=verdict.verdict,
            settle=verdict.settle if self.sheet else NO_SHEET,
            basis=reading.basis,
        )

    def limit(
        self, verdict: Verdict, dimension: str, unit: str | None, prefer: str | None = None
    ) -> ShownLimit | None:
        """The limit a verdict was held against, in the unit of its reading."""
        if verdict.source is None:
            return None
        chosen = unit_for(dimension, self.system, prefer) if self.units or unit is None else unit
        sides = (
            None if side is None else float(f"{in_unit(side, chosen, dimension):.10g}")
            for side in (verdict.low, verdict.high)
        )
        low, high = sides
        words = range_shown(verdict.low, verdict.high, dimension, unit=chosen)
        return ShownLimit(low=low, high=high, source=verdict.source, words=words)


def bench(sheet: str | None = None, job: str | Job | None = None, *, units: str | None = None) -> Bench:
    """Where a calculator works: on a named sheet, on a job's, or on none.

    Args:
        job: A job file or a stored job's number, or the job itself.

    Raises:
        FieldProblem: both are named, or there is no such sheet or job.
    """
    if sheet is not None and job is not None:
        raise FieldProblem(
            "sheet", sheet, "stands beside a job, which has its own", remedy="Name one of the two"
        )
    if job is not None:
        opened = open_job(job, units=units) if isinstance(job, str) else job
        return Bench(opened.sheet, opened, opened.known, units)
    return Bench(None if sheet is None else find_sheet(sheet), None, catalogue(), units)
