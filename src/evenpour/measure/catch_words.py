"""A catch that could be made next, in words: what to exchange, and what the outcome will mean."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour.measure.arrangements import Candidate, Swap


def use_of(candidate: Candidate) -> str:
    """What to do for the catch, and what its outcome will mean."""
    if candidate.swaps:
        return _exchange(candidate)
    if candidate.kind == "spare":
        return (
            f"Fit a known good spare line to port {candidate.spare} for this catch: "
            "if the path is right then, it was the line; if not, it is another part of that path."
        )
    if candidate.kind == "opening":
        return f"Catch at the next opening, {candidate.opening}: a restriction shows more at more flow."
    if candidate.kind == "through":
        return _other_way(candidate)
    return "The same catch once more tells a slip of the hand from a real difference."


def _exchange(candidate: Candidate) -> str:
    kind = candidate.swaps[0][0]
    stays = "line or port" if kind == "injector" else _others(candidate)
    ring = " (three in a ring: one exchange after the other)" if candidate.kind == "ring" else ""
    return (
        f"Exchange {swaps_in_words(candidate.swaps)}{ring} and catch once more: "
        f"if the odd amount moves along, it is the {kind}; if it stays, it is the {stays}."
    )


def _others(candidate: Candidate) -> str:
    return "port" if candidate.through == "lines" else "port or injector"


def _other_way(candidate: Candidate) -> str:
    if candidate.through == "injectors":
        return "Catch through the injectors: a port shows there too, and a line or injector only there."
    return "Catch from bare lines: if it is even there, the port is right; it is the injector or its line."


def swaps_in_words(swaps: Sequence[Swap]) -> str:
    """``injectors 1 with 2, 3 with 4``."""
    if not swaps:
        return ""
    kind = swaps[0][0] if len(swaps) == 1 else f"{swaps[0][0]}s"
    return f"{kind} " + ", ".join(f"{a} with {b}" for _, a, b in swaps)
