"""The conditions of a reading as one would say them at the car: ``gauge valve shut, regulator at 18 °C``."""

from __future__ import annotations

from collections.abc import Mapping

PLACES = {
    "bench": "on the bench", "service": "in service", "car": "on the car",
    "before_filter": "before the filter", "behind_filter": "behind the filter", "coolant": "in the coolant",
    "other": "elsewhere",
}  # fmt: skip
"""Where something was read, in words, of those that are not "at the"."""

_AT = (
    "distributor_return", "regulator_return", "feed_union", "pump_terminals", "battery", "inlet_valve",
    "exhaust_valve", "injector_seat", "runner_flange", "throttle_shaft", "throttle_flange", "boot",
    "cold_start_valve_flange", "auxiliary_air_hose", "servo_hose", "purge_hose", "breather_hose",
    "filler_cap", "dipstick", "key_hole", "box_lid", "relief_flap", "meter_base", "intake", "exhaust",
    "crankcase", "next_cylinder",
)  # fmt: skip
_FIGURE = ""
# By condition, what each of its words is called, and its figures.
_SAID: Mapping[str, Mapping[str, str]] = {
    "ambient_temperature": {_FIGURE: "workshop air {}"},
    "altitude": {_FIGURE: "{} above the sea"},
    "fuel": {_FIGURE: "fuel {}"},
    "fuel_grade": {"summer": "summer fuel", "winter": "winter fuel", "between": "fuel of between seasons"},
    "state": {
        "idle_cold": "at cold idle", "idle_warm": "at warm idle", "fast_idle": "at fast idle",
        "cruise": "cruising", "road_steady": "at steady road speed", "full_load": "at full load",
    },
    "engine": {
        "off": "engine off", "cranking": "engine cranking", "idle": "engine idling",
        "running": "engine running", "stalled": "engine stalled", "cold": "engine cold",
        "warm": "engine warm", "hot": "engine hot",
    },
    "speed": {_FIGURE: "at {}"},
    "throttle": {"shut": "throttle shut", "part": "throttle part open", "wide": "throttle wide open"},
    "throttle_touched": {"yes": "throttle touched", "no": "throttle not touched"},
    "cranking": {_FIGURE: "{} on the starter"},
    "tries": {_FIGURE: "tries: {}"},
    "soak": {_FIGURE: "stood hot for {}"},
    "oil_temperature": {_FIGURE: "oil at {}"},
    "intake_temperature": {_FIGURE: "air drawn in at {}"},
    "loads": {"on": "lamps and fan on", "off": "lamps and fan off"},
    "breather": {"connected": "breather connected", "off_capped": "breather off and capped"},
    "pump_fuse": {"in": "pump fuse in", "out": "pump fuse out"},
    "regulator_temperature": {_FIGURE: "regulator at {}"},
    "body_temperature": {_FIGURE: "body at {}"},
    "heater": {"plugged": "heater plugged in", "unplugged": "heater unplugged"},
    "voltage": {_FIGURE: "at {}"},
    "pump_voltage": {_FIGURE: "{} at the pump"},
    "after": {"idle": "after idling", "cut_at_load": "cut at load", _FIGURE: "after {}"},
    "duration": {_FIGURE: "run for {}"},
    "valve": {"open": "gauge valve open", "shut": "gauge valve shut"},
    "bled": {"yes": "gauge bled", "no": "gauge not bled"},
    "plate": {"rest": "plate at rest", "up": "plate held up", "full": "plate fully up"},
    "pinched": {"none": "nothing pinched", "feed": "feed pinched", "return": "return pinched"},
    "blocked": {
        "none": "nothing blocked", "feed": "feed blocked", "return": "return blocked",
        "accumulator": "accumulator blocked", "control": "control line blocked",
        "cold_start_valve": "cold-start valve blocked",
    },
    "vacuum": {"none": "no vacuum", "applied": "vacuum applied", _FIGURE: "vacuum {}"},
    "where": {**{name: f"at the {name.replace('_', ' ')}" for name in _AT}, **PLACES, _FIGURE: "{}"},
    "temperature": {_FIGURE: "part at {}"},
    "through": {"lines": "through the bare lines", "injectors": "through the injectors"},
    "opening": {
        "rest": "plate at rest", "idle": "idle opening", "part": "part opening", "full": "full opening",
        _FIGURE: "plate lifted {}",
    },
    "liquid": {"petrol": "with petrol", "test_fluid": "with test fluid", "other": "with another liquid"},
    "stroke": {"slow": "slow strokes", "normal": "normal strokes", "fast": "fast strokes"},
    "flushed": {"yes": "flushed before", "no": "not flushed before"},
    "chatter": {"yes": "chatters", "no": "no chatter"},
    "below_opening": {_FIGURE: "{} below its opening pressure"},
    "purged": {"yes": "lines purged", "no": "lines not purged"},
    "discard": {"yes": "purge run", "no": "counted"},
    "waited": {_FIGURE: "{} waited after each move"},
    "sign": {"drop": "taken at the first drop", "hum": "taken at the hum"},
    "drips": {_FIGURE: "drips in a minute: {}"},
    "valve_hum": {"yes": "frequency valve hums", "no": "frequency valve silent"},
    "seats": {"fitted": "injectors in their seats", "plugged": "injector seats plugged"},
    "test_pressure": {_FIGURE: "{} in the intake"},
    "needle": {"steady": "needle steady", "low": "needle low", "swinging": "needle swinging"},
    "hose": {"on": "vacuum hose on", "off": "vacuum hose off"},
    "probe": {
        "before_catalyst": "probe before the catalyst", "after_catalyst": "probe behind the catalyst",
        "no_catalyst": "no catalyst",
    },
    "probe_depth": {_FIGURE: "probe {} deep"},
    "air_pump": {"on": "air pump on", "off": "air pump off"},
    "sensor": {
        "connected": "oxygen sensor connected", "off": "oxygen sensor unplugged",
        "earthed": "oxygen sensor's lead earthed", "fed": "oxygen sensor's lead fed",
    },
    "meter_scale": {
        "4_cylinder": "4-cylinder scale", "6_cylinder": "6-cylinder scale", "8_cylinder": "8-cylinder scale",
    },
    "load": {"rested": "battery rested", "cranking": "while cranking", "charging": "while charging"},
}  # fmt: skip


def stated_words(stated: Mapping[str, str]) -> str:
    """``gauge valve shut, regulator at 18 degC``: conditions by name, figures as they were typed."""
    return ", ".join(one_stated(name, text) for name, text in stated.items())


def one_stated(name: str, text: str) -> str:
    """One condition; of a name or a word that is not known here, both."""
    said = _SAID.get(name, {})
    if text in said and text:
        return said[text]
    plain = text.replace("_", " ")
    return said[_FIGURE].format(plain) if _FIGURE in said else f"{name.replace('_', ' ')} {plain}"
