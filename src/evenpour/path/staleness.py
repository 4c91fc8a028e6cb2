"""Which claims stand: proved, stale, open, over or overridden, and the words why."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from evenpour.measure.verdicts import word_for
from evenpour.path.answer import ClaimState, ProofAt
from evenpour.path.events import Done, Event, Evidence, Override
from evenpour.path.plan import Claim, ClaimKey, Item, Plan, Proof, Source
from evenpour.path.state import PathState
from evenpour.path.words import ON_TRUST, in_cylinders, item_name, not_entered, proof_words, told_by_cylinder

Claims = Mapping[ClaimKey, ClaimState]


def claim_states(state: PathState) -> dict[ClaimKey, ClaimState]:
    """Every claim of the plan, per-cylinder claims once for each cylinder, in plan order."""
    return {key: claim_state(state, *key) for key in state.plan.claim_keys}


def claim_state(state: PathState, claim: str, cylinder: int | None = None) -> ClaimState:
    """One claim.

    *Proved* while the newest evidence of every requirement supports it; *open* if a requirement has none, or
    its newest does not support; *stale* once something it rests on was touched after the oldest of that
    evidence; *over* for a temporary claim whose item was taken off the put-back list again, and for one that
    rests on nothing but a state of the car ("no pressure") when that has ended: neither is a fault to mend.
    An override stands until newer evidence comes, or something the claim rests on is touched again: who gave
    it answered for what was known then.
    """
    wanted = state.plan.claim[claim]
    newest = [_Newest(*found) for found in _newest(state, wanted, cylinder)]
    judged = _judged(state, wanted, cylinder, newest)
    if judged.state in ("proved", "over"):
        return judged
    override = _override(state, wanted, judged, newest)
    if override is None:
        return judged
    return replace(
        judged,
        state="overridden",
        beneath=judged.state,
        override=override,
        since=override.at,
        why=f"overridden by {override.who} at {override.at} ({override.reason}), until there is newer "
        f"evidence or it is disturbed again; without that {judged.state}: {judged.why}",
    )


@dataclass(frozen=True, slots=True)
class _Newest:
    """The newest evidence for one requirement in one cylinder, or None."""

    requirement: int
    cylinder: int
    evidence: Evidence | None


@dataclass(frozen=True, slots=True)
class _Spoiler:
    """Something that makes evidence with a reading before ``rank`` no longer count."""

    rank: int
    at: str
    entry: str
    words: str
    by_time: bool = False


def _newest(
    state: PathState, claim: Claim, cylinder: int | None
) -> Iterator[tuple[int, int, Evidence | None]]:
    # A claim about the whole engine needs evidence that covers every cylinder.
    cylinders = (cylinder,) if cylinder is not None else state.plan.all_cylinders
    for number, proof in enumerate(claim.proof):
        for each in cylinders:
            yield number, each, _newest_match(state, claim, proof, each)


def _newest_match(state: PathState, claim: Claim, proof: Proof, cylinder: int) -> Evidence | None:
    found = [
        next(
            (
                evidence
                for evidence in reversed(state.evidence.get((one.source, cylinder), ()))
                if one.matches(evidence.conditions)
            ),
            None,
        )
        for one in proof.alternatives
    ]
    matching = [
        replace(evidence, supports=True) if evidence is not None and one.reading is not None else evidence
        for one, evidence in zip(proof.alternatives, found, strict=True)
    ]
    against = [
        one.rank for one in matching if one is not None and one.source[0] != "step" and is_against(one)
    ]
    if against:
        spoilers = [one.rank for one in _spoilers(state, claim, cylinder, ())]
        matching = [
            one
            for one in matching
            # That a step was done does not outweigh a reading that speaks against it, if nothing was mended.
            if one is None
            or one.source[0] != "step"
            or all(any(rank < spoiler <= one.rank for spoiler in spoilers) for rank in against)
        ]
    # Of two alternatives from the same entry, the one that does not support decides; if both do, the younger.
    return max(
        (evidence for evidence in matching if evidence is not None),
        key=lambda evidence: (evidence.rank, not evidence.supports, evidence.oldest),
        default=None,
    )


def _judged(state: PathState, claim: Claim, cylinder: int | None, newest: list[_Newest]) -> ClaimState:
    proof = tuple(dict.fromkeys(_Same(one.evidence) for one in newest if one.evidence is not None))
    answer = ClaimState(claim.id, cylinder, "open", "", "", proof=tuple(same.evidence for same in proof))
    held = () if claim.held_by is None else state.plan.items(claim.held_by, cylinder)
    missing = [item for item in held if item not in state.on_list]
    if missing:
        return _not_held(state, answer, missing)
    if held and not claim.proof:
        last = max((state.on_list[item] for item in held), key=lambda on: on.rank)
        names = ", ".join(item_name(state.plan, item) for item in held)
        return replace(answer, state="proved", since=last.at, why=f"on the put-back list: {names}")
    spoilers = sorted(_spoilers(state, claim, cylinder, held), key=lambda spoiler: spoiler.rank)
    unsupported = _unsupported(state, claim, newest, spoilers)
    if unsupported is not None:
        since, why = unsupported
        lacks = tuple(
            ProofAt(one.requirement, one.cylinder)
            for one in newest
            if one.evidence is None or not one.evidence.supports
        )
        return replace(answer, since=since, why=why, lacks=lacks)
    evidence = [one.evidence for one in newest if one.evidence is not None]
    oldest = min(evidence, key=lambda one: one.oldest)
    spoiling = [spoiler for spoiler in spoilers if spoiler.rank > oldest.oldest]
    if not spoiling:
        latest = max(evidence, key=lambda one: one.rank)
        words = _proved_words(state, evidence)
        return replace(answer, state="proved", since=latest.at, why=words or f"proved at {latest.at}")
    if is_momentary(state.plan, claim):
        return replace(answer, state="over", since=spoiling[0].at, why=f"over: {spoiling[0].words}")
    last_rank = spoiling[-1].rank
    more = len({spoiler.entry for spoiler in spoiling}) - 1
    also = f" (and {more} more since)" if more else ""
    return replace(
        answer,
        state="stale",
        since=spoiling[0].at,
        why=f"{spoiling[0].words}{also}{_after(spoiling[0], oldest)}",
        touched_by=tuple(dict.fromkeys(spoiler.entry for spoiler in spoiling)),
        stale=tuple(
            ProofAt(one.requirement, one.cylinder)
            for one in newest
            if one.evidence is not None and one.evidence.oldest < last_rank
        ),
    )


def spoiled_since(state: PathState, key: ClaimKey, rank: int) -> bool:
    """Whether anything that a claim rests on was touched, or anything befell it, after *rank*."""
    return any(one.rank > rank for one in _spoilers(state, state.plan.claim[key[0]], key[1], ()))


def is_against(evidence: Evidence) -> bool:
    """Whether a reading is outside, and not merely one that cannot tell."""
    outside = evidence.p is None or word_for(evidence.p) == "outside"
    return not evidence.supports and evidence.compared and outside


def _proved_words(state: PathState, evidence: Iterable[Evidence]) -> str:
    """What every proof says; proofs of several cylinders with their numbers, those that say the same once."""
    said = _said(evidence, lambda one: _with_trust(state, one))
    several = len(set().union(*said.values())) > 1
    return told_by_cylinder(said if several else dict.fromkeys(said, ()))


def _said(evidence: Iterable[Evidence], words: Callable[[Evidence], str]) -> dict[str, set[int]]:
    """What evidence says, and of which cylinders."""
    said: dict[str, set[int]] = {}
    for one in evidence:
        if one.words:
            said.setdefault(words(one), set()).update(() if one.cylinder is None else (one.cylinder,))
    return said


def _with_trust(state: PathState, evidence: Evidence) -> str:
    """What the evidence says; of a step whose own reading was never entered, that it is taken on trust."""
    kind, name = evidence.source
    if kind != "step" or not on_trust(state, name, evidence.cylinder):
        return evidence.words
    return f"{evidence.words}, {ON_TRUST}"


def on_trust(state: PathState, step: str, cylinder: int | None) -> bool:
    """Whether the step reads something of which nothing was entered (*cylinder* None: for any of them)."""
    plan = state.plan
    checks = plan.step[step].checks
    cylinders = plan.all_cylinders if cylinder is None else (cylinder,)
    sources: list[Source] = [(kind, name) for name in checks for kind in ("check", "catch")]
    if "catch" in checks:  # any catch at all
        sources += dict.fromkeys(source for source, _ in state.evidence if source[0] == "catch")
    entered = any(state.evidence.get((source, each)) for source in sources for each in cylinders)
    return bool(checks) and not entered


def _after(spoiler: _Spoiler, oldest: Evidence) -> str:
    if spoiler.by_time:
        return f" (its proof of {oldest.at})"
    # Evidence from several readings may end after the touch that spoils it.
    first = "" if spoiler.rank > oldest.rank else "the first reading of "
    return f", after {first}its proof of {oldest.at}"


@dataclass(frozen=True, slots=True)
class _Same:
    """Evidence told apart by identity: its conditions cannot be hashed."""

    evidence: Evidence

    def __hash__(self) -> int:
        return hash((self.evidence.rank, self.evidence.source, self.evidence.cylinder))


def _not_held(state: PathState, answer: ClaimState, missing: list[Item]) -> ClaimState:
    were_on = [state.last_off[item] for item in missing if item in state.last_off]
    if were_on:
        last = max(were_on, key=lambda off: off.rank)
        return replace(answer, state="over", since=last.at, why=f"over: {last.words}")
    return replace(answer, why="; ".join(not_entered(state.plan, missing)))


def _unsupported(
    state: PathState, claim: Claim, newest: list[_Newest], spoilers: Iterable[_Spoiler]
) -> tuple[str, str] | None:
    """Since when and why a claim is open for want of support; None if every requirement has it.

    What was read before something was changed says so: it tells of what is no longer there.
    """
    against = [one.evidence for one in newest if one.evidence is not None and not one.evidence.supports]
    if against:
        latest = max(against, key=lambda one: one.rank)
        words = _said(against, lambda one: one.words)
        said = told_by_cylinder(dict.fromkeys(words, ()) if claim.per_cylinder else words)
        outside = any(map(is_against, against))
        tells = "speaks against it" if outside else "does not settle it"
        since = next((one for one in spoilers if one.rank > latest.rank and not one.by_time), None)
        before = "" if since is None else f"; after that {since.words}: read it again"
        return latest.at, f"the newest reading {tells}: {said or f'entry of {latest.at}'}{before}"
    lacking: dict[int, list[int]] = {}
    for one in newest:
        if one.evidence is None:
            lacking.setdefault(one.requirement, []).append(one.cylinder)
    if not lacking:
        return None
    whole = 1 if claim.per_cylinder else state.plan.cylinders
    said = "; ".join(
        proof_words(state.plan, claim.proof[number])
        + ("" if len(cylinders) == whole else f" for {in_cylinders(cylinders)}")
        for number, cylinders in lacking.items()
    )
    return "", f"not proved yet, wants {said}"


def is_momentary(plan: Plan, claim: Claim) -> bool:
    """Whether a claim is of a state that lasts only until it is changed: no pressure in the lines."""
    resting = [item[0] for name in claim.rests_on for item in plan.items(name, None)]
    return bool(resting) and all(plan.part[name].kind == "state" for name in resting)


def _spoilers(
    state: PathState, claim: Claim, cylinder: int | None, held: tuple[Item, ...]
) -> Iterator[_Spoiler]:
    resting = dict.fromkeys(item for name in claim.rests_on for item in state.plan.items(name, cylinder))
    for item in resting:
        for touch in state.touched.get(item, ()):
            yield _Spoiler(touch.rank, touch.at, touch.entry, touch.words)
    for item in held:
        if item in state.last_off:
            # On the list again, but what was proved before it came off says nothing about now.
            off = state.last_off[item]
            yield _Spoiler(off.rank, off.at, off.entry, off.words)
    for what in claim.ages_on:
        for happened in state.happened.get(what, ()):
            words = f"{what.replace('_', ' ')} at {happened.at}"
            yield _Spoiler(happened.rank, happened.at, happened.entry, words)
    for aged in state.aged:
        if aged.claim == claim.id:
            yield _Spoiler(aged.before, aged.at, aged.entry, aged.words, by_time=True)


def _override(state: PathState, claim: Claim, judged: ClaimState, newest: list[_Newest]) -> Override | None:
    held = () if claim.held_by is None else state.plan.items(claim.held_by, judged.cylinder)
    later = [one.evidence.rank for one in newest if one.evidence is not None]
    later += [
        spoiler.rank for spoiler in _spoilers(state, claim, judged.cylinder, held) if not spoiler.by_time
    ]
    last = max(later, default=None)
    targets = (
        [judged.claim] if judged.cylinder is None else [judged.claim, f"{judged.claim}[{judged.cylinder}]"]
    )
    given = [state.overrides[target] for target in targets if target in state.overrides]
    standing = [override for override in given if last is None or override.rank >= last]
    return max(standing, key=lambda override: override.rank, default=None)


def first_proved(state: PathState, events: Iterable[Event], key: ClaimKey) -> int | None:
    """The rank from which on everything the claim's proof requires had been seen; None if it never was."""
    told = list(events)
    ranks = [_first_for(told, proof, key[1]) for proof in state.plan.claim[key[0]].proof]
    found = [rank for rank in ranks if rank is not None]
    return max(found) if found and len(found) == len(ranks) else None


def _first_for(events: Iterable[Event], proof: Proof, cylinder: int | None) -> int | None:
    """The rank at which something first met one requirement."""
    for event in events:
        if isinstance(event, Done):
            speaks = event.done and any(one.step == event.step for one in proof.alternatives)
        elif isinstance(event, Evidence):
            speaks = any(
                one.source == event.source
                and one.matches(event.conditions)
                and (event.supports or one.reading is not None)
                for one in proof.alternatives
            )
        else:
            continue
        if speaks and (cylinder is None or event.cylinder in (None, cylinder)):
            return event.rank
    return None
