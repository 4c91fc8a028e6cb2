"""The mixture screw as it is answered: its ledger, its marks, its starting point, and what to do now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from evenpour.job.caution_told import cautions_told
from evenpour.job.facts import Facts
from evenpour.job.fold import Folded
from evenpour.job.screw.answers import (
    ScrewAnswer,
    ScrewExpected,
    ScrewLine,
    ScrewMark,
    ScrewStart,
    ScrewStop,
    ScrewWindow,
    ScrewWithdrawn,
    Way,
)
from evenpour.job.screw.facts import SCREW, mixture_book
from evenpour.job.screw.readings import CHECKS, Usable, windows
from evenpour.job.screw.running import Halt, Idle, halt_of, prior_of_start, read_first, running_idle
from evenpour.job.screw.words import (
    figures,
    knowledge,
    much_words,
    running_words,
    size_words,
    window_words,
)
from evenpour.job.wording import MANUAL, likelihood, when_said
from evenpour.machine.sheet import Sheet
from evenpour.measure.units import shown
from evenpour.tune.screw_advice import Advice
from evenpour.tune.screw_ledger import (
    ONSET_INJECTORS,
    ONSET_LINES,
    ONSETS_ALIKE,
    PLAY,
    Ledger,
    Line,
    Mark,
    Start,
    last_from,
    onsets_apart,
    overshoot,
    start,
)

if TYPE_CHECKING:
    from evenpour.job.job import Job

AT_IT = 1.0 / 32.0  # turn; nearer than half of the smallest move, a sixteenth, is there
TITLES = {
    ONSET_LINES: "first drop with bare lines",
    ONSET_INJECTORS: "first drop through the injectors",
    "seated": "turned in to its stop",
}
FIRST = "the engine has not run since, so nothing tells yet how its mixture answers"
NO_WINDOW = "this sheet does not say what the warm idle should read: no CO, no lambda, no mean duty"
NO_READING = "no reading of the warm idle counts yet"
MOVED_SINCE = "the screw was moved since the idle was last read"
ONCE_MORE = "one more reading tells more than a move"
NOT_THE_SCREW = "something else comes before it, see above"
READ_HOW = {
    True: "lambda_duty 55 % state=idle_warm sensor=connected (on a dwell meter: 49.5 deg meter_scale=4)",
    False: "exhaust_co 1.5 % state=idle_warm intake_temperature=25C",
}
RUNNING = (
    "Running, move by sixteenths of a turn (about 20 degrees of the key) and never by more than a quarter. "
    "The last bit always comes clockwise, from the lean side. Key out, stopper in, blip the throttle, wait "
    "20 s: only then is a reading believed."
)
KEY_OUT = "Key out before anybody moves the plate or starts the engine."
WRONG_SIDE = (
    "The last bit was turned anticlockwise, so the play of the thread lies on the wrong side: go back by an "
    "eighth of a turn and come up clockwise to where it stands."
)
TOO_FAR_APART = (
    "Look there before you touch the screw: lines not purged, too short a wait at each move, injectors that "
    "open too high or leak below their pressure."
)
UNCHANGED = "The screw itself still stands where the ledger says."
ANEW = "It is another screw, so its count starts anew."


def screw_answer(job: Job) -> ScrewAnswer:
    """The whole answer for one job."""
    book = mixture_book(job.facts, job.state)
    back = job.sheet.number("screw_start")
    aim = None if back is None else start(book, back)
    ran = _has_run(job.facts, aim)
    running_step = "idle_mixture_by_duty" if _controlled(job.sheet) else "idle_mixture_and_speed"
    idle = running_idle(job, book, aim) if ran else None
    told = figures(idle, job.sheet.click_turns) if idle else {}
    halt = halt_of(idle, told, job.known.checks) if idle else None
    advised = _advised(job, aim, idle, halt)
    return ScrewAnswer(
        sheet=job.sheet.id,
        notice=job.sheet.notice,
        cautions=cautions_told(running_step if ran else "onset_lines", job.known, job.facts),
        **advised,
        total_turns=_round(book.total),
        counted_from=_counted_from(book),
        instructions=[
            *_instructions(book, aim, job.sheet, ran, job.number),
            *(_running(job, book, idle, halt) if idle else ()),
            *_odds_of_start(advised["p_in_window"], idle),
        ],
        care=much_words(idle, told) if idle and halt is None else "",
        knowledge=knowledge(idle) if idle else [],
        left_out=list(idle.left_out) if idle else [],
        approached=last_from(book) or None,
        play=PLAY,
        has_run=ran,
        ledger=[_line(line, job.folded) for line in book.lines],
        withdrawn=list(_withdrawn(job.folded)),
        marks=[_mark(mark, book) for mark in book.marks],
        start=None if aim is None else _start(aim, job.sheet),
        onsets_apart=onsets_apart(book),
    )


def _advised(job: Job, aim: Start | None, idle: Idle | None, halt: Halt | None) -> dict[str, Any]:
    """The keys of the next move."""
    told: dict[str, Any] = dict.fromkeys(
        ("turns", "p_in_window", "expected", "why_no_advice", "window", "stop", "gain", "u_gain")
    )
    if idle is None:
        if aim is None:
            return {**told, "advice": "none", "why_no_advice": FIRST}
        return {
            **told,
            "advice": "start",
            "turns": _round(aim.turns),
            "p_in_window": prior_of_start(job, aim),
        }
    advice = idle.advice
    if advice is not None and idle.aimed is not None:
        told |= {
            "p_in_window": advice.p_in_window,
            "expected": _expected(advice),
            "window": _window(idle.aimed),
        }
        told |= {"gain": advice.gain, "u_gain": advice.u_gain}
    if halt is not None:
        stop = ScrewStop(reason=halt.reason, says=halt.says, look=halt.look, checks=list(halt.checks))
        return {**told, "advice": "stop", "stop": stop, "why_no_advice": NOT_THE_SCREW}
    if advice is None:
        return {**told, "advice": "none", "why_no_advice": NO_READING if windows(job) else NO_WINDOW}
    if idle.fresh == 0 or advice.verdict == "read":
        return {**told, "advice": "read", "why_no_advice": ONCE_MORE if idle.fresh else MOVED_SINCE}
    turns = _round(advice.move.turns) if advice.move else 0.0
    return {**told, "advice": "move" if advice.move else "stay", "turns": turns}


def _expected(advice: Advice) -> ScrewExpected:
    co, lambda_, duty = (advice.expected[name].middle if name in advice.expected else None for name in CHECKS)
    return ScrewExpected(co=co, lambda_=lambda_, duty=duty)


def _window(aimed: Usable) -> ScrewWindow:
    window = aimed.window
    return ScrewWindow(
        what=window.check, low=window.low, high=window.high, source=aimed.source, words=window_words(window)
    )


def _controlled(sheet: Sheet) -> bool:
    return "oxygen_control" in sheet.devices


def _odds_of_start(p: float | None, idle: Idle | None) -> Iterator[str]:
    if idle is None and p is not None:
        yield (
            f"From there it is {likelihood(p)} likely that the idle stands where it should: what it "
            "reads, warm, says how to go on."
        )


def _running(job: Job, book: Ledger, idle: Idle, halt: Halt | None) -> Iterator[str]:
    """What to do with the engine running."""
    if halt is not None:
        yield halt.says
        yield halt.look
        yield "Key out, stopper in."
        return
    if idle.advice is not None:
        if idle.first:
            yield read_first(idle.first, job.known.checks)
        if idle.much:
            yield much_words(idle, figures(idle, job.sheet.click_turns))
        yield from running_words(idle, job, last_from(book))
        return
    if not windows(job):
        yield f"What the idle should read is {MANUAL}."
    else:
        how = f": evenpour add {job.number or 'JOB'} {READ_HOW[_controlled(job.sheet)]}"
        yield f"Read the idle, warm, before you turn anything{how}"
    yield RUNNING


def _instructions(
    book: Ledger, aim: Start | None, sheet: Sheet, ran: bool, number: int | None
) -> Iterator[str]:
    """What to do with the screw now, in the order in which it is done."""
    if aim is None:
        yield from _without_aim(book, sheet, number, ran)
        return
    named = TITLES[aim.mark.name]
    if aim.mark.name == ONSET_INJECTORS:
        yield (
            "Where the first drop comes with bare lines is not known, or no longer; the starting point is "
            "counted from the first drop through the injectors, which comes close to it."
        )
    gap = onsets_apart(book)
    if gap is not None and abs(gap) > ONSETS_ALIKE:
        side = "further in" if gap > 0.0 else "further out"
        yield (
            f"The first drop through the injectors comes {_turns(gap)} {side} than with bare lines, more "
            f"than a quarter turn. {TOO_FAR_APART}"
        )
    if ran:
        off = -aim.turns
        side = "richer" if off > 0.0 else "leaner"
        place = (
            "at its starting point"
            if abs(off) <= AT_IT
            else f"{size_words(off, sheet.click_turns)} {side} than its starting point"
        )
        yield f"The engine has run since: the screw stands {place}, and from here the mixture decides."
        if abs(off) > 0.5 + AT_IT:
            yield (
                "That is more than half a turn: if the mixture is still off, it is a leak, a pressure or the "
                "timing, not the screw."
            )
        return
    if abs(aim.turns) <= AT_IT:
        yield f"The screw stands at its starting point, {_back(sheet)} back from the {named}."
        if last_from(book) == "rich":
            yield WRONG_SIDE
        yield KEY_OUT
        return
    yield from _way_there(aim, sheet, named, number)
    yield KEY_OUT


def _without_aim(book: Ledger, sheet: Sheet, number: int | None, ran: bool) -> Iterator[str]:
    void = next((mark for mark in reversed(book.marks) if mark.name in (ONSET_LINES, ONSET_INJECTORS)), None)
    if not book.lines and not book.marks:
        yield (
            "Nothing has been entered about the mixture screw. Before it is turned, scribe where it stands, "
            f"and enter that as a mark: evenpour add {number or 'JOB'} move 0 turn mark=scribed"
        )
    if sheet.number("screw_start") is None:
        yield f"How far back from the first drop it starts is {MANUAL}."
    if void is not None and void.void:
        yield (
            f"The {TITLES[void.name]} of {when_said(void.at)} no longer counts: {void.void}. Find it again, "
            f"step onset_lines. {ANEW if void.void in book.restarts else UNCHANGED}"
        )
    elif void is None and ran:
        yield (
            "No first drop was looked for in this job, so its starting point is not known: what the running "
            "idle reads is all there is to go by."
        )
    elif void is None:
        yield (
            "The starting point is counted back from the first drop with bare lines: find that first, step "
            "onset_lines."
        )


def _way_there(aim: Start, sheet: Sheet, named: str, number: int | None) -> Iterator[str]:
    way = f"To its starting point, {_back(sheet)} back from the {named}: plate at rest, pump off."
    past = overshoot(aim.turns)
    if aim.turns > 0.0:
        yield f"{way} Turn clockwise by {_by(aim.turns)}."
    else:
        yield (
            f"{way} Turn anticlockwise by {_by(abs(aim.turns) + past)}, then clockwise by {_by(past)}, so "
            "that the play is taken up from the lean side."
        )
    sign = "+" if aim.turns > 0.0 else "-"
    entered = f"move {sign}{_turns(aim.turns)} approach=lean"
    yield (
        f"Then enter it: evenpour add {number} {entered}"
        if number is not None
        else f"Then enter it as one move, {sign}{_turns(aim.turns)}, with approach lean."
    )


def _has_run(facts: Facts, aim: Start | None) -> bool:
    """Whether the engine ran after the onset was found: first started, or something read while it ran."""
    since = -1
    if aim is not None:
        since = next((one.told.rank for one in facts.readings if one.told.entry == aim.mark.entry), -1)
    started = any(
        fact.content["id"] == "first_start" and fact.content["done"] and fact.told.rank > since
        for fact in facts.of_kind("step")
    )
    read = any("state" in one.reading.conditions and one.told.rank > since for one in facts.readings)
    return started or read


def _counted_from(book: Ledger) -> str:
    if book.restarts:
        return f"where the new one was fitted ({book.restarts[-1]})"
    return "where it was found"


def _line(line: Line, folded: Folded) -> ScrewLine:
    turn = line.turn
    way: Way = "clockwise" if turn.turns > 0.0 else "anticlockwise" if turn.turns < 0.0 else "none"
    corrected: Sequence[str] = next(
        (one.corrected_by for one in folded.standing if one.entry.id == turn.entry), ()
    )
    return ScrewLine(
        at=turn.at or None,
        said=when_said(turn.at),
        who=turn.who,
        typed=turn.typed,
        turns=turn.turns,
        total=_round(line.total),
        way=way,
        approach=turn.approach or None,
        reversed=line.reversed,
        mark=turn.mark or None,
        note=turn.note,
        entry=turn.entry,
        corrected_by=list(corrected),
    )


def _withdrawn(folded: Folded) -> Iterator[ScrewWithdrawn]:
    for gone in folded.withdrawn:
        content = gone.entry.content
        if gone.entry.kind == "move" and content.get("part") == SCREW:
            yield ScrewWithdrawn(entry=gone.entry.id, typed=str(content["turns"]), reason=gone.reason)


def _mark(mark: Mark, book: Ledger) -> ScrewMark:
    newer = book.mark(mark.name)
    void = mark.void or ("found again since" if newer is not None and newer is not mark else "")
    return ScrewMark(
        name=mark.name,
        title=TITLES.get(mark.name, mark.name),
        position=_round(mark.position),
        u=mark.u,
        from_here=_round(mark.position - book.total),
        at=mark.at or None,
        said=when_said(mark.at),
        entry=mark.entry,
        void=void or None,
    )


def _start(aim: Start, sheet: Sheet) -> ScrewStart:
    stated = sheet.values["screw_start"]
    return ScrewStart(
        mark=aim.mark.name,
        back=float(sheet.number("screw_start") or 0.0),
        source=stated.source,
        position=_round(aim.position),
        turns=_round(aim.turns),
        u=aim.u,
    )


def _back(sheet: Sheet) -> str:
    return _turns(sheet.number("screw_start") or 0.0)


def _turns(turns: float) -> str:
    return shown(abs(turns), "angle")


def _by(turns: float) -> str:
    """How far to turn, in turns and in degrees of the key."""
    return f"{_turns(turns)} ({shown(abs(turns), 'angle', unit='deg')} of the key)"


def _round(turns: float) -> float:
    """Without the dust of adding thirds and sixteenths."""
    return round(turns, 9) + 0.0
