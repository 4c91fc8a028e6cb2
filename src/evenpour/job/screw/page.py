"""The mixture screw as a page tells it: the move as a headline, its likely outcome, what is entered then."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from evenpour.job.screw.words import figure, size_words, turns_words
from evenpour.job.wording import likelihood

if TYPE_CHECKING:
    from evenpour.job.job import Job
    from evenpour.job.screw.answers import ScrewAnswer

AT_IT: Final = 1e-6  # turn
HEADLINES: Final = {
    "read": "Read the idle before you turn",
    "stay": "Leave the screw",
    "stop": "Leave the screw for now",
    "none": "No move is advised",
}
FOUND: Final = {"co": "exhaust_co", "lambda_": "exhaust_lambda", "duty": "lambda_duty"}
NAMES: Final = {"co": "CO", "lambda_": "lambda", "duty": "mean duty"}
_TYPED_AT_A_PROMPT = re.compile(r": evenpour add .*?(?=\. Then the reading|$)")
_CONDITION = re.compile(r" \([a-z_]+=\S+\)")
_STEP = re.compile(r"\bstep ([a-z]+(?:_[a-z]+)+)")


@dataclass(frozen=True, slots=True)
class Typed:
    """A move as the form takes it: ``part`` in sixteenths, like ``3/16``; empty where it is no such size."""

    way: str
    whole: str
    part: str
    approach: str


@dataclass(frozen=True, slots=True)
class ScrewTold:
    """What stands at the head of the page.

    ``step`` begins what is to be read first, where something is; ``typed`` is the move advised.
    """

    headline: str
    why: str
    outcome: tuple[str, ...]
    instructions: tuple[str, ...]
    stands: str
    step: str
    step_title: str
    typed: Typed | None


def screw_told(job: Job, answer: ScrewAnswer) -> ScrewTold:
    """The answer in a page's words."""
    click = job.sheet.click_turns
    step = _step(job, answer)
    return ScrewTold(
        headline=_headline(answer, click),
        why=answer.why_no_advice or "",
        outcome=tuple(_outcome(answer)),
        instructions=tuple(on_a_page(words, job) for words in answer.instructions),
        stands=f"{_signed(answer.total_turns)} of {answer.counted_from}" if answer.total_turns else "",
        step=step,
        step_title=job.plan.step[step].title if step else "",
        typed=_typed(answer),
    )


def _headline(answer: ScrewAnswer, click: float | None) -> str:
    if answer.advice not in ("start", "move") or answer.turns is None:
        return HEADLINES[answer.advice]
    if abs(answer.turns) < AT_IT:
        return "Leave it: it stands at its starting point"
    way = "clockwise" if answer.turns > 0.0 else "anticlockwise"
    side = "richer" if answer.turns > 0.0 else "leaner"
    size = size_words(answer.turns, click)
    return f"To its starting point: {size} {way}" if answer.advice == "start" else f"{size} {way}, {side}"


def _outcome(answer: ScrewAnswer) -> Iterator[str]:
    """How likely it lands where it should, and what should be read then."""
    p = answer.p_in_window
    if p is not None and answer.advice != "stop":
        does = "lands" if answer.advice in ("start", "move") and answer.turns else "stands"
        window = f" ({answer.window.words})" if answer.window else ""
        yield f"{likelihood(p)} likely that the idle {does} where it should{window}"
    if answer.expected is not None and answer.advice == "move":
        found = [(name, getattr(answer.expected, name)) for name in FOUND]
        said = [f"{NAMES[name]} {figure(FOUND[name], one)}" for name, one in found if one is not None]
        yield f"it should then read about {', '.join(said)}"


def _step(job: Job, answer: ScrewAnswer) -> str:
    """The step that comes before any move: reading the idle, or finding the onset."""
    if answer.advice not in ("read", "none"):
        return ""
    reads = ("idle_mixture_by_duty", "idle_mixture_and_speed") if answer.has_run else ("onset_lines",)
    return next((name for name in reads if name in job.plan.step), "")


def _typed(answer: ScrewAnswer) -> Typed | None:
    if answer.advice not in ("start", "move") or not answer.turns or abs(answer.turns) < AT_IT:
        return None
    size = Fraction(round(abs(answer.turns) * 16.0), 16)
    if abs(float(size) - abs(answer.turns)) > AT_IT:
        return None
    whole, part = divmod(size, 1)
    way = "clockwise" if answer.turns > 0.0 else "anticlockwise"
    return Typed(way, str(whole) if whole else "", str(part) if part else "", "lean")


def _signed(turns: float) -> str:
    return f"{turns_words(turns)} {'clockwise' if turns > 0.0 else 'anticlockwise'}"


def on_a_page(words: str, job: Job) -> str:
    """Without what one would type at a prompt, and with titles for the names of steps."""
    said = _TYPED_AT_A_PROMPT.sub(" below" if "enter" in words.lower() else "", words)
    said = _CONDITION.sub("", said)
    return _STEP.sub(lambda found: _titled(found[1], job), said)


def _titled(name: str, job: Job) -> str:
    return f"step “{job.plan.step[name].title}”" if name in job.plan.step else f"step {name}"
