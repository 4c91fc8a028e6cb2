"""The journal in words, the screw's ledger, and what was disturbed and proved again: for the record."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from evenpour.job.answers import CautionLine, HistoryLine, OverrideLine, RenewedLine, ScrewMove
from evenpour.job.catalogue import Catalogue
from evenpour.job.closing import closing_words
from evenpour.job.condition_words import one_stated
from evenpour.job.entries import Entry
from evenpour.job.facts import Facts
from evenpour.job.fold import Folded
from evenpour.job.screw.facts import book_of
from evenpour.job.sheet.answers import SheetAnswer, SheetLine
from evenpour.job.taken_apart import turned_words
from evenpour.job.wording import sheet_value_words
from evenpour.machine.sheet import Sheet
from evenpour.measure.choice_words import choice_words
from evenpour.measure.limits import limit_words
from evenpour.path.events import Event
from evenpour.path.staleness import claim_states, first_proved
from evenpour.path.state import PathState, Touched
from evenpour.path.steps import was_done


def history(folded: Folded, known: Catalogue) -> list[HistoryLine]:
    """What stands, in order of the car's time, then what was withdrawn."""
    lines = []
    exchanged: dict[str, str] = {}  # by kind, what the newest catch with an exchange says
    for one in folded.standing:
        line = _line(one.entry, one.kind, one.content, one.at, known, one.corrected_by)
        if one.kind == "catch":
            exchanged |= {f"exchanged_{swap.split()[0]}": " and ".join(one.content["swaps"])
                          for swap in one.content.get("swaps", ())}  # fmt: skip
        which = exchanged.pop(str(one.content.get("part")), "") if _all_back(one.kind, one.content) else ""
        lines.append(line.model_copy(update={"words": f"{line.words}: {which}"}) if which else line)
    for gone in folded.withdrawn:
        if gone.entry.kind == "correction":
            continue
        line = _line(gone.entry, gone.entry.kind, gone.entry.content, gone.entry.at, known, ())
        lines.append(line.model_copy(update={"withdrawn": gone.reason, "corrected_by": [gone.by]}))
    return lines


def _all_back(kind: str, content: Mapping[str, Any]) -> bool:
    """Whether it says of exchanged parts, without naming one, that they are back."""
    return kind == "did" and content.get("action") == "refitted" and "cylinder" not in content


def words_of(kind: str, content: Mapping[str, Any], known: Catalogue) -> str:
    """What one entry says, in words."""
    return _WORDS[kind](content, known)


def corrections_of(entries: Sequence[Entry]) -> list[HistoryLine]:
    """Every correction that was made, what it mends and why."""
    return [
        HistoryLine(
            at=entry.at,
            entered=entry.entered,
            who=entry.content.get("who", ""),
            kind="correction",
            words=f"{entry.content['of']} "
            + ("withdrawn" if entry.content.get("withdrawn") else "corrected")
            + f": {entry.content['reason']}",
            entry=entry.id,
            note=entry.content.get("note", ""),
        )
        for entry in entries
        if entry.kind == "correction"
    ]


def _line(
    entry: Entry, kind: str, content: Mapping[str, Any], at: str | None, known: Catalogue, by: Sequence[str]
) -> HistoryLine:
    photo = content.get("photo", [])
    return HistoryLine(
        at=at,
        entered=entry.entered,
        who=content.get("who", ""),
        kind=kind,
        words=_WORDS[kind](content, known),
        entry=entry.id,
        note=content.get("note", ""),
        photos=[photo] if isinstance(photo, str) else list(photo),
        corrected_by=list(by),
        was=_WORDS[kind](entry.content, known) if by else None,
    )


def _of(content: Mapping[str, Any]) -> str:
    return f", cylinder {content['cylinder']}" if content.get("cylinder") else ""


