"""Whoever does what is named first, and no more, gets on: no round of steps that undo each other."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from evenpour.job.demo import demo_entries
from evenpour.job.job import job_from
from evenpour.path import next_steps

MOST = 3  # times a step without a reading may come again: what spoils its proof may have to be done twice


@pytest.mark.parametrize("entered", [20, 120, 140, 174], ids=lambda entered: f"after_{entered}_entries")
def test_doing_only_what_is_named_first_never_goes_round_in_a_circle(entered: int) -> None:
    """A step that wants a reading is passed over when it comes again: nothing is read here."""
    entries = list(demo_entries()[:entered])
    like = next(one for one in demo_entries() if one.kind == "step")
    at = datetime.fromisoformat(max(one.at or "" for one in entries))
    named: Counter[str] = Counter()
    while steps := next_steps((job := job_from("demo", entries)).state):
        (first, *_) = (job.plan.step[one.step] for one in steps)
        named[first.id] += 1
        if first.checks and named[first.id] > MOST:
            break  # its claim is stale: only the reading brings it back
        assert named[first.id] <= MOST, f"{first.id} comes again and again: {dict(named)}"
        passed = bool(first.checks) and named[first.id] > 1
        at += timedelta(minutes=1)
        content = {"id": first.id, "done": not passed} | ({"reason": "later"} if passed else {})
        entries.append(
            replace(
                like, seq=len(entries) + 1, id=f"next-{len(entries)}",
                at=at.isoformat(timespec="minutes"), content=content,
            )
        )  # fmt: skip
    assert len(named) > 5  # it did get on
