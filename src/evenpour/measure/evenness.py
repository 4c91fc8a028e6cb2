"""Evenness of catches: how even, which part is off, what cannot be told apart, and the catch that would
tell.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.measure import catch_gain, catch_model, next_catch, odd_sets, part_findings, true_spread
from evenpour.measure.anova import OneWay
from evenpour.measure.catch_model import REPEATABILITY
from evenpour.measure.catches import KINDS, Part, Run, check_runs
from evenpour.measure.dry_paths import Blocked, DryPath, PartKey, blocked_parts, dry_findings, dry_positions
from evenpour.measure.next_catch import NextCatch
from evenpour.measure.odd_sets import OddSets
from evenpour.measure.part_findings import Effects, PartFinding
from evenpour.measure.plain_look import Outlier, outlier, repeat_scatter
from evenpour.measure.suspects import Suspect, suspects
from evenpour.measure.true_spread import Spread, newest_by_key, observed_spread
from evenpour.measure.visibility import PLAIN, Sight

__all__ = ["Evenness", "NextCatch", "Part", "PartFinding", "Run", "Spread", "Suspect", "evenness"]


@dataclass(frozen=True, slots=True)
class Evenness:
    """What all catches say together. Spreads and deviations are fractions; keys are ``lines:idle`` and so
    on.
    """

    spread_by_run: Mapping[str, Spread]  # of the true flows, newest arrangement of each key
    even_by_run: Mapping[str, float]  # probability that the true spread is within the limit
    observed_by_run: Mapping[str, float]  # of the amounts as they stand in the newest run; biased upwards
    spread: Spread | None  # of the least even
    even: float | None  # of the least even; None without a limit
    least_even: str | None  # its key
    parts: tuple[PartFinding, ...]
    undivided: tuple[tuple[tuple[str, int], ...], ...]
    suspect_amounts: tuple[Suspect, ...]
    dry: tuple[DryPath, ...]
    next_catch: NextCatch | None
    notes: tuple[str, ...]
    noise_scale: float  # how many times the stated noise the catches show (posterior mean)
    repeats: OneWay | None  # classical repeat scatter, shown beside
    outliers: Mapping[int, Outlier]  # run index -> Grubbs' second opinion, shown beside


def evenness(
    runs: Sequence[Run],
    parts: Sequence[Part],
    limits: Mapping[str, float | None],
    *,
    lines_swappable: bool = True,
    repeatability: float = REPEATABILITY,
    sight: Sight = PLAIN,
) -> Evenness:
    """Weigh all catches together.

    Args:
        runs: In the order they were made.
        parts: Every part that lies in a run, replaced ones too (``current`` false).
        limits: Opening -> largest spread allowed, as a fraction; ``None`` where the sheet is silent.
        lines_swappable: Lines reach other ports, so that exchanging them may be proposed.
        repeatability: Relative standard scatter from catch to catch beyond the reading error.
        sight: How strongly each fault shows in each catch of this engine, where a run does not say it itself.
    Raises:
        FieldProblem, OutOfRange: runs that cannot be a catch (see ``check_runs``).
    """
    check_runs(runs, parts)
    runs = [
        replace(run, visibility={**sight.table(run.through, run.opening), **(run.visibility or {})})
        for run in runs
    ]
    used, notes = _usable_runs(runs)
    by_key = {(part.kind, part.identity): part for part in parts}
    blocked = blocked_parts(runs, used)
    usable = [
        (index, position)
        for index in used
        for position, amount in enumerate(runs[index].amounts)
        if amount is not None and (index, position) not in blocked.dry
    ]
    counted = {index: sum(1 for i, _ in usable if i == index) for index in used}
    usable = [place for place in usable if counted[place[0]] >= 2]
    odd = odd_sets.weigh(catch_model.build(runs, parts, usable, repeatability)) if usable else None
    effects = part_findings.effects(odd, runs, limits, sight) if odd is not None else None
    findings = _findings(parts, odd, effects, blocked, runs, limits, sight)
    spreads, even = _spreads(runs, used, limits, odd, blocked)
    groups = _undivided(odd, effects, blocked, runs, by_key)
    found = suspects(odd, blocked, runs)
    least = min(even, key=lambda key: (even[key], -spreads[key].value), default=None)
    if least is None and spreads:
        least = max(spreads, key=lambda key: spreads[key].value)
    now = next_catch.Situation(
        runs=runs,
        used=used,
        parts=parts,
        limits=limits,
        foreseen=catch_gain.leading(odd, effects) if odd is not None and effects is not None else None,
        blocked=blocked,
        findings=findings,
        undivided=groups,
        even_by_run=even,
        suspects=found,
        lines_swappable=lines_swappable,
        sight=sight,
    )
    advice, remarks = next_catch.choose(now)
    return Evenness(
        spread_by_run=spreads,
        even_by_run=even,
        observed_by_run=_observed(runs, used),
        spread=spreads[least] if least is not None else None,
        even=even.get(least) if least is not None else None,
        least_even=least,
        parts=findings,
        undivided=groups,
        suspect_amounts=found,
        dry=dry_findings(runs, by_key, blocked),
        next_catch=advice,
        notes=(*notes, *_remarks(runs, used, limits), *remarks),
        noise_scale=sum(scale * weight for scale, weight in odd.scale_weight().items())
        if odd is not None
        else 1.0,
        repeats=repeat_scatter([runs[index] for index in used]),
        outliers={index: seen for index in used if (seen := outlier(runs[index])) is not None},
    )


def _usable_runs(runs: Sequence[Run]) -> tuple[list[int], list[str]]:
    """Runs that can tell paths apart, and why the others cannot."""
    used: list[int] = []
    notes: list[str] = []
    for index, run in enumerate(runs):
        known = sum(1 for amount in run.amounts if amount is not None)
        pouring = known - len(dry_positions(run))
        if known < 2:
            notes.append(
                f"Catch {index + 1} ({run.key}) has fewer than two amounts and tells no paths apart."
            )
        elif pouring == 0:
            notes.append(
                f"Catch {index + 1} ({run.key}) gave nothing anywhere: it says nothing about evenness."
            )
        elif run.opening == "rest":
            notes.append(
                f"Catch {index + 1} ({run.key}) was made at rest, where outlets must be dry: not counted."
            )
        else:
            used.append(index)
    return used, notes


def _findings(
    parts: Sequence[Part],
    odd: OddSets | None,
    effects: Effects | None,
    blocked: Blocked,
    runs: Sequence[Run],
    limits: Mapping[str, float | None],
    sight: Sight,
) -> tuple[PartFinding, ...]:
    index_of = odd.model.part_index if odd is not None else {}
    limited = any(limit is not None for limit in limits.values())
    found = []
    for part in sorted(parts, key=lambda part: (KINDS.index(part.kind), part.number, part.identity)):
        if not part.current:
            continue
        index = index_of.get((part.kind, part.identity))
        if index is None or effects is None:
            finding = part_findings.unseen(part, runs, limits, sight)
        else:
            p_off = float(effects.p_off[index]) if limited else None
            finding = PartFinding(
                part.kind, part.number, float(effects.deviation[index]), float(effects.u[index]), p_off
            )
        found.append(_with_blockage(finding, blocked.probability((part.kind, part.identity))))
    return tuple(found)


def _with_blockage(finding: PartFinding, p: float) -> PartFinding:
    """A blocked part is off by all it has."""
    if p <= 0.0:
        return finding
    mean = (1.0 - p) * finding.deviation - p
    second = (1.0 - p) * (finding.u**2 + finding.deviation**2) + p
    off = p + (1.0 - p) * (finding.p_off or 0.0)
    return PartFinding(finding.kind, finding.number, mean, float(np.sqrt(max(second - mean**2, 0.0))), off)


def _spreads(
    runs: Sequence[Run],
    used: Sequence[int],
    limits: Mapping[str, float | None],
    odd: OddSets | None,
    blocked: Blocked,
) -> tuple[dict[str, Spread], dict[str, float]]:
    spreads: dict[str, Spread] = {}
    even: dict[str, float] = {}
    if odd is None:
        return spreads, even
    draws = true_spread.draw(odd)
    for key, index in newest_by_key(runs, [index for index in used if index in odd.model.start]).items():
        spreads[key], drawn = true_spread.true_spread(runs[index], index, odd.model, draws, blocked)
        limit = limits.get(runs[index].opening)
        if limit is not None:
            even[key] = float(np.mean(drawn <= limit))
    return spreads, even


def _observed(runs: Sequence[Run], used: Sequence[int]) -> dict[str, float]:
    found = {key: observed_spread(runs[index]) for key, index in newest_by_key(runs, used).items()}
    return {key: spread for key, spread in found.items() if spread is not None}


def _undivided(
    odd: OddSets | None,
    effects: Effects | None,
    blocked: Blocked,
    runs: Sequence[Run],
    parts: Mapping[PartKey, Part],
) -> tuple[tuple[tuple[str, int], ...], ...]:
    groups: list[list[PartKey]] = []
    if odd is not None and effects is not None:
        keys = [(part.kind, part.identity) for part in odd.model.parts]
        off = np.nan_to_num(effects.p_off, nan=0.0)
        groups += [[keys[index] for index in group] for group in part_findings.undivided(odd, off, runs)]
    for index, position in sorted(blocked.dry):
        shared = [
            part
            for part in runs[index].path(position)
            if blocked.probability(part) >= part_findings.NOTICEABLE
        ]
        if len(shared) > 1:
            groups.append(shared)
    named: dict[tuple[tuple[str, int], ...], None] = {}
    for group in groups:
        current = sorted(
            (parts[key] for key in group if parts[key].current), key=lambda p: (KINDS.index(p.kind), p.number)
        )
        if len(current) > 1:
            named[tuple((part.kind, part.number) for part in current)] = None
    return tuple(named)


def _remarks(runs: Sequence[Run], used: Sequence[int], limits: Mapping[str, float | None]) -> list[str]:
    notes = []
    unlimited = sorted({runs[index].opening for index in used if limits.get(runs[index].opening) is None})
    if unlimited:
        notes.append(f"No limit for the opening {', '.join(unlimited)}: reported, not judged.")
    if any(runs[index].size <= 4 for index in used):
        notes.append(
            "With so few cylinders one odd path against the rest is weak evidence: repeat before buying."
        )
    return notes
