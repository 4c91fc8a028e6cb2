"""What one's own closed jobs say about how common causes are, and what others' counts add.

Every closed job whose cause was confirmed counts as one more; the journals are read and never changed. What
is forgotten is only left out from now on, and remembered again when that is taken back.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from evenpour import data
from evenpour.causes.priors import STRENGTH
from evenpour.errors import Refused
from evenpour.job import times
from evenpour.job.causes.experience_answers import ExperienceAnswer, ExperienceLine, TakenAnswer
from evenpour.job.causes.experience_file import (
    COUNTS_FORMAT,
    CountsFile,
    Held,
    Taken,
    change,
    counts_in,
    held,
)
from evenpour.job.causes.prior import NOTHING_WRONG, Counts, Prior, chances, moved_prior, shipped_prior
from evenpour.job.closing import Closed, closed_with
from evenpour.job.places import default_address
from evenpour.job.writing_files import check_target, write_whole

if TYPE_CHECKING:
    from evenpour.job.job import Job
    from evenpour.job.store import Store


class Told(NamedTuple):
    """A closed job: its number, when it was closed (UTC), and what it says was wrong."""

    number: int
    entered: str
    said: Closed


_lock = threading.Lock()
_read: dict[str, tuple[str, tuple[Told, ...]]] = {}


def prior_now(job: Job, *, store: Store | None = None) -> Prior:
    """What is believed of this car before any reading: as shipped, moved by all other confirmed jobs.

    The job's own closing does not count: it would speak for itself.
    """
    kept = held()
    own, others = counted(_closed_jobs(store), kept, leave_out=job.number), _taken(kept)
    return moved_prior(shipped_prior(), own + others, _told(own.jobs, others.jobs))


def experience(store: Store | None = None) -> ExperienceAnswer:
    """What counts, from where, and what it does."""
    kept, closed = held(), _closed_jobs(store)
    own, others = counted(closed, kept), _taken(kept)
    shipped = shipped_prior()
    before, now = chances(shipped), chances(moved_prior(shipped, own + others))
    titles = {str(table["id"]): str(table["title"]) for table in data.shipped("causes.toml").values["cause"]}
    lines = [
        ExperienceLine(
            cause=cause, title=titles.get(cause, "nothing is wrong"), shipped=before[cause], now=now[cause],
            own=_of(own, cause), others=_of(others, cause),
        )
        for cause in sorted(now, key=lambda cause: -now[cause])
    ]  # fmt: skip
    pairs = ExperienceLine(
        cause="two_at_once", title="two causes at once", shipped=shipped.pairs,
        now=moved_prior(shipped, own + others).pairs, own=own.two_at_once, others=others.two_at_once,
    )  # fmt: skip
    return ExperienceAnswer(
        jobs=own.jobs,
        other_jobs=others.jobs,
        worth=STRENGTH,
        since=kept.since or None,
        lines=lines,
        two_at_once=pairs,
        not_counted=list(_not_counted(closed, kept)),
    )


def forget(store: Store | None = None) -> TakenAnswer:
    """Count from now on only: jobs closed and counts taken in before are left out. Nothing is deleted."""
    now = times.stamp(datetime.now(UTC))
    return _done(change(lambda kept: kept.model_copy(update={"starts": [*kept.starts, now]})), store,
                 "From now on only jobs count that are closed from now on")  # fmt: skip


def remember(store: Store | None = None) -> TakenAnswer:
    """Take the last :func:`forget` back.

    Raises:
        Refused: nothing was forgotten.
    """
    if not held().starts:
        raise Refused("Nothing was forgotten.", ["All your closed jobs count."])
    kept = change(lambda kept: kept.model_copy(update={"starts": kept.starts[:-1]}))
    since = f"closed since {_day(kept.since)} count" if kept.since else "you ever closed count"
    return _done(kept, store, f"All jobs {since} again")


def export_counts(target: Path, store: Store | None = None) -> TakenAnswer:
    """Write one's own counts for another workshop: no names, no cars, no dates; none of others' counts.

    Raises:
        Refused: no job counts yet.
        FieldProblem: the file cannot be written.
    """
    check_target(target)
    own = counted(_closed_jobs(store), held())
    if not own.jobs:
        raise Refused("There is nothing to export.", ["No closed job with a confirmed cause counts yet."])

    def note(kept: Held) -> Held:
        before = kept.exported
        new = CountsFile(
            format=COUNTS_FORMAT, workshop=kept.workshop, edition=1 if before is None else before.edition,
            jobs=own.jobs, nothing_wrong=own.nothing_wrong, two_at_once=own.two_at_once,
            causes=dict(sorted(own.causes.items())),
        )  # fmt: skip
        if before is not None and new != before:
            new = new.model_copy(update={"edition": before.edition + 1})
        return kept.model_copy(update={"exported": new})

    kept = change(note)
    assert kept.exported is not None
    write_whole(target, (kept.exported.model_dump_json(indent=2) + "\n").encode())
    return _done(kept, store, f"Wrote the counts of {_jobs(own.jobs)} to {target}")


def import_counts(source: Path, store: Store | None = None) -> TakenAnswer:
    """Take another workshop's counts in; its later export takes the place of its earlier one.

    Raises:
        FieldProblem, Problems: the file is not sound; nothing is taken in.
        Refused: it is one's own, or counted already.
    """
    counts = counts_in(source)
    kept = held()
    if counts.workshop == kept.workshop:
        raise Refused("These are your own counts.", ["Your closed jobs count already."])
    for one in _in_force(kept):
        if one.counts.workshop == counts.workshop and one.counts.edition >= counts.edition:
            raise Refused("These counts, or later ones of the same workshop, count already.",
                          ["Nothing was changed."])  # fmt: skip
    taken = Taken(at=times.stamp(datetime.now(UTC)), counts=counts)
    now = change(lambda kept: kept.model_copy(update={"taken": [*kept.taken, taken]}))
    return _done(
        now, store, f"{_jobs(counts.jobs)[0].upper()}{_jobs(counts.jobs)[1:]} of another workshop count now"
    )


def counted(closed: Sequence[Told], kept: Held, *, leave_out: int | None = None) -> Counts:
    """The counts of one's own closed jobs."""
    causes: Counter[str] = Counter()
    sound = two = jobs = 0
    for number, entered, said in closed:
        if number == leave_out or entered <= kept.since or not said.counts:
            continue
        causes.update(said.causes)
        sound += said.nothing_wrong
        two += len(said.causes) > 1
        jobs += 1
    return Counts(causes, sound, two, jobs)


