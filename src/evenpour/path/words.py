"""How parts, cylinders and actions are named in a sentence."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence

from evenpour.path.pieces import Span
from evenpour.path.plan import Claim, Item, Part, Plan, Proof

ON_TRUST = "on your word, without its reading"
"""Of a step said to be done whose own reading was never entered."""

_DONE_TO = {"taken_out": "taken out"}


def listed(words: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1]))) if words else ""


def cylinder_list(cylinders: Iterable[int]) -> str:
    """ "4", "1 to 6", "1 and 2", "1, 3 and 5 to 7"."""
    runs: list[list[int]] = []
    for cylinder in sorted(cylinders):
        if runs and cylinder == runs[-1][-1] + 1:
            runs[-1].append(cylinder)
        else:
            runs.append([cylinder])
    told = ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run) for run in runs)
    return listed([words for some in told for words in some])


def in_cylinders(cylinders: Sequence[int]) -> str:
    """ "cylinder 4" or "cylinders 1 to 3"."""
    return f"cylinder{'s' if len(cylinders) > 1 else ''} {cylinder_list(cylinders)}"


def told_by_cylinder(said: Mapping[str, Collection[int]]) -> str:
    """What is said of cylinders, each with its own: ``the compression: 10.4 bar (cylinders 1 and 5); 9.8 bar
    (cylinder 3)``. Words that all begin with, before their figures, stand once. What is of no
    cylinder has no number.
    """
    begin = _begin_alike(list(said))
    told = [
        words.removeprefix(begin).lstrip() + (f" ({in_cylinders(sorted(cylinders))})" if cylinders else "")
        for words, cylinders in said.items()
    ]
    return (f"{begin.rstrip(',;:')}: " if begin else "") + "; ".join(told)


def _begin_alike(words: Sequence[str]) -> str:
    """The whole words that several sayings begin with, where a figure follows in each of them."""
    if len(words) < 2:
        return ""
    split = [one.split() for one in words]
    alike = 0
    while all(len(one) > alike + 1 and one[alike] == split[0][alike] for one in split):
        alike += 1
    return " ".join(split[0][:alike]) if all(one[alike][0].isdigit() for one in split) else ""


def part_name(part: Part, cylinders: Sequence[int] = ()) -> str:
    """ "coil feed", "injector 4", "injectors 1 to 6"; lower case at the start, as within a sentence."""
    if not cylinders:
        return _lowered(part.title)
    title = part.title if len(cylinders) == 1 else part.plural or _plural(part.title)
    return f"{_lowered(title)} {cylinder_list(cylinders)}"


def item_name(plan: Plan, item: Item) -> str:
    """The name of one item of the car."""
    name, cylinder = item
    return part_name(plan.part[name], () if cylinder is None else (cylinder,))


def item_names(plan: Plan, items: Iterable[Item]) -> list[str]:
    """The names of items of the car, those of one part together: "injectors 1 to 6"."""
    by_part: dict[str, list[int]] = {}
    for part, cylinder in items:
        by_part.setdefault(part, []).extend([] if cylinder is None else [cylinder])
    return [part_name(plan.part[part], cylinders) for part, cylinders in by_part.items()]


def not_entered(plan: Plan, items: Sequence[Item]) -> list[str]:
    """What would put these on the put-back list, and was not entered: a tool fitted, all else taken off."""
    fitted = [item for item in items if plan.is_tool(item[0])]
    off = [item for item in items if not plan.is_tool(item[0])]
    return [
        f"not yet entered as {done_to}: {', '.join(item_names(plan, some))}"
        for done_to, some in (("taken off", off), ("fitted", fitted))
        if some
    ]


def items_were(plan: Plan, items: Sequence[Item]) -> str:
    """ "injector 4 was", "injectors 1 to 6 were", "feed hoses were": items of one part, and their verb."""
    part = plan.part[items[0][0]]
    cylinders = [cylinder for _, cylinder in items if cylinder is not None]
    several = len(cylinders) > 1 or (not cylinders and _names_several(part.title))
    return f"{part_name(part, cylinders)} {'were' if several else 'was'}"


def item_id(item: Item) -> str:
    """ "coil_feed" or "injector[4]"."""
    name, cylinder = item
    return name if cylinder is None else f"{name}[{cylinder}]"


def action_words(action: str) -> str:
    """ "taken out" from "taken_out"."""
    return _DONE_TO.get(action, action.replace("_", " "))


def claim_name(claim: Claim, cylinders: Sequence[int | None] = ()) -> str:
    """The claim in its own words, with its cylinders."""
    known = [cylinder for cylinder in cylinders if cylinder is not None]
    return f"“{claim.says}” ({in_cylinders(known)})" if known else f"“{claim.says}”"


def proof_words(plan: Plan, proof: Proof) -> str:
    """What would prove it: "system pressure (valve shut)", "step “Cut the spark”"."""
    return " or ".join(_one_proof(plan, one) for one in proof.alternatives)


def _one_proof(plan: Plan, proof: Proof) -> str:
    kind, name = proof.source
    if kind == "step":
        return f"step “{plan.step[name].title}”"
    plain = name.replace(":", ", ").replace("_", " ")
    if kind == "happened":
        return f"that it {plain}"
    base = (proof.called or plain) if kind == "check" else f"catch {plain}"
    said = [
        _span_words(key, one) if isinstance(one, Span) else proof.said.get(key) or f"{key} {one}"
        for key, one in proof.conditions.items()
        if one not in ("", "none")
    ]
    return f"{base} ({', '.join(said).replace('_', ' ')})" if said else base


def _span_words(key: str, span: Span) -> str:
    """Of a time that must have passed "after 10 to 20 min", "after 5 min or more"."""
    if key != "after":
        return f"{key} {span.words}"
    low = span.words.removeprefix("from ")
    return f"after {low.removesuffix(' up')} or more" if low.endswith(" up") else f"after {low}"


def _names_several(title: str) -> bool:
    # "pressure in the fuel lines" is one thing, "plugs in the bores" are several.
    head = re.split(r",| in | of | on | under ", title)[0]
    return head.endswith("s") and not head.endswith(("ss", "us", "as"))


def _lowered(title: str) -> str:
    return title if title[1:2].isupper() else title[:1].lower() + title[1:]


def _plural(title: str) -> str:
    return title + ("es" if title.endswith(("s", "x", "ch", "sh")) else "s")
