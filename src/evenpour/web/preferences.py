"""What one device has chosen: units, who enters, light or dark. Kept in a cookie, on the device alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final
from urllib.parse import parse_qsl, urlencode

from evenpour.measure.units import SYSTEMS

COOKIE: Final = "evenpour"
A_YEAR: Final = 365 * 24 * 3600
THEMES: Final = ("auto", "light", "dark")
LONGEST_NAME: Final = 60


@dataclass(frozen=True, slots=True)
class Preferences:
    """``units`` None leaves readings as they were typed; ``who`` is empty until somebody says."""

    units: str | None = None
    who: str = ""
    theme: str = "auto"

    def cookie(self) -> str:
        """The text kept in the cookie."""
        return urlencode({"units": self.units or "", "who": self.who, "theme": self.theme})


def preferences_of(cookies: Mapping[str, str]) -> Preferences:
    """What the device's cookie says; whatever in it is not known is left out."""
    said = dict(parse_qsl(cookies.get(COOKIE, ""), max_num_fields=10) if cookies.get(COOKIE) else [])
    return preferences_from(said)


def preferences_from(said: Mapping[str, str]) -> Preferences:
    """From the fields of the settings' form."""
    units, theme = said.get("units"), said.get("theme", "")
    return Preferences(
        units=units if units in SYSTEMS else None,
        who=" ".join(said.get("who", "").split())[:LONGEST_NAME],
        theme=theme if theme in THEMES else "auto",
    )