def _reading(content: Mapping[str, Any], known: Catalogue) -> str:
    check = known.check(content["what"])
    value = ", ".join(map(choice_words, content.get("values", [content.get("value", "")])))
    stated = [one_stated(name, str(text)) for name, text in content.get("conditions", {}).items()]
    under = f" ({', '.join(stated)})" if stated else ""
    if content.get("file"):
        under += f", from {content['file']}" + (f", {content['rows']}" if content.get("rows") else "")
    return f"{check.title}{_of(content)}: {value}{under}"


def _catch(content: Mapping[str, Any], known: Catalogue) -> str:
    amounts = ", ".join(amount or "lost" for amount in content["amounts"])
    through = "bare lines" if content["through"] == "lines" else "the injectors"
    swaps = f", {' and '.join(content['swaps'])} exchanged" if content.get("swaps") else ""
    time = content.get("duration") or ", ".join(content.get("durations", []))
    discarded = " (does not count)" if content.get("discard") else ""
    return f"Caught from {through} at the {content['opening']} opening in {time}{swaps}: {amounts}{discarded}"


def _did(content: Mapping[str, Any], known: Catalogue) -> str:
    part = known.part(content["part"])
    number = f" {content['cylinder']}" if content.get("cylinder") else ""
    title = part.title[:1].upper() + part.title[1:]
    return f"{title}{number} {content['action'].replace('_', ' ')}"


def _move(content: Mapping[str, Any], known: Catalogue) -> str:
    title = known.part(content["part"]).title
    sides = {"lean": ", the last bit clockwise", "rich": ", the last bit anticlockwise"}
    side = sides.get(content.get("approach", ""), "")
    mark = f", to the mark “{content['mark']}”" if "mark" in content else ""
    return f"{title[:1].upper()}{title[1:]} moved by {turned_words(content['turns'])}{side}{mark}"


def _step(content: Mapping[str, Any], known: Catalogue) -> str:
    title = next(table["title"] for table in known.steps if table["id"] == content["id"])
    state = "done" if content["done"] else f"passed over: {content['reason']}"
    return f"“{title}”{_of(content)} {state}"


def _override(content: Mapping[str, Any], known: Catalogue) -> str:
    return f"{override_says(content, known)} overridden: {content['reason']}"


def override_says(content: Mapping[str, Any], known: Catalogue) -> str:
    """What was overridden, in words."""
    name = content.get("claim", content.get("item", "")).split("[")[0]
    if "item" in content:
        return f"“{known.part(name).title}{_of(content)}” left on the put-back list"
    says = next((table["says"] for table in known.claims if table["id"] == name), None)
    title = known.cautions[name].title if says is None else says
    return f"“{title}{_of(content)}”"


def _instrument(content: Mapping[str, Any], known: Catalogue) -> str:
    span = f", {content['range']}" if "range" in content else ""
    tested = f", calibrated {content['calibrated']}" if "calibrated" in content else ""
    return f"Instrument {content['id']}: {content['kind']}{span}{tested}"


def _stated(content: Mapping[str, Any], known: Catalogue) -> str:
    names = (name for name in content if name not in ("who", "note", "photo"))
    return "Conditions: " + ", ".join(
        f"{known.kinds[name].title if name in known.kinds else name} {content[name]}" for name in names
    )


def _closed(content: Mapping[str, Any], known: Catalogue) -> str:
    return f"Job closed{closing_words(content)}"


def _caution(content: Mapping[str, Any], known: Catalogue) -> str:
    return f"Caution read: {known.cautions[content['id']].title}"


def _note(content: Mapping[str, Any], known: Catalogue) -> str:
    text = str(content.get("text", content.get("note", "")))
    step = next((table["title"] for table in known.steps if table["id"] == content.get("step")), "")
    what = "A photo" if "photo" in content else "A note"
    placed = f"{what}, {step}" if step else what
    if "photo" in content or step:
        return f"{placed}: {text}" if text else placed
    return text


