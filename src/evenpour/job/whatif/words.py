"""A what-if in words: what was set, what a cause does to the parts, whether the engine runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from evenpour.job.port_words import port_of, where_words
from evenpour.job.whatif.data import Settable
from evenpour.machine.faults import Act, Cause
from evenpour.machine.line_map import LineMap
from evenpour.machine.parameters import Parameter
from evenpour.machine.sound import Soundness
from evenpour.measure.checks import ConditionKind, in_sentence
from evenpour.measure.readings import Condition
from evenpour.measure.unit_table import step_of
from evenpour.measure.units import shown, with_minus
from evenpour.path.words import in_cylinders

#: Up to which severity a word holds.
_SEVERITIES = ((0.0, "barely noticeable"), (0.3, "slight"), (0.6, "marked"), (0.9, "severe"), (1.0, "gross"))
#: Where a parameter of each cylinder sits that has to do with its port.
_SITS = {
    **dict.fromkeys(("slit_width", "slit_edge", "pressure_drop", "port_leak"), "port"),
    "line_restriction": "line",
    **dict.fromkeys(
        ("injector_restriction", "injector_opening", "injector_leak", "injector_spray"), "injector"
    ),
}
STATES = {
    "idle_cold": "cold idle",
    "idle_warm": "warm idle",
    "fast_idle": "fast idle",
    "road_steady": "steady road",
    "full_load": "full load",
}


def condition_words(kind: ConditionKind, condition: Condition, system: str) -> str:
    """``height above the sea: 2000 m``."""
    if condition.value is None or kind.dimension is None:
        return f"{in_sentence(kind.title)}: {str(condition.choice).replace('_', ' ')}"
    unit = "m" if kind.id == "altitude" and system == "metric" else None
    return f"{in_sentence(kind.title)}: {shown(condition.value, kind.dimension, system, unit=unit)}"


def parameter_words(
    settable: Settable, cylinder: int | None, before: float, after: float, line_map: LineMap, system: str
) -> str:
    """``pressure the primary regulator is shimmed to: 4.20 bar, 4.71 bar on a healthy car``."""
    assert settable.dimension is not None
    where = f", {_of(_SITS.get(settable.id, ''), cylinder, line_map)}" if settable.per_cylinder else ""
    unit = None
    if settable.dimension == "angle" and settable.id != "mixture_screw":
        unit = "deg"
    elif settable.id in ("slit_width", "slit_edge"):
        unit = "um" if system == "metric" else "thou"
    now, healthy = (shown(value, settable.dimension, system, unit=unit) for value in (after, before))
    beside = f", {healthy} on a healthy car" if before else ""
    return f"{settable.title}{where}: {now}{beside}"


def _of(part: str, cylinder: int | None, line_map: LineMap) -> str:
    if cylinder is None:
        return "every cylinder"
    return where_words(part, [(cylinder, port_of(line_map, part, cylinder))])


def cause_words(cause: Cause, cylinder: int | None, severity: float, line_map: LineMap) -> str:
    """``the injector is clogged, cylinder 4: marked (0.5 of 0 to 1)``."""
    word = next(words for most, words in _SEVERITIES if abs(severity) <= most)
    where = f", {_of(cause.part, cylinder, line_map)}" if cylinder is not None else ""
    size = f"{_signed(severity)} of −1 to 1" if len(cause.forms) > 1 else f"{severity:g} of 0 to 1"
    return f"{cause.title}{where}: {word} ({size})"


def _signed(severity: float) -> str:
    return with_minus(f"{severity:+g}")


def severities_words(cause: Cause) -> str:
    """``0 to 1``; of a cause with two forms also which is which."""
    if len(cause.forms) == 1:
        return "0 to 1"
    up, down = (cause.ways[cause.form_of(sign)] for sign in (1.0, -1.0))
    return f"−1 to 1: {up}; below zero: {down}"


def cause_does(
    cause: Cause, form: int, severity: float, parameters: Mapping[str, Parameter], system: str
) -> Iterator[str]:
    """What it does to each parameter: ``flow through the open injector ...: 6.3 % of what it was``."""
    for act in cause.forms[form]:
        yield f"{parameters[act.parameter].title}: {_act_words(act, severity, parameters, system)}"


def _act_words(act: Act, severity: float, parameters: Mapping[str, Parameter], system: str) -> str:
    size = float(act.at(severity))
    if act.factor:
        if size <= 1.0:
            return f"{100.0 * size:.2g} % of what it was"
        return f"{size:.{0 if size >= 100.0 else 1}f} times what it was"
    dimension = parameters[act.parameter].dimension
    if dimension is None:
        return f"{size:.2g}"
    unit = "deg" if act.parameter == "timing" else None
    return f"{shown(abs(size), step_of(dimension), system, unit=unit)} {'less' if size < 0.0 else 'more'}"


def state_words(state: str, sound: Soundness, speed: float, mixture: float) -> str:
    """Whether the engine holds a state: ``runs at 870 rpm``, ``does not run: far too lean to burn``."""
    turning = shown(round(6.0 * speed) / 6.0, "speed")  # to ten a minute
    if not sound.runs:
        return f"does not run: {_why_not(state, sound, mixture)}"
    verb = "runs at" if state.startswith("idle") else "pulls at" if state == "full_load" else "holds"
    start = f"{verb} {turning}"
    missing = [number for number, share in enumerate(sound.missed, start=1) if share > 0.05]
    if not missing:
        return start
    worst = max(sound.missed)
    if len(missing) == len(sound.missed):
        return f"{start}, every cylinder missing ({100.0 * worst:.0f} % of its charges)"
    lost = "misses" if len(missing) == 1 else "miss"
    return f"{start}, but {in_cylinders(missing)} {lost} ({100.0 * worst:.0f} % of the charges)"


def _why_not(state: str, sound: Soundness, mixture: float) -> str:
    if sound.burns:
        return "it does not make the work that turning takes"
    if mixture > 1.2:
        return "far too lean to burn"
    if mixture < 0.62:
        return "far too rich to burn"
    return "too many charges do not burn"
