"""What is wrong with a plan: names that are not there, cylinders where none are, claims without proof."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

from evenpour.errors import FieldProblem, Problem, unknown
from evenpour.path.pieces import Claim, Part, Proof, Stage, Step, split_reference


def faults(
    stages: Sequence[Stage], claims: Sequence[Claim], steps: Sequence[Step], parts: Sequence[Part]
) -> Iterator[Problem]:
    """Everything wrong with a plan, so that whoever wrote it can mend all of it at once."""
    by_id = {part.id: part for part in parts}
    for kind, pieces in (("part", parts), ("stage", stages), ("claim", claims), ("step", steps)):
        yield from _twice(kind, [piece.id for piece in pieces])
    stage_ids = [stage.id for stage in stages]
    claim_ids = [claim.id for claim in claims]
    for part in parts:
        yield from _references(f"part {part.id}, opens", part.opens, by_id, same=part.per_cylinder)
        yield from _references(f"part {part.id}, bars", filter(None, (part.bars,)), by_id, same=False)
        yield from _references(f"part {part.id}, unless", chain(*part.unless), by_id, same=False)
    for stage in stages:
        yield from _names(f"stage {stage.id}, needs", stage.needs, claim_ids, "claim")
        allowed = stage.put_back_empty_except or ()
        yield from _names(f"stage {stage.id}, put_back_empty_except", allowed, by_id, "part")
    for claim in claims:
        owner = f"claim {claim.id}"
        held = () if claim.held_by is None else (claim.held_by,)
        yield from _names(f"{owner}, stage", (claim.stage,), stage_ids, "stage")
        yield from _references(f"{owner}, rests_on", claim.rests_on, by_id, same=claim.per_cylinder)
        yield from _references(f"{owner}, held_by", held, by_id, same=claim.per_cylinder)
        yield from _proof_faults(owner, claim, [step.id for step in steps])
    for step in steps:
        owner = f"step {step.id}"
        yield from _names(f"{owner}, stage", (step.stage,), stage_ids, "stage")
        yield from _names(f"{owner}, proves", step.proves, claim_ids, "claim")
        yield from _names(f"{owner}, needs", step.needs, claim_ids, "claim")
        yield from _names(f"{owner}, mends", step.mends, claim_ids, "claim")
        for field in ("touches", "puts_on", "takes_off", "also_off", "finds_on", "finds_off"):
            yield from _references(f"{owner}, {field}", getattr(step, field), by_id, same=True)
        for field, named in (("works", step.works), ("sets", step.sets.values())):
            yield from _references(f"{owner}, {field}", named, by_id, same=False)
        if not 0.0 <= step.minutes < 1e6:
            yield FieldProblem(f"{owner}, minutes", step.minutes, "are no time", allowed="0 or more")


def _twice(kind: str, ids: Sequence[str]) -> Iterator[Problem]:
    for name in sorted({name for name in ids if ids.count(name) > 1}):
        yield FieldProblem(kind, name, "stands twice", remedy="Each id may be used once.")


def _names(owner: str, wanted: Iterable[str], known: Iterable[str], kind: str) -> Iterator[Problem]:
    known = list(known)
    for name in wanted:
        if name not in known:
            yield unknown(owner, name, known, kind=kind)


def _references(
    owner: str, wanted: Iterable[str], parts: Mapping[str, Part], *, same: bool
) -> Iterator[Problem]:
    for text in wanted:
        try:
            name, same_cylinder = split_reference(text)
        except FieldProblem as problem:
            yield problem
            continue
        if name not in parts:
            yield unknown(owner, name, parts, kind="part")
        elif same_cylinder and not parts[name].per_cylinder:
            yield FieldProblem(owner, text, "asks for a cylinder", remedy="There is one only; leave out [k].")
        elif same_cylinder and not same:
            yield FieldProblem(owner, text, "asks for the same cylinder", remedy="There is none here.")


def _proof_faults(owner: str, claim: Claim, steps: Sequence[str]) -> Iterator[Problem]:
    if not claim.proof and claim.held_by is None:
        yield FieldProblem(owner, None, "has no proof", remedy="Say what proves it.")
    for proof in claim.proof:
        mixed = proof.any and (_given(proof) or proof.conditions or any(one.any for one in proof.any))
        for one in proof.alternatives:
            if mixed or _given(one) != 1:
                remedy = "Give exactly one of check, reading, step, catch, happened or any."
                yield FieldProblem(f"{owner}, proof", None, "is unclear", remedy=remedy)
            elif one.step is not None and one.step not in steps:
                yield unknown(f"{owner}, proof", one.step, steps, kind="step")


def _given(proof: Proof) -> int:
    return sum(
        name is not None for name in (proof.check, proof.reading, proof.step, proof.catch, proof.happened)
    )
