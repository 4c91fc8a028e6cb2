"""Sentences about claims, one for all the cylinders of which the same can be said."""

from __future__ import annotations

from collections.abc import Iterable

from evenpour.path.answer import ClaimState
from evenpour.path.plan import Plan
from evenpour.path.words import claim_name

_SAID = {"over": "no longer so", "stale": "to be proved again"}


def sentences(plan: Plan, claims: Iterable[ClaimState], verb: str = " is") -> list[str]:
    """ "“the injector seals” (cylinders 2 to 3) is stale: ...", in the order of the claims."""
    alike: dict[tuple[str, str, str], list[int | None]] = {}
    for claim in claims:
        alike.setdefault((claim.claim, claim.state, claim.why), []).append(claim.cylinder)
    said = []
    for (name, word, why), cylinders in alike.items():
        state = f"{_SAID.get(word, word)}: {why.removeprefix('over: ')}"
        said.append(f"{claim_name(plan.claim[name], cylinders)}{verb} {state}")
    return said


def reasons(plan: Plan, claims: Iterable[ClaimState]) -> list[str]:
    """The same without the state: "“the injector seals” (cylinder 2): not proved yet, wants ..."."""
    alike: dict[tuple[str, str], list[int | None]] = {}
    for claim in claims:
        alike.setdefault((claim.claim, claim.why), []).append(claim.cylinder)
    return [f"{claim_name(plan.claim[name], cylinders)}: {why}" for (name, why), cylinders in alike.items()]
