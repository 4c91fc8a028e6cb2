"""What this device prefers: units, who enters, light or dark."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import JSONResponse, RedirectResponse, Response

from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.preferences import Preferences
from evenpour.web.routes import Page
from evenpour.web.security import is_ours

UNITS = (
    ("", "As they were typed", "each reading in the unit of its gauge"),
    ("metric", "Metric", "bar, ml, °C, mm"),
    ("us", "US", "psi, US fl oz, °F, in"),
    ("imperial", "Imperial", "psi, imperial fl oz, °C, in"),
)
THEMES = (
    ("auto", "As the device", "light by day and dark by night, if it does so"),
    ("light", "Light", "ink on paper, best outdoors"),
    ("dark", "Dark", "light on dark, for a dim bay"),
)


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything settings.html may use."""

    chosen: Preferences
    units: tuple[tuple[str, str, str], ...]
    themes: tuple[tuple[str, str, str], ...]
    saved: bool


def show(ask: Ask) -> Response:
    """What is chosen now."""
    page = Settings(ask.preferences, UNITS, THEMES, saved=ask.query.get("saved") == "yes")
    return ask.page("settings.html", page, title="Settings")


def save(ask: Ask) -> Response:
    """Keep it on this device; a page that asked for the name alone says where to go back to."""
    back = ask.form.get("back", "")
    go = back if is_ours(back) else "/settings?saved=yes#said"
    json = "application/json" in ask.request.headers.get("accept", "")
    response: Response = JSONResponse({"go": go}) if json else RedirectResponse(go, status_code=303)
    ask.remember(response, {name: ask.form[name] for name in ("units", "who", "theme") if name in ask.form})
    return response


IN_SHOP = (Line("Settings", "/settings"),)
PAGES = (Page("/settings", show, save),)
