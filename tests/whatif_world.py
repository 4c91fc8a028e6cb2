"""What the tests of the what-if share: answers, asked once each, and their readings by name."""

from __future__ import annotations

from functools import cache

from evenpour.job.whatif.answers import InsideTold, PredictedReading, StateTold, WhatIfAnswer
from evenpour.job.whatif.worked_out import whatif

SIX = "flat-six"


@cache
def answer(*settings: str, sheet: str = SIX, units: str = "metric") -> WhatIfAnswer:
    """What becomes of the engine."""
    return whatif(sheet, settings, units=units)


def readings(found: WhatIfAnswer, what: str, **conditions: str) -> list[PredictedReading]:
    """All readings of a check, in the states whose conditions are as stated."""
    return [
        one
        for one in found.readings
        if one.what == what and all(one.conditions.get(name) == word for name, word in conditions.items())
    ]


def number(found: WhatIfAnswer, what: str, cylinder: int | None = None, **conditions: str) -> float:
    """The one value of a check in a state."""
    (one,) = (one for one in readings(found, what, **conditions) if one.cylinder == cylinder)
    assert isinstance(one.value, float)
    return one.value


def state(found: WhatIfAnswer, name: str) -> StateTold:
    """The machine in one state."""
    return next(one for one in found.states if one.state == name)


def now(found: WhatIfAnswer, name: str) -> InsideTold:
    """The inside of a machine that holds a state."""
    told = state(found, name).now
    assert told is not None
    return told


def mixture(found: WhatIfAnswer, name: str) -> float:
    """Lambda, all air over all fuel, in a state."""
    value = now(found, name).lambda_
    assert value is not None
    return value
