"""A judged reading, and what an entry changed, as a page sets them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evenpour.job.adding import still_to_mend
from evenpour.job.answers import (
    AddAnswer,
    ClosingAnswer,
    JudgedReading,
    NextAnswer,
    PutBackAnswer,
    StageAnswer,
    StepName,
)
from evenpour.job.catalogue import catalogue
from evenpour.job.condition_words import stated_words
from evenpour.job.history import words_of
from evenpour.job.job import Job
from evenpour.job.wording import cylinder_list, key_inside
from evenpour.measure.units import with_minus
from evenpour.measure.verdicts import NO_LIMIT
from evenpour.record.words import VERDICTS, named, sureness
from evenpour.web.ruler import Ruler, ruler_of


@dataclass(frozen=True, slots=True)
class Verdict:
    """One reading: large figures, the word, how sure, the limit and where it comes from."""

    what: str
    name: str
    shown: str
    word: str
    outside: bool
    sure: str
    limit: str
    source: str
    basis: str
    settle: str
    notes: tuple[str, ...]
    under: str
    repeats: int
    ruler: Ruler | None
    entry: str
    at: str | None
    stands: bool
    gone: str
    comments: tuple[str, ...]
    figures: tuple[str, ...]


GONE = {
    "newer": "a newer reading of the same counts instead",
    "part_changed": "what was read has been changed since",
}


def verdict_of(row: JudgedReading) -> Verdict:
    """A reading as it is set."""
    everywhere = catalogue().everywhere  # said once for the whole job
    limited = row.limit is not None or row.settle != NO_LIMIT  # without: a condition is not stated
    looked_at = row.limit is not None and row.limit.allowed is not None
    return Verdict(
        what=row.what,
        name=named(row),
        shown=row.shown,
        word=VERDICTS[row.verdict] if limited else "no limit on the sheet: the manual decides",
        outside=row.verdict == "outside",
        sure="" if looked_at or row.limit is None else sureness(row.verdict, row.p_within),
        limit=row.limit.words if row.limit else "",
        source=row.limit.source if row.limit else "",
        basis=row.basis,
        settle=(row.settle or "") if limited else "",
        notes=tuple(note for note in row.notes if note != row.basis),
        under=stated_words({name: text for name, text in row.conditions.items() if name not in everywhere}),
        repeats=row.n,
        ruler=ruler_of(row),
        entry=row.entries[-1] if row.entries and len(row.entries) <= row.n else "",
        at=row.at,
        stands=row.stands,
        gone=GONE.get(row.overtaken or "", ""),
        comments=tuple(row.comments),
        figures=_figures(row),
    )


def _figures(row: JudgedReading) -> tuple[str, ...]:
    """The figures behind the verdict, for whoever wants them."""
    if row.u is None or not isinstance(row.value, float):
        return ()
    unit = row.unit or ""
    lines = [f"reading {with_minus(f'{row.value:.4g}')} {unit}", f"one standard doubt u = {row.u:.2g} {unit}"]
    if row.limit is not None and (row.limit.low is not None or row.limit.high is not None):
        lines.append(f"limit {row.limit.words}")
    if row.p_within is not None:
        lines.append(f"share of the true value's likely range that lies inside: {100.0 * row.p_within:.1f} %")
    return tuple(one.strip() for one in lines)


@dataclass(frozen=True, slots=True)
class Stale:
    """Claims of one wording that went stale together, and why the first did."""

    says: str
    cylinders: str
    why: str


@dataclass(frozen=True, slots=True)
class Said:
    """What an entry says, and what it changed; ``kept``: the entry in words."""

    entry: str
    kept: str
    verdicts: tuple[Verdict, ...]
    stale: tuple[Stale, ...]
    stages: tuple[StageAnswer, ...]
    put_on: tuple[str, ...]
    taken_off: tuple[str, ...]
    stays: tuple[str, ...]
    mend: tuple[StepName, ...]
    on_trust: tuple[str, ...]
    catch_again: tuple[str, ...]
    repeat: tuple[NextAnswer, ...]
    repeat_minutes: int
    questions: tuple[str, ...]
    caught: bool
    closing: ClosingAnswer | None

    @property
    def quiet(self) -> bool:
        """Whether nothing came of it but that it was kept."""
        return not any((self.verdicts, self.stale, self.stages, self.put_on, self.taken_off, self.stays,
                        self.caught, self.questions, self.closing, self.on_trust))  # fmt: skip


def said_of(answer: AddAnswer, job: Job) -> Said:
    """The answer to an entry as it is set; what was put right since in *job* is not asked for again."""
    return Said(
        entry=answer.entry,
        kept=_kept(job, answer.entry),
        verdicts=tuple(verdict_of(row) for row in answer.readings),
        stale=tuple(_stale(answer)),
        stages=tuple(answer.stages),
        put_on=tuple(put_back_names(answer.put_on)),
        taken_off=tuple(answer.taken_off),
        stays=tuple(f"{item.name}: {item.overridden}" for item in answer.stays),
        mend=tuple(still_to_mend(job, answer)),
        on_trust=tuple(step.title for step in answer.on_trust),
        catch_again=tuple(key_inside(key) for key in answer.catch_again),
        repeat=tuple(answer.repeat if answer.went_stale else ()),
        repeat_minutes=answer.repeat_minutes,
        questions=tuple(answer.questions),
        caught=answer.catch is not None,
        closing=answer.closing,
    )


def _kept(job: Job, entry: str) -> str:
    """What the entry says, in words; cautions are read and kept several at once."""
    one = next((one for one in job.folded.standing if one.entry.id == entry), None)
    if one is None:
        return ""
    return "the cautions are read" if one.kind == "caution" else words_of(one.kind, one.content, job.known)


def _stale(answer: AddAnswer) -> Iterable[Stale]:
    by_says: dict[str, list[int]] = {}
    for claim in answer.went_stale:
        by_says.setdefault(claim.says, []).extend([claim.cylinder] if claim.cylinder else [])
    why = {claim.says: claim.why for claim in reversed(answer.went_stale)}
    return [Stale(says, _cylinders(numbers), why[says]) for says, numbers in by_says.items()]


def _cylinders(numbers: Sequence[int]) -> str:
    return f"cylinder{'s' if len(numbers) > 1 else ''} {cylinder_list(numbers)}" if numbers else ""


def put_back_names(items: Sequence[PutBackAnswer]) -> Iterable[str]:
    """``injectors 1 to 6``: items of one kind together."""
    groups: dict[str, list[PutBackAnswer]] = {}
    for item in items:
        groups.setdefault(item.item, []).append(item)
    for group in groups.values():
        numbers = [item.cylinder for item in group if item.cylinder is not None]
        words = group[0].words or group[0].name
        yield ", ".join(filter(None, (words, _cylinders(numbers))))
