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
from evenpour.job.engine_model import causes_known
from evenpour.job.facts import TouchFact
from evenpour.job.job import Job
from evenpour.job.judging import Judged
from evenpour.measure.plain import only, table_of, text_of, texts_of

JOINS: Final = frozenset({"reconnected", "refitted", "fitted"})
MENDS: Final = JOINS | {"replaced"}
_EXCHANGED: Final = 2  # of two that were exchanged, each hangs where the other belongs


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
    for something else (*in_the_way*), only what the eye saw. Of what was read of all cylinders at once, only
    when the last of them is joined, and of what was exchanged, when the second is.
    """
    rank = touch.told.rank
    return tuple(
        one for one in _wrong_at(job, touch, in_the_way=in_the_way) if _is_all_joined(job, one, rank)
    )


def put_right_here(job: Job, touch: TouchFact, *, in_the_way: bool) -> tuple[Joint, ...]:
    """What joining a part again puts right at its own cylinder, whatever it may be at the others."""
    return tuple(one for one in _wrong_at(job, touch, in_the_way=in_the_way) if _is_by_cylinder(one))


def still_wrong(job: Job, rank: int) -> tuple[Joint, ...]:
    """All that was read wrong last before *rank* and was not put right until then."""
    return tuple(one for one in joints() if _was_wrong(job, one, rank) and not _is_all_joined(job, one, rank))


def _wrong_at(job: Job, touch: TouchFact, *, in_the_way: bool) -> list[Joint]:
    if touch.action not in JOINS:
        return []
    its = [one for one in joints() if touch.part in one.parts and (one.word or not in_the_way)]
    return [one for one in its if _was_wrong(job, one, touch.told.rank)]


def _last_read(job: Job, joint: Joint, rank: int) -> Judged | None:
    before = (one for one in job.judged if one.rank < rank and joint.is_read_in(one))
    return max(before, key=lambda one: one.rank, default=None)


def _was_wrong(job: Job, joint: Joint, rank: int) -> bool:
    last = _last_read(job, joint, rank)
    return last is not None and joint.is_wrong_in(last)


def _is_all_joined(job: Job, joint: Joint, rank: int) -> bool:
    """Whether it was joined anew, wherever it may have been wrong, since it was last read before *rank*."""
    last = _last_read(job, joint, rank)
    since = -1 if last is None else last.rank
    work = [one for one in job.facts.touches if one.part in joint.parts and one.action in MENDS]
    at = {one.cylinder for one in work if since < one.told.rank <= rank}
    every = job.plan.cylinders
    return None in at or len(at) >= (every if _is_by_cylinder(joint) else min(_EXCHANGED, every))


def _is_by_cylinder(joint: Joint) -> bool:
    return all(causes_known()[one].per_cylinder for one in joint.causes)


@cache
def joints() -> tuple[Joint, ...]:
    """All that is seen of how parts are joined, as the data says it."""
    return tuple(map(_joint, data.shipped("causes.toml").values["joined"]))


def _joint(plain: Mapping[str, object]) -> Joint:
    only(plain, ("check", "when", "word", "parts", "causes"), "what is seen of a joint")
    return Joint(
        text_of(plain, "check"),
        {name: str(word) for name, word in table_of(plain, "when").items()},
        text_of(plain, "word", ""),
        frozenset(texts_of(plain, "parts")),
        frozenset(texts_of(plain, "causes")),
    )