def _taken(kept: Held) -> Counts:
    found = Counts()
    for one in _in_force(kept):
        found += one.counts.counts()
    return found


def _in_force(kept: Held) -> list[Taken]:
    """Of each workshop the latest counts that were taken in since jobs count."""
    latest: dict[str, Taken] = {}
    for one in kept.taken:
        if one.at > kept.since:
            latest[one.counts.workshop] = one
    return list(latest.values())


def _closed_jobs(store: Store | None) -> tuple[Told, ...]:
    """All closed jobs; read again only when one was closed or mended."""
    if store is None:
        where = default_address()
        if "://" not in str(where) and not Path(where).expanduser().is_file():
            return ()  # no store yet: none is made by asking
        from evenpour.job.store import Store  # slow to load

        with Store(where) as opened:
            return _closed_jobs(opened)
    stamp, name = store.closed_stamp(), str(store.url)
    with _lock:
        if name in _read and _read[name][0] == stamp:
            return _read[name][1]
    found = tuple(Told(one.number, one.entered, closed_with(one.content)) for one in store.closings())
    with _lock:
        _read[name] = (stamp, found)
    return found


def _not_counted(closed: Sequence[Told], kept: Held) -> Iterator[str]:
    earlier = sum(one.entered <= kept.since for one in closed)
    if earlier:
        yield f"{_jobs(earlier)} closed before {_day(kept.since)}: forgotten"
    later = [one for one in closed if one.entered > kept.since]
    silent = sum(not one.said.counts and not one.said.own_words for one in later)
    strange = [f"job {one.number} (“{one.said.own_words}”)" for one in later if one.said.own_words]
    if silent:
        yield f"{_jobs(silent)} without a confirmed cause"
    if strange:
        more = f" and {len(strange) - 5} more" if len(strange) > 5 else ""
        yield f"a cause in your own words, which the list of causes has not: {', '.join(strange[:5])}{more}"


def _of(counts: Counts, cause: str) -> int:
    return counts.nothing_wrong if cause == NOTHING_WRONG else counts.causes.get(cause, 0)


def _told(own: int, others: int) -> str:
    if not own and not others:
        return ""
    whose = []
    if own:
        whose.append(f"{_jobs(own)} of your own")
    if others:
        whose.append(f"{_jobs(others)} of other workshops" if not own else f"{others} of other workshops")
    return f"How common each cause is was moved by {' and '.join(whose)}; see: evenpour experience"


def _jobs(count: int) -> str:
    return "one closed job" if count == 1 else f"{count} closed jobs"


def _day(stamp: str) -> str:
    return stamp[:10]


def _done(kept: Held, store: Store | None, words: str) -> TakenAnswer:
    own, others = counted(_closed_jobs(store), kept), _taken(kept)
    return TakenAnswer(words=words, jobs=own.jobs, other_jobs=others.jobs)
