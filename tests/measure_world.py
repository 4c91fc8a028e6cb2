"""A few checks, conditions, limits and gauges for the tests of measuring; figures invented."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from evenpour.measure.checks import Check, ConditionKind, check_from, condition_from
from evenpour.measure.instruments import Instrument, instrument_from
from evenpour.measure.limits import Limit, limit_from
from evenpour.measure.readings import Condition, Reading, read_conditions, reading_from

KINDS: dict[str, ConditionKind] = {
    kind.id: kind
    for kind in map(
        condition_from,
        [
            {
                "id": "regulator_temperature",
                "title": "Regulator's temperature",
                "takes": "temperature",
                "sense": ["-30 degC", "60 degC"],
                "assumed_error": "1 degC",
            },
            {
                "id": "temperature",
                "title": "Temperature of the part",
                "takes": "temperature",
                "assumed_error": "1 degC",
            },
            {"id": "after", "title": "time after the stop", "takes": "time"},
            {"id": "duration", "title": "time it ran", "takes": "time", "assumed_error": "0.2 s"},
            {
                "id": "voltage",
                "title": "voltage at the pump",
                "takes": "voltage",
                "sense": ["0 V", "16 V"],
                "assumed_error": "0.1 V",
            },
            {
                "id": "state",
                "title": "how the engine ran",
                "choices": ["idle_cold", "idle_warm", "fast_idle"],
            },
            {"id": "heater", "title": "plug of the heater", "choices": ["plugged", "unplugged"]},
            {"id": "bled", "title": "gauge bled of air", "choices": ["yes", "no"]},
            {"id": "opening", "title": "opening", "takes": "length", "choices": ["idle", "part", "full"]},
            {
                "id": "ambient_temperature",
                "title": "air temperature",
                "takes": "temperature",
                "everywhere": True,
            },
        ],
    )
}

CHECKS: dict[str, Check] = {
    check.id: check
    for check in map(
        check_from,
        [
            {
                "id": "system_pressure",
                "title": "System pressure",
                "takes": "pressure",
                "sense": ["0 bar", "12 bar"],
                "assumed_error": "0.1 bar",
                "prefer": "bar",
                "conditions": ["bled", "heater"],
            },
            {
                "id": "control_pressure_cold",
                "title": "Control pressure, cold",
                "takes": "pressure",
                "sense": ["0 bar", "8 bar"],
                "assumed_error": "0.1 bar",
                "prefer": "bar",
                "conditions": ["regulator_temperature", "heater"],
            },
            {
                "id": "holding_pressure",
                "title": "Holding pressure",
                "takes": "pressure",
                "prefer": "bar",
                "conditions": ["after"],
            },
            {
                "id": "pump_delivery",
                "title": "Pump delivery",
                "takes": ["volume", "mass"],
                "sense": ["0 ml", "3 l"],
                "assumed_error": "2 %",
                "prefer": "ml",
                "conditions": ["duration", "voltage"],
            },
            {
                "id": "heater_resistance",
                "title": "Heater",
                "takes": "resistance",
                "assumed_error": "0.5 ohm",
                "prefer": "ohm",
                "conditions": ["temperature"],
            },
            {
                "id": "exhaust_lambda",
                "title": "Lambda",
                "takes": ["lambda", "afr"],
                "sense": ["0.6 lambda", "1.6 lambda"],
                "assumed_error": "0.01 lambda",
                "conditions": ["state"],
            },
            {
                "id": "idle_speed",
                "title": "Idle speed",
                "takes": "speed",
                "sense": ["0 rpm", "8000 rpm"],
                "assumed_error": "20 rpm",
                "conditions": ["state"],
            },
            {
                "id": "air_temperature",
                "title": "Air",
                "takes": "temperature",
                "sense": ["-30 degC", "50 degC"],
                "assumed_error": "1 degC",
            },
            {"id": "injector_drip", "title": "Drip", "choices": ["dry", "drips"], "per_cylinder": True},
            {"id": "spark_seen", "title": "Spark", "choices": ["yes", "no"], "per_cylinder": True},
            {
                "id": "thermo_time_switch",
                "title": "Thermo-time switch",
                "choices": ["closed", "open"],
                "conditions": ["temperature"],
            },
            {"id": "catch_evenness", "title": "Evenness", "takes": "share", "conditions": ["opening"]},
            {"id": "lever_play", "title": "Lever play", "takes": "length"},
        ],
    )
}

SOURCES = {"cp": "typical value, common practice, no source", "mem": "typical value, from memory"}

GAUGE_6 = instrument_from(
    {"id": "gauge", "kind": "pressure gauge", "range": "6 bar", "class": 1.0, "resolution": "0.05 bar"}
)
GAUGE_10 = instrument_from({"id": "big", "kind": "pressure gauge", "range": "10 bar", "class": 1.6})

COLD = {
    "check": "control_pressure_cold",
    "low": "0.35 bar",
    "high": "0.65 bar",
    "depends": [
        {
            "on": "regulator_temperature",
            "at": "0 degC",
            "slope": "0.05 bar/degC",
            "from": "0 degC",
            "to": "50 degC",
        }
    ],
    "source": "cp",
}
HOLDING = {
    "check": "holding_pressure",
    "low": "1.8 bar",
    "depends": [{"on": "after", "at": "10 min", "slope": "-0.02 bar/min", "from": "10 min", "to": "20 min"}],
    "source": "mem",
}
DELIVERY = {
    "check": "pump_delivery",
    "low": "850 ml",
    "depends": [
        {"on": "duration", "at": "30 s", "proportional": True},
        {
            "on": "voltage",
            "at": "12 V",
            "per": "10 %/V",
            "from": "11 V",
            "to": "13 V",
            "assume": "12 V",
            "assumed_error": "0.5 V",
        },
    ],
    "source": "cp",
}


def limit(plain: Mapping[str, Any]) -> Limit:
    """A limit from its plain table."""
    return limit_from(plain, CHECKS[str(plain["check"])], KINDS, SOURCES)


def stated(check: str, **texts: object) -> Mapping[str, Condition]:
    """Conditions of a reading of *check*, as typed."""
    return read_conditions(CHECKS[check], texts, KINDS)


def reading(check: str, value: object, gauge: Instrument | None = None, **texts: object) -> Reading:
    """A reading of *check* with its conditions, as typed."""
    return reading_from(CHECKS[check], value, gauge, stated(check, **texts))
