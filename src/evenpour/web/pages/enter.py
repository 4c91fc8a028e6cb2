"""Anything that no step asks for: a part handled, a screw turned, something happened, a note, a gauge."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from starlette.responses import Response

from evenpour.errors import FieldProblem
from evenpour.job.answers import CautionLine
from evenpour.job.asking import Choice, readable
from evenpour.job.caution_told import cautions_of, was_read
from evenpour.job.entries import Draft
from evenpour.job.exchanges import hangs_now
from evenpour.job.instruments import KnownInstrument
from evenpour.job.step_page import Neighbour, letting_off, steps_at, tells_most, tried_in
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.entry_lists import EntryLists, entry_lists
from evenpour.web.problems import Typed
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_drafts, save_entry

DID, MOVE = "did", "move"  # the forms of what is done to the car
TAKEN = "taken"  # the form that takes over an instrument from another job


@dataclass(frozen=True, slots=True)
class Enter:
    """Everything enter.html may use.

    ``asked`` is the part or the screw that the page was asked for or that was sent and refused, ``handled``
    or ``turned`` its name, ``asked_address`` the page that asks for it, ``steps`` those in which it is
    handled, ``tried`` those that try it where none handles it, ``letting_off`` the one that lets the pressure
    off, ``cautions`` theirs; of those that try a part, only those of the one that tells most of it.
    ``unread`` while there are some that nobody has read on this job, ``held`` while what was done is
    therefore not entered here. ``hangs``: where the part is found, if not in its own place.
    """

    checks: tuple[Choice, ...]
    lists: EntryLists
    instruments: tuple[tuple[str, str], ...]
    calibrations: Mapping[str, str]
    known: tuple[tuple[str, str], ...]
    asked: str
    asked_address: str
    handled: str
    hangs: str
    turned: str
    unread: bool
    held: bool
    steps: tuple[Neighbour, ...]
    tried: tuple[Neighbour, ...]
    letting_off: Neighbour
    cautions: tuple[CautionLine, ...]
    forms: FormState


def show(ask: Ask) -> Response:
    """The forms."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """Whichever was sent; or that cautions were read, and then the part or screw asked for still is."""
    go = f"/jobs/{ask.number}/enter"
    if ask.form.get("kind") == "caution":
        return save_entry(ask, _asked_address(ask), _shown)
    if ask.form.get("form") == TAKEN:
        return save_drafts(ask, lambda: [_taken(ask)], go, _shown, kind=TAKEN)
    return save_entry(ask, go, _shown)


def _known(ask: Ask) -> list[KnownInstrument]:
    """What was measured with on the jobs last worked on, and is not stated on this one yet."""
    here = {str(one.content["id"]).casefold() for one in ask.job.folded.standing if one.kind == "instrument"}
    return [one for one in ask.shop.instruments()[1] if one.id.casefold() not in here]


def _named(one: KnownInstrument) -> str:
    tested = f"calibrated {one.calibrated}" if one.calibrated else ""
    return ", ".join(filter(None, (one.id, one.kind, one.range, one.accuracy, tested)))


def _taken(ask: Ask) -> Draft:
    """The instrument chosen, as it was stated last."""
    wanted = ask.form.get("known", "")
    found = next((one for one in _known(ask) if one.key == wanted), None)
    if found is None:
        raise FieldProblem("known", wanted or None, "is missing", remedy="Choose one of the list.")
    who = ask.form.get("who", "").strip()
    return Draft("instrument", {**found.content, **({"who": who} if who else {})}, ask.entry_id)


def _asked(ask: Ask, sent: Sent) -> tuple[str, str]:
    """The form of what was handled, and the part or the screw: as sent and refused, else as asked for."""
    if sent.typed.has(DID) or sent.typed.has(MOVE):
        return sent.typed.form, ask.form.get("part", "")
    asked = ((form, ask.query.get(name, "")) for form, name in ((DID, "part"), (MOVE, "screw")))
    return next(((form, part) for form, part in asked if part), ("", ""))


def _asked_address(ask: Ask) -> str:
    """The page, with the part or the screw that its address asks for."""
    asked = [(name, ask.query[name]) for name in ("part", "cylinder", "screw") if ask.query.get(name)]
    return f"/jobs/{ask.number}/enter{'?' if asked else ''}{urlencode(asked)}"


def _shown(ask: Ask, sent: Sent) -> Response:
    job, lists = ask.job, entry_lists(ask.job)
    form, part = _asked(ask, sent)
    cylinder = (ask.form if sent.typed.has(DID) else ask.query).get("cylinder", "")
    at = next((one for one in job.plan.all_cylinders if str(one) == cylinder), None)
    handled = dict(lists.parts).get(part, "") if form == DID else ""
    turned = dict(lists.screws).get(part, "") if form == MOVE else ""
    known = bool(handled or turned)
    steps, first = steps_at(job, part) if known else (), letting_off(job)
    tried = tried_in(job, part) if known and not steps else ()
    tells = tells_most(job, part) if tried else None
    warning = [*(one.step for one in steps), *([tells] if tells else []), *([first.step] if handled else [])]
    cautions = tuple(cautions_of(warning, job.known, job.facts))
    unread = not job.closed and not all(was_read(one) for one in cautions)
    forms = form_state(ask, "entry", sent, name_once=not job.closed)
    if handled and sent is NOTHING_SENT:  # the part that was asked for is chosen already
        forms = replace(forms, typed=Typed(DID, {"part": part, "cylinder": cylinder}))
    page = Enter(
        checks=tuple((name, job.known.checks[name].title) for name in readable(job)),
        lists=lists,
        instruments=tuple(job.instruments()),
        calibrations=job.calibrations(),
        known=tuple((one.key, _named(one)) for one in _known(ask)),
        asked=part if known else "",
        asked_address=_asked_address(ask),
        handled=handled,
        hangs=hangs_now(job, part, at) if handled and at is not None else "",
        turned=turned,
        unread=unread,
        held=unread and not sent.typed.has(form),
        steps=steps,
        tried=tried,
        letting_off=first,
        cautions=cautions,
        forms=forms,
    )
    return ask.page("enter.html", page, title="Enter something else", status=sent.status)


IN_JOB = (Line("Enter something else", "/enter"),)
PAGES = (Page("/jobs/{number:int}/enter", show, save),)
