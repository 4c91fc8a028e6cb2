"""What an ohmmeter shows: an open circuit is the end of its range, however open it is."""

from __future__ import annotations

from typing import Any

OPEN = 1e6  # ohm, from which on a meter on a vehicle shows an open circuit; common practice, no source


def shown_ohms(resistance: Any) -> Any:
    """What is shown of a *resistance* [ohm]: that, up to some hundred kilohms. Hot."""
    share = resistance / OPEN
    return resistance / (1.0 + share**4) ** 0.25
