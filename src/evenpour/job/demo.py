"""The demo job: entered beat by beat into a store of its own, and answered as any other job would be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from evenpour import data
from evenpour.job import job_file
from evenpour.job.answers import CatchAnswer, ClaimAnswer, JudgedReading
from evenpour.job.entries import Draft, Entry
from evenpour.job.job import Job, job_from
from evenpour.job.opening import stored_job
from evenpour.job.store import Store
from evenpour.job.wording import catch_verdict, doubt_words, part_name
from evenpour.job.writing_files import write_whole
from evenpour.measure.units import shown
from evenpour.path.words import cylinder_list

VERDICTS = {"within": "within", "outside": "OUTSIDE", "cannot_tell": "cannot tell"}


@dataclass(frozen=True, slots=True)
class Beat:
    """One stretch of the story: what was done, and the lines that were worked out of it."""

    title: str
    says: str
    lines: tuple[str, ...]
    job: Job  # as it stood then


def play(folder: Path) -> Iterator[Beat]:
    """The beats, one after the other; the job grows in *folder*, which starts empty of it each time."""
    for old in folder.glob("jobs.db*"):
        old.unlink()
    told = data.shipped("demo-story.toml").values["beat"]
    entries = demo_entries()
    with Store(folder / "jobs.db") as store:
        number = store.import_job(entries[:1])
        kept = 1
        for beat in told:
            end = next(place for place, entry in enumerate(entries, 1) if entry.id == beat["upto"])
            store.append_many(number, [_undated(entry) for entry in entries[kept:end]])
            kept = end
            job = stored_job(store, number)
            lines = [line for show in beat["shows"] for line in _shown(show, job)]
            yield Beat(beat["title"], beat.get("says", ""), tuple(lines), job)


def leave_file(job: Job, folder: Path) -> Path:
    """Write the job as a file, for whoever wants to play with it."""
    target = folder / "job.toml"
    write_whole(target, job_file.write_toml(job.entries).encode())
    return target


def demo_entries() -> tuple[Entry, ...]:
    """The demo job's entries in order of the car's time."""
    text = job_file.read_text(data.shipped_text("demo.toml"), "demo.toml")
    first = [entry for entry in text.entries if entry.at is None]
    return (
        *first,
        *sorted((e for e in text.entries if e.at is not None), key=lambda entry: (entry.at or "", entry.seq)),
    )


def _undated(entry: Entry) -> Draft:
    return Draft(entry.kind, entry.content, entry.id, entry.at)


def _shown(show: str, job: Job) -> Sequence[str]:
    kind, _, of = show.partition(":")
    return _SHOWS[kind](job, of)


def _reading(job: Job, of: str) -> list[str]:
    row: JudgedReading = next(row for row in job.judge().readings if of in row.entries)
    where = {"regulator_temperature": "at", "after": "after"}
    at = "".join(
        f" {where[name]} {text.replace('degC', '°C')}"
        for name, text in row.conditions.items()
        if name in where
    )
    title = row.title.removesuffix(" after the stop") if "after" in row.conditions else row.title
    limit = f" ({row.limit.words})" if row.limit else ""
    return [f"{title.replace(',', '')}{at}: {row.shown}, {VERDICTS[row.verdict]}{limit}"]


def _stage(job: Job, of: str) -> list[str]:
    stage = next(stage for stage in job.path().stages if stage.stage == of)
    return [f"“{stage.title}” is {stage.state}; {stage.short}."]


def _even(job: Job, of: str) -> list[str]:
    answer = job.catch()
    return [_even_line(answer, key) for key in answer.spread_by_run if key.startswith(of)]


def _even_line(answer: CatchAnswer, key: str) -> str:
    p, limit = answer.even_by_run[key], answer.limit_by_run[key]
    if p is None or limit is None:
        return f"{key}: no limit"
    word, sure = catch_verdict(answer, key)
    loud = word.upper() if word == "uneven" else word
    return (
        f"{key.partition(':')[2].capitalize()} opening: true spread {100 * answer.spread_by_run[key]:.1f} "
        f"± {200 * answer.u_by_run[key]:.1f} %, limit {100 * limit:.0f} %: {loud}, {sure}."
    )


def _doubt(job: Job, of: str) -> list[str]:
    answer = job.catch()
    lines = [f"{words[:1].upper()}{words[1:]}." for words in doubt_words(answer)[:3]]
    return lines + [
        f"Not to be told apart yet: {' and '.join(part_name(one) for one in group)}."
        for group in answer.undivided
    ]


def _next_catch(job: Job, of: str) -> list[str]:
    after = job.catch().next_catch
    if after is None:
        return []
    swaps = f" with {', '.join(after.swaps).replace(' with ', ' and ')} exchanged" if after.swaps else ""
    return [f"Next: catch through {after.through} at {after.opening}{swaps}."]


def _stale(job: Job, of: str) -> list[str]:
    """What the newest entry made stale."""
    before = job_from(job.name, job.entries[:-1], number=job.number)
    was = {(claim.claim, claim.cylinder) for claim in before.path().claims if claim.state == "stale"}
    now = [claim for claim in job.path().claims if claim.state == "stale"]
    fresh = [claim for claim in now if (claim.claim, claim.cylinder) not in was]
    return [f"Stale now: {_some(_claims(fresh), 5)}."]


def _claims(claims: Sequence[ClaimAnswer]) -> list[str]:
    by_says: dict[str, list[int]] = {}
    for claim in claims:
        by_says.setdefault(claim.says, []).extend([claim.cylinder] if claim.cylinder else [])
    return [f"{says}{f' ({cylinder_list(number)})' if number else ''}" for says, number in by_says.items()]


def _repeat(job: Job, of: str) -> list[str]:
    path = job.path()
    titles = [
        one.title + (f" ({cylinder_list(one.cylinders)})" if one.cylinders else "") for one in path.repeat
    ]
    return [f"Shortest way back, {path.repeat_minutes} minutes: {_some(titles, 2)}."]


def _some(texts: Sequence[str], most: int) -> str:
    return "; ".join(texts[:most]) + (f"; and {len(texts) - most} more" if len(texts) > most else "")


def _put_back(job: Job, of: str) -> list[str]:
    names = [item.name for item in job.path().put_back]
    return [f"On the put-back list: {', '.join(names)}." if names else "The put-back list is empty."]


def _close(job: Job, of: str) -> list[str]:
    fire = next(stage for stage in job.path().stages if stage.stage == "first_fire")
    reasons = job.path().may_close
    refused = f"; handing over is refused, for {len(reasons)} reasons" if reasons else ""
    return [f"“{fire.title}” is {fire.state}{refused}."]


def _screw(job: Job, of: str) -> list[str]:
    moves = [move for move in job.ledger() if move.part == "mixture_screw"]
    total = shown(moves[-1].total, "angle")
    return [f"Screw: {', '.join(move.typed for move in moves)}; in all {total} in."]


def _end(job: Job, of: str) -> list[str]:
    path = job.path()
    standing = sum(stage.state == "proved" for stage in path.stages)
    outside = [row.title.lower() for row in job.judge().readings if row.stands and row.verdict == "outside"]
    lines = [
        f"{standing} of {len(path.stages)} stages proved, put-back list "
        f"{'empty' if not path.put_back else 'NOT empty'}, {len(job.overrides())} overrides, "
        f"{len(job.entries)} entries in the journal."
    ]
    if outside:
        lines.append(f"Still outside, and said in the record: {', '.join(outside)}.")
    return lines


_SHOWS: Mapping[str, Callable[[Job, str], Sequence[str]]] = {
    "reading": _reading,
    "stage": _stage,
    "even": _even,
    "doubt": _doubt,
    "next_catch": _next_catch,
    "stale": _stale,
    "repeat": _repeat,
    "put_back": _put_back,
    "close": _close,
    "screw": _screw,
    "end": _end,
}
