"""What may be set in a what-if on a sheet's engine, and the stretch worth trying: for lists and sliders."""

from __future__ import annotations

from evenpour.job.catalogue import fitted
from evenpour.job.engine_model import causes_of
from evenpour.job.whatif.answers import OfferedSetting, OfferedSettings
from evenpour.job.whatif.data import Settable, whatif_data
from evenpour.job.whatif.words import severities_words
from evenpour.job.whatif.worked_out import Healthy, healthy_engine
from evenpour.machine.faults import Cause
from evenpour.measure.units import in_unit, label, range_shown, unit_for


def settings_offered(sheet: str, *, units: str | None = None) -> OfferedSettings:
    """Everything that may be set on a sheet's engine, with the stretch worth trying."""
    healthy = healthy_engine(sheet)
    devices = healthy.kind.devices
    settable = [one for one in whatif_data().settable.values() if fitted(one.only, devices)]
    return OfferedSettings(
        sheet=healthy.sheet.id,
        notice=healthy.sheet.notice,
        settings=[
            *(_offered(one, healthy, units or "metric") for one in settable),
            *(_cause(one, healthy.kind.design.cylinders) for one in causes_of(healthy.kind)),
        ],
    )


def _cause(cause: Cause, cylinders: int) -> OfferedSetting:
    both = len(cause.forms) > 1
    return OfferedSetting(
        name=cause.id,
        title=cause.title,
        kind="cause",
        cylinders=cylinders if cause.per_cylinder else 0,
        unit=None,
        low=-1.0 if both else 0.0,
        high=1.0,
        usual=None,
        choices=[],
        words=severities_words(cause),
    )


def _offered(one: Settable, healthy: Healthy, system: str) -> OfferedSetting:
    unit = _unit(one, system)
    usual_value = _usual_value(one, healthy)
    low, high = one.slide or (None, None)
    return OfferedSetting(
        name=one.id,
        title=one.title,
        kind=one.kind,
        cylinders=healthy.kind.design.cylinders if one.per_cylinder else 0,
        unit=None if unit is None else label(unit),
        low=None if low is None or unit is None else _number(low, unit, one),
        high=None if high is None or unit is None else _number(high, unit, one),
        usual=None if usual_value is None or unit is None else _number(usual_value, unit, one),
        choices=list(one.choices),
        words=_may_be(one, system),
    )


def _unit(one: Settable, system: str) -> str | None:
    if one.dimension is None:
        return None
    if one.id == "altitude":
        return "m" if system == "metric" else "ft"
    if one.dimension == "angle" and one.id != "mixture_screw":
        return "deg"
    return unit_for(one.dimension, system)


def _usual_value(one: Settable, healthy: Healthy) -> float | None:
    if one.kind == "parameter":
        return float(healthy.seen.cars.values[healthy.kind.blueprint.where(one.id, 1)][0, 0])
    at_home = {
        "altitude": healthy.home.altitude,
        "ambient_temperature": healthy.home.ambient_temperature,
        "voltage": healthy.home.heater_voltage,
    }
    found = at_home.get(one.id)
    return None if found is None else float(found)


def _number(value: float, unit: str, one: Settable) -> float:
    return float(f"{in_unit(value, unit, one.dimension):.7g}") + 0.0


def _may_be(one: Settable, system: str) -> str:
    """The stretch worth trying, in words."""
    words = [", ".join(one.choices).replace("_", " ")] if one.choices else []
    if one.dimension is not None and one.slide is not None:
        low, high = one.slide
        own = _unit(one, system)
        usual = unit_for(one.dimension, system)
        sized = unit_for(one.dimension, system, None, max(abs(low), abs(high)))
        words.append(range_shown(low, high, one.dimension, system, sized if own == usual else own))
    return "; ".join(words)
