"""A job's readings explained: what all that is told of its causes is told from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from evenpour.causes.explanation import Explanation
from evenpour.causes.parts import Part, Weighed
from evenpour.causes.slip_kinds import Slip
from evenpour.causes.together import Together
from evenpour.job.causes.facts import Told
from evenpour.job.job import Job
from evenpour.machine.kind import Kind
from evenpour.machine.situation import Situation


@dataclass(frozen=True, slots=True)
class Case:
    """A job's readings explained.

    Attributes:
        read: Every reading that tells of the car as it is now.
        weighed: All that may be the matter, with readings set aside or not.
        explanation: What is told from: of the readings but those that more likely than not do not belong.
        told: Those readings, as they were meant; they run alike with the explanation's observations.
        slips: What was more likely than not written wrongly: there the explanation is of what was meant.
        probability: Of single hypotheses.
        joint_probability: Of several causes at once, in their order.
        left_out: In words, the readings that tell of the car no more.
        odd: How much of "nothing wrong" is something that is not known here.
    """

    job: Job
    kind: Kind
    home: Situation
    read: tuple[Told, ...]
    weighed: Weighed
    explanation: Explanation
    told: tuple[Told, ...]
    joint: tuple[Together, ...]
    left_out: tuple[str, ...]
    probability: Mapping[int, float]
    joint_probability: tuple[float, ...]
    odd: float = 0.0
    slips: tuple[Slip, ...] = ()

    def told_from(self, part: Part) -> Case:
        """The same, told from another part of all that may be the matter."""
        if part.told is self.explanation:
            return self
        return replace(self, explanation=part.told, told=kept(self.read, part), slips=part.way.slips)

    def lean(self) -> Case:
        """The same without what was only tried, to be held in memory: nothing can be told from it but how
        likely each cause is.
        """
        told = self.explanation
        again = {
            g: replace(
                one, modes=replace(one.modes, J=one.modes.J[:, :, :0].copy(), f=one.modes.f[:, :0].copy())
            )
            for g, one in told.again.items()
        }
        return replace(self, explanation=replace(told, again=again), weighed=Weighed(()))


def kept(read: Sequence[Told], part: Part) -> tuple[Told, ...]:
    """The readings without those that a part sets aside, and with its slips put right."""
    as_meant = part.told.seen.observations
    return tuple(
        replace(read[int(row)], observation=one) for row, one in zip(part.kept, as_meant, strict=True)
    )


def marginal(case: Case) -> dict[int, float]:
    """How likely each cause is, alone or with others."""
    share = dict(case.probability)
    for p, one in zip(case.joint_probability, case.joint, strict=True):
        for h in one.which:
            share[h] += p
    return share
