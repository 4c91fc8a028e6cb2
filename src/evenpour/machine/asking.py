"""From the conditions a reading states to the situation the model is asked about."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from evenpour.machine.control import FULL_VACUUM
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Query
from evenpour.machine.situation import Situation
from evenpour.physics.blend import ethanol_share

#: States of the engine, as conditions name them, and as the model does.
STATES = {"cruise": "road_steady", "idle": "idle_warm"}
#: Checks read on the running engine, where no state is stated.
RUNNING = frozenset(
    {
        "exhaust_lambda", "exhaust_co", "exhaust_co2", "exhaust_o2", "exhaust_hc", "idle_speed",
        "manifold_vacuum", "lambda_duty", "lambda_loop", "cylinder_drop", "exhaust_port_temperature",
        "plug_look", "plate_lift_response", "filler_cap_response", "auxiliary_air_pinch", "idle_adjustable",
    }
)  # fmt: skip
#: Checks of a pump that runs by its relay where the engine turns; with the engine off it is bridged.
BY_RELAY = frozenset({"system_pressure", "pump_voltage", "regulator_heater_voltage"})
HEATED = 300.0  # s, current on the heater when a warm pressure is read, where it is not said
_PUMP_CHECKS = frozenset({"pump_delivery", "pump_current", "pump_deadhead"})


def query(
    kind: Kind, check: str, cylinder: int | None, stated: Mapping[str, float | str], home: Situation
) -> Query:
    """What the model is asked for one reading.

    Args:
        stated: The reading's conditions by name, SI or a choice's word.
        home: The surroundings that hold where the reading states none: air, altitude, fuel.
    """
    return Query(check, _situation(kind, check, stated, home), cylinder, dict(stated))


def _situation(kind: Kind, check: str, stated: Mapping[str, float | str], home: Situation) -> Situation:
    changes: dict[str, Any] = {"engine": _engine(check, stated)}
    for name in ("ambient_temperature", "altitude", "intake_temperature"):
        if _is_number(stated, name):
            changes[name] = stated[name]
    if isinstance(stated.get("fuel"), str):
        changes["fuel"] = ethanol_share(str(stated["fuel"]))
    changes |= _time_and_speed(changes["engine"], stated)
    changes |= _electric(check, stated) | _regulator(check, stated) | _air_and_catch(kind, check, stated)
    return replace(home, **changes)


def _engine(check: str, stated: Mapping[str, float | str]) -> str:
    if stated.get("after") == "cut_at_load":  # a plug
        return "full_load"
    state = stated.get("state")
    if isinstance(state, str):
        return STATES.get(state, state)
    if check == "start_outcome":
        return "idle_warm" if stated.get("engine") in ("warm", "hot") else "idle_cold"
    if check in BY_RELAY and stated.get("engine") in ("idle", "running"):
        return "idle_warm"
    if check in (*BY_RELAY, "cold_start_valve_spray", "plug_look") and stated.get("engine") == "cranking":
        return "cranking"
    return "idle_warm" if check in RUNNING else "off"


def _time_and_speed(engine: str, stated: Mapping[str, float | str]) -> dict[str, Any]:
    """How long a cold engine has run, and the speed of one whose speed somebody else decides on."""
    if engine == "idle_cold" and _is_number(stated, "after"):
        return {"ran": stated["after"]}
    if engine in ("fast_idle", "road_steady", "full_load") and _is_number(stated, "speed"):
        return {"speed": stated["speed"]}
    return {}


def _electric(check: str, stated: Mapping[str, float | str]) -> dict[str, Any]:
    volts = stated.get("pump_voltage")
    if volts is None and check in _PUMP_CHECKS:
        volts = stated.get("voltage")
    return {"pump_voltage": float(volts)} if isinstance(volts, int | float) else {}


def _regulator(check: str, stated: Mapping[str, float | str]) -> dict[str, Any]:
    changes: dict[str, Any] = {}
    for name in ("body_temperature", "regulator_temperature"):
        if _is_number(stated, name):
            changes["regulator_temperature"] = stated[name]
    plugged = (
        stated.get("heater", "plugged" if check == "control_pressure_warm" else "unplugged") == "plugged"
    )
    if plugged and check.startswith("control"):
        changes["heater_time"] = stated["after"] if _is_number(stated, "after") else HEATED
        if _is_number(stated, "voltage"):
            changes["heater_voltage"] = stated["voltage"]
    vacuum = stated.get("vacuum")
    if isinstance(vacuum, int | float):
        changes["vacuum"] = float(vacuum)
    elif vacuum is not None:
        changes["vacuum"] = FULL_VACUUM if vacuum == "applied" else 0.0
    return changes


def _air_and_catch(kind: Kind, check: str, stated: Mapping[str, float | str]) -> dict[str, Any]:
    changes: dict[str, Any] = {}
    if isinstance(stated.get("sensor"), str):
        changes["sensor"] = stated["sensor"]
    if stated.get("breather") == "off_capped":
        changes["breather"] = False
    if stated.get("air_pump") == "off":
        changes["air_pump"] = False
    if stated.get("hose") == "off":
        changes["hose"] = False
    if check in ("catch", "onset", "rest_delivery"):
        changes["lines"] = stated.get("through", "lines") == "lines"
    if check in ("catch", "system_pressure"):
        opening = stated.get("opening", {"full": "full", "up": "part"}.get(str(stated.get("plate")), "rest"))
        changes["opening"] = kind.design.openings.get(str(opening)) if isinstance(opening, str) else opening
        changes["at_stop"] = opening == "full"
        if check == "system_pressure" and changes["opening"] is not None:
            changes["lines"] = False
    return changes


def _is_number(stated: Mapping[str, float | str], name: str) -> bool:
    return isinstance(stated.get(name), int | float)
