"""The mixture screw: where it stands, what to do with it now, entering a move, and every move so far."""

from __future__ import annotations

from dataclasses import dataclass, replace

from starlette.responses import Response

from evenpour.job.advice import advice, beside_screw
from evenpour.job.asking import Choice
from evenpour.job.caution_told import was_read
from evenpour.job.screw.answer import screw_answer
from evenpour.job.screw.answers import ScrewAnswer, ScrewLine, ScrewMark
from evenpour.job.screw.page import ScrewTold, screw_told
from evenpour.job.screw.words import turns_words
from evenpour.job.step_page import sides
from evenpour.job.taken_apart import turned_words
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.problems import NOTHING_TYPED, Typed
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_entry
from evenpour.web.screw_dial import Dial, dial

FORM = "move"
LAST_BIT = {"lean": "clockwise", "rich": "anticlockwise"}


@dataclass(frozen=True, slots=True)
class MarkRow:
    """A mark: where it lies from where the screw stands, and from where it was found."""

    number: int
    title: str
    from_here: str
    position: str
    said: str
    void: str


@dataclass(frozen=True, slots=True)
class MoveRow:
    """One move."""

    said: str
    turned: str
    total: str
    last: str
    who: str
    note: str
    entry: str


@dataclass(frozen=True, slots=True)
class Screw:
    """Everything screw.html may use.

    ``unread`` while there are cautions that nobody has read on this job: until then no move is entered here.
    ``beside``: why the job's first page advises another thing.
    """

    answer: ScrewAnswer
    told: ScrewTold
    dial: Dial
    marks: tuple[MarkRow, ...]
    moves: tuple[MoveRow, ...]
    withdrawn: tuple[str, ...]
    sides: tuple[Choice, ...]
    play: str
    beside: str
    unread: bool
    forms: FormState


def show(ask: Ask) -> Response:
    """The screw as it stands; the form holds the move advised."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """A move; or that the cautions were read."""
    return save_entry(ask, f"/jobs/{ask.number}/screw", _shown)


def _shown(ask: Ask, sent: Sent) -> Response:
    job = ask.job
    answer = screw_answer(job)
    told = screw_told(job, answer)
    starts = [] if answer.start is None else [_start_row(answer, len(answer.marks) + 1)]
    marks = [*(_mark_row(mark, number) for number, mark in enumerate(answer.marks, start=1)), *starts]
    places = [(mark.position, mark.void is not None) for mark in answer.marks]
    places += [] if answer.start is None else [(answer.start.position, False)]
    unread = not all(was_read(one) for one in answer.cautions)
    typed = sent if sent is not NOTHING_SENT else replace(sent, typed=_advised(told))
    page = Screw(
        answer=answer,
        told=told,
        dial=dial(answer, places, told.headline, told.stands),
        marks=tuple(marks),
        moves=tuple(_move_row(line) for line in reversed(answer.ledger)),
        withdrawn=tuple(f"{turned_words(one.typed)} ({one.reason})" for one in answer.withdrawn),
        sides=sides(),
        play=turns_words(answer.play),
        beside=beside_screw(advice(job, ask.shop.store), answer.advice, told.step),
        unread=unread,
        forms=form_state(ask, "move", typed, name_once=unread),
    )
    return ask.page("screw.html", page, title="The mixture screw", status=sent.status)


def _advised(told: ScrewTold) -> Typed:
    """The move advised, as if it had been typed."""
    if told.typed is None:
        return NOTHING_TYPED
    move = told.typed
    turned = {"turns-way": move.way, "turns-whole": move.whole, "turns-part": move.part}
    return Typed(FORM, {**turned, "approach": move.approach})


def _mark_row(mark: ScrewMark, number: int) -> MarkRow:
    return MarkRow(
        number=number,
        title=f"{mark.title[:1].upper()}{mark.title[1:]}",
        from_here=_place(mark.from_here),
        position=_in_all(mark.position),
        said=mark.said,
        void=mark.void or "",
    )


def _start_row(answer: ScrewAnswer, number: int) -> MarkRow:
    assert answer.start is not None
    start = answer.start
    said = f"{turns_words(start.back)} back from the first drop; {start.source}"
    return MarkRow(number, "Starting point", _place(start.turns), _in_all(start.position), said, "")


def _place(turns: float) -> str:
    if abs(turns) < 1e-6:
        return "here"
    return f"{turns_words(turns)} {'clockwise' if turns > 0.0 else 'anticlockwise'}"


def _turned(turns: float) -> str:
    return "not turned" if abs(turns) < 1e-6 else _place(turns)


def _in_all(turns: float) -> str:
    return "0" if abs(turns) < 1e-6 else _place(turns)


def _move_row(line: ScrewLine) -> MoveRow:
    last = LAST_BIT[line.approach] if line.approach else line.way.replace("none", "–")
    notes = (line.note, f"mark: {line.mark}" if line.mark else "", "corrected" if line.corrected_by else "")
    return MoveRow(
        said=line.said,
        turned=_turned(line.turns),
        total=_in_all(line.total),
        last=f"{last}, play first" if line.reversed else last,
        who=line.who,
        note="; ".join(filter(None, notes)),
        entry=line.entry,
    )


IN_JOB = (Line("The mixture screw", "/screw"),)
PAGES = (Page("/jobs/{number:int}/screw", show, save),)
