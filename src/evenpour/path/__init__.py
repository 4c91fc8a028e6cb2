"""Stages, steps, claims and proofs, staleness, the put-back list: (state, event) -> state."""

from evenpour.path.answer import (
    ClaimState,
    NextStep,
    PutBackGroup,
    PutBackItem,
    Repeat,
    RepeatStep,
    StageState,
    StepState,
)
from evenpour.path.events import Aged, CautionRead, Done, Event, Evidence, Happened, Override, Touch
from evenpour.path.fold import apply, fold, initial
from evenpour.path.gates import may_close, stage_states
from evenpour.path.next_steps import next_steps, repeat
from evenpour.path.plan import Claim, Part, Plan, Proof, Stage, Step
from evenpour.path.put_back import put_back, put_back_groups
from evenpour.path.staleness import claim_state, claim_states
from evenpour.path.state import PathState, Question

__all__ = [
    "Aged",
    "CautionRead",
    "Claim",
    "ClaimState",
    "Done",
    "Event",
    "Evidence",
    "Happened",
    "NextStep",
    "Override",
    "Part",
    "PathState",
    "Plan",
    "Proof",
    "PutBackGroup",
    "PutBackItem",
    "Question",
    "Repeat",
    "RepeatStep",
    "Stage",
    "StageState",
    "Step",
    "StepState",
    "Touch",
    "apply",
    "claim_state",
    "claim_states",
    "fold",
    "initial",
    "may_close",
    "next_steps",
    "put_back",
    "put_back_groups",
    "repeat",
    "stage_states",
]
