"""The exhaust gas: the mixture by all gases together, what else they show, and keeping them as readings.

What is typed stands in the address, so that the answer can be gone back to; only keeping it changes the job.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from starlette.responses import Response

from evenpour.errors import Problem
from evenpour.job.caution_told import was_read
from evenpour.job.entries import Draft
from evenpour.job.gas.answer import GasAsked, gas_answer
from evenpour.job.gas.answers import GasAnswer
from evenpour.job.gas.keeping import gas_of_job
from evenpour.job.gas.page import AskedGas, asked_gas, gas_entries
from evenpour.job.gas.reading import analyser_of
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.entry_forms import amount
from evenpour.web.problems import NOTHING_TYPED, Typed, problems_shown
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_drafts, save_entry

FORM = "gas"
GASES = ("co", "co2", "o2", "hc", "nox")
CARRIED = (*GASES, "meter", "meter-unit", "meter_scale", "fuel", "class", "hc_as", "pef", "wet",
           "intake_temperature", "intake_temperature-unit", "instrument")  # fmt: skip
FIELDS = {"c.fuel": "fuel", "c.state": "state", "c.intake_temperature": "intake_temperature"}  # as named here
Form = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Row:
    """One gas: as read, and what a sound engine shows at this mixture."""

    title: str
    shown: str
    sound: str
    basis: str


@dataclass(frozen=True, slots=True)
class Gas:
    """Everything gas.html may use.

    ``basis``: of all gases, where it is one. ``held`` while nobody has read the caution on this job: until
    then nothing is entered here; ``asked_address`` keeps what the address says over the reading of it.
    """

    here: str
    asked_address: str
    held: bool
    asked: AskedGas
    answer: GasAnswer | None
    wrong: bool
    rows: tuple[Row, ...]
    basis: str
    carried: tuple[tuple[str, str], ...]
    may_keep: bool
    forms: FormState


def show(ask: Ask) -> Response:
    """The form, and the answer to what the address says."""
    return _shown(ask, ask.query, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """Keep the gases as readings; or that the caution was read, and then what the address says still is."""
    if ask.form.get("kind") == "caution":
        return save_entry(ask, _asked_address(ask), lambda ask, sent: _shown(ask, ask.query, sent))

    def entries() -> list[Draft]:
        at = ask.form.get("at", "").strip() or None
        return gas_entries(ask.job, _asked(ask.form), _pairs(ask.form), ask.entry_id, at)

    def again(ask: Ask, sent: Sent) -> Response:
        return _shown(ask, ask.form, sent)

    return save_drafts(ask, entries, _here(ask), again)


def _here(ask: Ask) -> str:
    return f"/jobs/{ask.number}/gas" if ask.in_job else "/gas"


def _asked_address(ask: Ask) -> str:
    said = urlencode([(name, text) for name, text in ask.query.items() if name in CARRIED and text])
    return f"{_here(ask)}{'?' if said else ''}{said}"


def _shown(ask: Ask, form: Form, sent: Sent) -> Response:
    job = ask.job if ask.in_job else None
    answer: GasAnswer | None = None
    if _is_filled(form):
        try:
            asked = _asked(form)
            answer = gas_of_job(job, asked, _pairs(form)) if job else gas_answer(asked)
        except Problem as problem:
            sent = Sent(problems=sent.problems or tuple(problems_shown(problem)), status=422)
    shown = tuple(replace(one, field=FIELDS.get(one.field, one.field)) for one in sent.problems)
    read = sent.typed.has("cautions")
    typed = sent.typed if read else Typed(FORM, form) if form else NOTHING_TYPED
    told = asked_gas(job, ask.preferences.units)
    unread = job is not None and not job.closed and not was_read(told.caution)
    page = Gas(
        here=_here(ask),
        asked_address=_asked_address(ask),
        held=unread and ask.form.get("form") != FORM,
        asked=told,
        answer=answer,
        wrong=answer is not None and any(sign.kind == "not_together" for sign in answer.signs),
        rows=tuple(_rows(answer)) if answer else (),
        basis=_basis(answer) if answer else "",
        carried=tuple((name, form[name]) for name in CARRIED if form.get(name)),
        may_keep=job is not None and not job.closed and (answer is not None or bool(ask.form)),
        forms=form_state(ask, "gas", Sent(typed, shown), name_once=unread),
    )
    return ask.page("gas.html", page, title="Exhaust gas", status=sent.status)


def _is_filled(form: Form) -> bool:
    return any(form.get(name, "").strip() for name in (*GASES, "meter"))


def _asked(form: Form) -> GasAsked:
    """What was typed, put in its places."""
    class_, pef = form.get("class") or None, form.get("pef", "").strip() or None
    return GasAsked(
        gases={name: form[name].strip() for name in GASES if form.get(name, "").strip()},
        fuel=form.get("fuel") or None,
        analyser=analyser_of(class_, form.get("hc_as") or "hexane", pef, form.get("wet") == "yes"),
        meter=amount(form, "meter") or None,
        meter_scale=form.get("meter_scale", "").strip() or None,
        sure=form.get("sure") == "yes",
    )


def _pairs(form: Form) -> dict[str, str]:
    """Conditions and fields of the readings."""
    named = {
        "state": form.get("state", ""),
        "intake_temperature": amount(form, "intake_temperature"),
        "with": form.get("instrument", ""),
        "who": form.get("who", "").strip(),
        "note": form.get("note", "").strip(),
    }
    return {name: text for name, text in named.items() if text}


def _rows(answer: GasAnswer) -> list[Row]:
    sound = answer.expected
    figures = {f"exhaust_{name}": getattr(sound, name) for name in ("co", "co2", "o2")} if sound else {}
    read = {gas.what: gas for gas in answer.gases}
    rows = [
        Row(gas.title, gas.shown, f"{figures[name]:.1f} %" if name in figures else "", gas.basis)
        for name, gas in read.items()
    ]
    names = {"exhaust_co": "CO", "exhaust_co2": "CO2", "exhaust_o2": "O2"}
    rows += [Row(names[name], "", f"{one:.1f} %", "") for name, one in figures.items() if name not in read]
    return rows


def _basis(answer: GasAnswer) -> str:
    """Where the doubt of the gases comes from, where it is the same for all."""
    sources = {gas.basis for gas in answer.gases}
    return sources.pop() if len(sources) == 1 else ""


IN_JOB = (Line("Exhaust gas", "/gas"),)
IN_SHOP = (Line("Exhaust gas", "/gas"),)
PAGES = (Page("/gas", show), Page("/jobs/{number:int}/gas", show, save))
