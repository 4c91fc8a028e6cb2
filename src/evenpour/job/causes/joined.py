"""What was seen to be wrong in how parts are joined: taken off and joined again, it is put right.

Crossed lines, crossed plugs and a hose that lets air in are mended by the hand that joins them anew. Of a
joint at which nothing was seen, the same is nothing but taking off what was in the way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final

from evenpour import data
from evenpour.job.facts import TouchFact
from evenpour.job.job import Job
from evenpour.job.judging import Judged

JOINS: Final = frozenset({"reconnected", "refitted", "fitted"})


@dataclass(frozen=True, slots=True)
class Joint:
    """What one reading sees of how parts are joined.

    Attributes:
        check, when: The reading, and the conditions by which it is that one.
        word: What is read of it where the eye sees that it is wrong; empty of a figure, which may be off by
            something else too.
        parts: Those of which one, joined again, puts it right.
        causes: What is mended so.
    """

    check: str
    when: Mapping[str, str]
    word: str
    parts: frozenset[str]
    causes: frozenset[str]

    def is_read_in(self, group: Judged) -> bool:
        """Whether that is what was read, right or wrong."""
        stated = group.reading.conditions
        return group.check.id == self.check and all(
            name in stated and stated[name].choice == word for name, word in self.when.items()
        )

    def is_wrong_in(self, group: Judged) -> bool:
        """Whether it was read wrong, or not surely right."""
        return group.reading.choice == self.word if self.word else group.verdict.verdict != "within"


def put_right(job: Job, touch: TouchFact, *, in_the_way: bool) -> tuple[Joint, ...]:
    """What joining a part again puts right: all that was wrong there when it was last read; where it was off
    for something else (*in_the_way*), only what the eye saw.
    """
    if touch.action not in JOINS:
        return ()
    its = [one for one in joints() if touch.part in one.parts and (one.word or not in_the_way)]
    return tuple(one for one in its if _was_wrong(job, one, touch.told.rank))


def _was_wrong(job: Job, joint: Joint, rank: int) -> bool:
    before = [one for one in job.judged if one.rank < rank and joint.is_read_in(one)]
    return bool(before) and joint.is_wrong_in(max(before, key=lambda one: one.rank))


@cache
def joints() -> tuple[Joint, ...]:
    """All that is seen of how parts are joined, as the data says it."""
    return tuple(
        Joint(
            str(one["check"]), dict(one.get("when", {})), str(one.get("word", "")),
            frozenset(one["parts"]), frozenset(one["causes"]),
        )
        for one in data.shipped("causes.toml").values["joined"]
    )  # fmt: skip
