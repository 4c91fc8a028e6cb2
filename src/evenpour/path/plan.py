"""The plan of a path: its pieces fitted to one engine, checked, and looked up by name and cylinder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from evenpour.errors import FieldProblem, Problems
from evenpour.path.pieces import (
    Claim,
    ClaimKey,
    Item,
    Part,
    Proof,
    Source,
    Stage,
    Step,
    split_reference,
    split_target,
)
from evenpour.path.plan_faults import faults

__all__ = [
    "Claim",
    "ClaimKey",
    "Item",
    "Part",
    "Plan",
    "Proof",
    "Source",
    "Stage",
    "Step",
    "split_reference",
    "split_target",
]


@dataclass(frozen=True)
class Plan:
    """The whole path for one engine, already without what is not fitted.

    Raises:
        Problems: names that are not there, twice-used ids, "[k]" where there is no cylinder, claims that
            nothing can prove.
    """

    stages: tuple[Stage, ...]
    claims: tuple[Claim, ...]
    steps: tuple[Step, ...]
    parts: tuple[Part, ...]
    cylinders: int

    def __post_init__(self) -> None:
        found = list(faults(self.stages, self.claims, self.steps, self.parts))
        if self.cylinders < 1:
            found.append(FieldProblem("cylinders", self.cylinders, "are too few", allowed="1 or more"))
        if found:
            raise Problems(found)

    @cached_property
    def part(self) -> Mapping[str, Part]:
        """Part by id."""
        return {part.id: part for part in self.parts}

    @cached_property
    def claim(self) -> Mapping[str, Claim]:
        """Claim by id."""
        return {claim.id: claim for claim in self.claims}

    @cached_property
    def stage(self) -> Mapping[str, Stage]:
        """Stage by id, in order."""
        return {stage.id: stage for stage in self.stages}

    @cached_property
    def step(self) -> Mapping[str, Step]:
        """Step by id, in plan order: stage by stage, then as given."""
        place = {stage.id: number for number, stage in enumerate(self.stages)}
        return {step.id: step for step in sorted(self.steps, key=lambda step: place[step.stage])}

    @cached_property
    def all_cylinders(self) -> tuple[int, ...]:
        """1 to n."""
        return tuple(range(1, self.cylinders + 1))

    @cached_property
    def claim_keys(self) -> tuple[ClaimKey, ...]:
        """Every claim, the per-cylinder ones once for each cylinder, in plan order."""
        return tuple(key for claim in self.claims for key in self.keys_of(claim.id))

    @cached_property
    def keys_asked(self) -> dict[tuple[tuple[str, ...], int | None], tuple[ClaimKey, ...]]:
        """What ``steps.claim_keys`` found: a few hundred questions, asked many times each."""
        return {}

    @cached_property
    def proved_by(self) -> Mapping[str, tuple[Step, ...]]:
        """The steps that prove each claim, in plan order."""
        return {
            claim.id: tuple(step for step in self.step.values() if claim.id in step.proves)
            for claim in self.claims
        }

    @cached_property
    def claims_from(self) -> Mapping[Source, tuple[Claim, ...]]:
        """The claims of whose proof each source may give a part."""
        found: dict[Source, list[Claim]] = {}
        for claim in self.claims:
            for source in {one.source for proof in claim.proof for one in proof.alternatives}:
                found.setdefault(source, []).append(claim)
        return {source: tuple(claims) for source, claims in found.items()}

    @cached_property
    def set_in_steps(self) -> Mapping[str, str]:
        """The checks whose reading is mended in a step where it is out, and the part that is set for it."""
        return {check: part for step in self.steps for check, part in step.sets.items()}

    @cached_property
    def undone_by(self) -> Mapping[str, tuple[Step, ...]]:
        """By part, the steps that take it off the put-back list; those that borrow it come last."""

        def names(references: tuple[str, ...]) -> set[str]:
            return {split_reference(reference)[0] for reference in references}

        found: dict[str, tuple[Step, ...]] = {}
        for borrows in (False, True):
            for step in self.step.values():
                puts_on = names(step.puts_on)
                for name in names(step.takes_off):
                    if (name in puts_on) is borrows:
                        found[name] = (*found.get(name, ()), step)
        return found

    @cached_property
    def cautions(self) -> frozenset[str]:
        """Every caution a step of the plan carries."""
        return frozenset(caution for step in self.steps for caution in step.cautions)

    def is_tool(self, part: str) -> bool:
        """Whether a part belongs to the workshop, and is only left on the car."""
        return self.part[part].kind == "tool"

    def keys_of(self, claim: str) -> tuple[ClaimKey, ...]:
        """The claim, or one for each cylinder."""
        if self.claim[claim].per_cylinder:
            return tuple((claim, cylinder) for cylinder in self.all_cylinders)
        return ((claim, None),)

    def items(self, reference: str, cylinder: int | None) -> tuple[Item, ...]:
        """What "injector[k]" or "injector" means on this engine, seen from *cylinder*.

        "[k]" is the same cylinder's part; without a cylinder, and without "[k]", all cylinders' parts.
        """
        name, same = split_reference(reference)
        if not self.part[name].per_cylinder:
            return ((name, None),)
        if same and cylinder is not None:
            return ((name, cylinder),)
        return tuple((name, each) for each in self.all_cylinders)

    def is_per_cylinder(self, step: Step) -> bool:
        """Whether a step is done cylinder by cylinder: as it says, else if it works on "[k]" or proves
        nothing but per-cylinder claims."""
        return step.id in self._by_cylinder if self.step.get(step.id) is step else self._is_by_cylinder(step)

    @cached_property
    def _by_cylinder(self) -> frozenset[str]:
        return frozenset(step.id for step in self.steps if self._is_by_cylinder(step))

    def _is_by_cylinder(self, step: Step) -> bool:
        if step.per_cylinder is not None:
            return step.per_cylinder
        if any(split_reference(name)[1] for name in (*step.touches, *step.puts_on, *step.takes_off)):
            return True
        return bool(step.proves) and all(self.claim[name].per_cylinder for name in step.proves)
