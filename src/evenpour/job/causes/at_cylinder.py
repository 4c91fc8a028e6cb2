"""A cylinder at which something is wrong, where its causes are not told apart."""

from __future__ import annotations

from collections.abc import Iterator

from evenpour.job.causes.case import Case, marginal

PLAIN = 0.3  # how likely it is that something is wrong at one cylinder, from which that is told
SPREAD = 0.5  # share of that which the likeliest of its causes has at most: else that cause says it


def at_one_cylinder(case: Case) -> Iterator[str]:
    """In words, each cylinder at which something is likely to be wrong, by many causes of which none stands
    out.
    """
    listed, total, most = case.explanation.suspects, dict[int, float](), dict[int, float]()
    each: list[tuple[tuple[int, ...], float]] = [((h,), p) for h, p in case.probability.items()]
    each += [(one.which, p) for one, p in zip(case.joint, case.joint_probability, strict=True)]
    for which, chance in each:
        for cylinder in {listed[h].cylinder for h in which} - {None}:
            assert cylinder is not None
            total[cylinder] = total.get(cylinder, 0.0) + chance
    for h, chance in marginal(case).items():
        cylinder = listed[h].cylinder
        if cylinder is not None:
            most[cylinder] = max(most.get(cylinder, 0.0), chance)
    found = [
        cylinder
        for cylinder in sorted(total)
        if total[cylinder] >= PLAIN and most.get(cylinder, 0.0) < SPREAD * total[cylinder]
    ]
    if found:
        said = ", ".join(f"cylinder {cylinder} ({total[cylinder]:.0%})" for cylinder in found)
        yield (
            f"Something is wrong at {said}, all that it may be taken together. What it is, the readings do "
            "not tell apart yet."
        )
