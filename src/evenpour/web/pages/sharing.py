"""Sharing with phones on the local network: the code to pair one, and who is let in. At the machine alone."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup
from starlette.responses import RedirectResponse, Response

from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.pairing_codes import Code
from evenpour.web.phones import Phone, Phones
from evenpour.web.qr import drawn
from evenpour.web.routes import Page
from evenpour.web.sharing import CLOSE_IT, OPEN_TALK


@dataclass(frozen=True, slots=True)
class SharingPage:
    """Everything sharing.html may use.

    ``address`` is empty while nothing is shared, ``code`` while none is taken.
    """

    address: str
    fingerprint: str
    open_talk: str
    code: str
    minutes: int
    qr: Markup
    phones: tuple[Phone, ...]
    said: str


SAID = {
    "out": "That phone is let in no longer.",
    "all-out": "No phone is let in any longer.",
    "new": "A new code holds now; the one before it no longer does.",
}


def show(ask: Ask) -> Response:
    """The code that holds now, and the phones."""
    sharing = ask.sharing
    phones = sharing.phones if sharing else Phones()
    code = sharing.codes.current() if sharing else None
    page = SharingPage(
        address=f"{sharing.address}/" if sharing else "",
        fingerprint=sharing.fingerprint if sharing else "",
        open_talk="" if sharing is None or sharing.encrypted else f"{OPEN_TALK} {CLOSE_IT}",
        code=code.shown if code else "",
        minutes=_minutes(code),
        qr=drawn(sharing.link(code), f"QR code of {sharing.address}") if sharing and code else Markup(""),
        phones=phones.all(),
        said=SAID.get(ask.query.get("said", ""), ""),
    )
    return ask.page("sharing.html", page, title="Sharing")


def save(ask: Ask) -> Response:
    """Show a phone out, or all of them; or ask for a new code."""
    sharing, do = ask.sharing, ask.form.get("do", "")
    phones = sharing.phones if sharing else Phones()
    if do == "new" and sharing:
        sharing.codes.renew()
    elif do in ("out", "all-out"):
        for phone in phones.all():
            if do == "all-out" or phone.key == ask.form.get("phone"):
                phones.show_out(phone.key)
    return RedirectResponse(f"/sharing?said={do if do in SAID else ''}#said", status_code=303)


def _minutes(code: Code | None) -> int:
    """Whole minutes that it still holds, the begun one counted."""
    return int(code.left // 60) + 1 if code else 0


IN_SHOP = (Line("Sharing", "/sharing", at_machine=True),)
PAGES = (Page("/sharing", show, save, at_machine=True),)