_WORDS: Mapping[str, Callable[[Mapping[str, Any], Catalogue], str]] = {
    "engine": lambda content, known: f"Job opened on sheet {content['sheet']}",
    "conditions": _stated,
    "instrument": _instrument,
    "reading": _reading,
    "catch": _catch,
    "move": _move,
    "did": _did,
    "step": _step,
    "happened": lambda content, known: known.happenings.get(content["what"], content["what"]),
    "caution": _caution,
    "override": _override,
    "note": _note,
    "closed": _closed,
}


def ledger(facts: Facts) -> list[ScrewMove]:
    """Every move of every screw, with the running total from where it, or a new one, was found."""
    parts = dict.fromkeys(touch.part for touch in facts.touches if touch.turns is not None)
    lines = [(part, line) for part in parts for line in book_of(facts, part).lines]
    return [
        ScrewMove(
            part=part,
            at=line.turn.at or None,
            who=line.turn.who,
            typed=line.turn.typed,
            turns=line.turn.turns,
            total=line.total,
            note=line.turn.note,
            entry=line.turn.entry,
            approach=line.turn.approach or None,
            mark=line.turn.mark or None,
        )
        for part, line in sorted(lines, key=lambda one: one[1].turn.rank)
    ]


def overrides(facts: Facts, known: Catalogue) -> list[OverrideLine]:
    """Who answered for what, and why."""
    return [
        OverrideLine(
            target=fact.content.get("claim", fact.content.get("item", "")),
            says=override_says(fact.content, known),
            who=fact.told.who,
            reason=fact.content["reason"],
            at=fact.told.at or None,
        )
        for fact in facts.of_kind("override")
    ]


def cautions(state: PathState, facts: Facts, known: Catalogue) -> list[CautionLine]:
    """The cautions of the steps that were done, in the catalogue's order, and who read them."""
    read = {fact.content["id"]: fact.told for fact in reversed(facts.of_kind("caution"))}
    wanted = {
        caution for step in state.plan.steps if was_done(state, step) for caution in step.cautions
    } | set(read)
    return [
        CautionLine(
            id=caution.id,
            title=caution.title,
            text=caution.text,
            sign=caution.sign,
            read_by=read[caution.id].who if caution.id in read else None,
            read_at=read[caution.id].at or None if caution.id in read else None,
        )
        for caution in known.cautions.values()
        if caution.id in wanted
    ]


def renewed(state: PathState, events: Iterable[Event]) -> Iterator[RenewedLine]:
    """Claims that were proved, then disturbed: what disturbed them, and how they stand now."""
    plan, told = state.plan, list(events)
    for key, claim in claim_states(state).items():
        first = first_proved(state, told, key)
        items = [item for name in plan.claim[key[0]].rests_on for item in plan.items(name, key[1])]
        touches = [touch for item in items for touch in state.touched.get(item, ()) if _after(touch, first)]
        if touches and claim.state in ("proved", "stale", "open", "overridden"):
            yield RenewedLine(
                claim=key[0],
                says=plan.claim[key[0]].says,
                cylinder=key[1],
                disturbed=max(touches, key=lambda touch: touch.rank).words,
                state="proved again" if claim.state == "proved" else claim.state,
            )


def _after(touch: Touched, first: int | None) -> bool:
    return first is not None and touch.rank > first


def sheet_answer(sheet: Sheet, known: Catalogue, system: str) -> SheetAnswer:
    """The sheet with every value's and limit's provenance."""
    return SheetAnswer(
        sheet=sheet.id,
        title=sheet.title,
        notice=sheet.notice,
        cylinders=sheet.cylinders,
        devices=sorted(sheet.devices),
        values=[
            SheetLine(
                name=name,
                title=value.title,
                shown=sheet_value_words(sheet, name, system),
                source=value.source,
                origin=value.source,
                note=value.note,
            )
            for name, value in sheet.values.items()
        ],
        limits=[
            SheetLine(
                name=limit.check,
                title=known.checks[limit.check].title,
                shown=limit_words(limit, system),
                source=f"{limit.source}{f'; {limit.note}' if limit.note else ''}",
                origin=limit.source,
                note=limit.note,
            )
            for limit in sheet.limits
        ],
    )
