"""The what-if bench: an answer with all that one turns and looks at: sliders, faults, states, figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from evenpour.job.engine_model import causes_of
from evenpour.job.job import Job
from evenpour.job.port_words import fed_words
from evenpour.job.sheet.found import sheet_stamp
from evenpour.job.whatif.answers import InsideTold, OfferedSetting, StateTold, WhatIfAnswer
from evenpour.job.whatif.figures import FINE, Figure, figures
from evenpour.job.whatif.offers import settings_offered
from evenpour.job.whatif.parts import Part, SliderData, bench_data
from evenpour.job.whatif.settings import Setting, Settings, settings_from
from evenpour.job.whatif.worked_out import Healthy, healthy_engine, summary, whatif
from evenpour.machine.faults import Cause
from evenpour.measure.units import in_unit, label

SLOTS = 2  # faults that may be set at once from the page
USUAL_SEVERITY = 0.5
FIRST_STATE = "idle_warm"
SURROUNDINGS = (("altitude", "m"), ("ambient_temperature", "degC"))
ELSEWHERE = "Elsewhere on the car"


@dataclass(frozen=True, slots=True)
class Slider:
    """One slider. ``rest``: where it stands with nothing set; numbers are in ``unit``, as its label says."""

    name: str
    title: str
    hint: str
    unit: str
    low: float
    high: float
    step: float
    rest: float
    value: float

    @property
    def is_set(self) -> bool:
        return self.value != self.rest


@dataclass(frozen=True, slots=True)
class Choice:
    """A setting that takes a word. ``rest``: what holds with nothing set."""

    name: str
    title: str
    options: tuple[str, ...]
    rest: str
    value: str


@dataclass(frozen=True, slots=True)
class Fault:
    """A cause that may be chosen; ``name`` with a minus before it is its other form."""

    name: str
    title: str
    part: str
    each: bool


@dataclass(frozen=True, slots=True)
class Chosen:
    """A fault that is set. ``name`` is empty where none is; ``severity`` from 0 to 1."""

    name: str
    cylinder: int
    severity: float
    words: str = ""
    does: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Other:
    """Something set that has neither slider nor place for a fault."""

    text: str
    words: str


@dataclass(frozen=True, slots=True)
class Bench:
    """The bench with what was set on it.

    Attributes:
        state: The state looked at; ``drawn``: the machine as it is drawn there. An engine that does not hold
            the state is drawn standing, the pump running.
        still, full, most: The healthy machine with the plate at rest, at the full opening, and at full load.
        settings: All that is set, as it would be typed.
        fine: The unit of the enlarged slits, and how many of it go into a millimetre.
        groups: The causes that may be chosen, by the title of the part they sit in.
        fed: Which cylinders the ports feed, in words, where their numbers differ.
    """

    answer: WhatIfAnswer
    system: str
    state: StateTold
    drawn: InsideTold
    figures: Mapping[str, Figure]
    fine: tuple[str, float]
    still: InsideTold
    full: InsideTold
    most: InsideTold
    settings: tuple[str, ...]
    sliders: tuple[Slider, ...]
    choices: tuple[Choice, ...]
    groups: Mapping[str, tuple[Fault, ...]]
    chosen: tuple[Chosen, ...]
    others: tuple[Other, ...]
    parts: tuple[Part, ...]
    cylinders: int
    fed: str

    @property
    def corrected(self) -> bool:
        """Whether an oxygen sensor corrects the mixture."""
        return any(one.healthy.duty is not None for one in self.answer.states)

    @property
    def said(self) -> str:
        """What becomes of the engine in the state looked at, in one sentence."""
        if self.state.runs is not None:
            return summary([self.state])[0]
        fuel = self.figures["fuel"]
        was = f" (healthy: {fuel.was})" if fuel.changed else ""
        title = f"{self.state.title[:1].upper()}{self.state.title[1:]}"
        return f"{title}, engine off: {fuel.text} through all injectors together{was}."


def bench(sheet: str, settings: Sequence[str], state: str = "", *, units: str | None = None) -> Bench:
    """The bench of a sheet's engine.

    Args:
        settings: As for ``whatif``.
        state: Where one looks; an unknown one is the warm idle.
    Raises:
        FieldProblem, Problems: a setting that cannot be understood, or cannot be on this engine.
    """
    system = units or "metric"
    healthy = healthy_engine(sheet)
    answer = _answered(sheet, sheet_stamp(sheet), tuple(settings), units)
    states = {one.state: one for one in answer.states}
    chosen_state = states.get(state) or states[FIRST_STATE]
    still = states["rest"].now
    assert still is not None
    drawn = chosen_state.now or still
    told = [_told(text, healthy, system) for text in settings]
    faults = _faults(healthy)
    known = {one.name for group in faults.values() for one in group}
    placed = {one.name for one in bench_data().sliders} | set(bench_data().choices)
    chosen: list[Chosen] = []
    others: list[Other] = []
    for text, one in zip(settings, told, strict=True):
        setting = one.told[0]
        if setting.name in placed and setting.cylinder is None:
            continue
        if setting.kind == "cause" and len(chosen) < SLOTS and _signed(setting) in known:
            chosen.append(_chosen(setting))
        else:
            others.append(Other(text, setting.words))
    offered = settings_of(sheet, units)
    return Bench(
        answer=answer,
        system=system,
        state=chosen_state,
        drawn=drawn,
        figures=figures(chosen_state, drawn, system),
        fine=(label(FINE[system]), in_unit(1e-3, FINE[system])),
        still=states["rest"].healthy,
        full=states["opening_full"].healthy,
        most=states["opening_full"].healthy,
        settings=tuple(settings),
        sliders=tuple(_sliders(told, healthy, chosen_state, system, offered)),
        choices=tuple(_choices(told, healthy, offered)),
        groups=faults,
        chosen=tuple(chosen) + (Chosen("", 1, USUAL_SEVERITY),) * (SLOTS - len(chosen)),
        others=tuple(others),
        parts=tuple(one for one in bench_data().parts if not one.only or one.only in healthy.kind.devices),
        cylinders=healthy.kind.design.cylinders,
        fed=fed_words(healthy.kind.design.line_map),
    )


@lru_cache(maxsize=48)
def _answered(sheet: str, stamp: float, settings: tuple[str, ...], units: str | None) -> WhatIfAnswer:
    """The answer, kept: another state is looked at more often than something is turned."""
    return whatif(sheet, settings, units=units)


def settings_of(sheet: str, units: str | None) -> dict[str, OfferedSetting]:
    """What may be set, by name; kept until the sheet's file changes."""
    return _offered(sheet, sheet_stamp(sheet), units)


@lru_cache(maxsize=24)
def _offered(sheet: str, stamp: float, units: str | None) -> dict[str, OfferedSetting]:
    return {one.name: one for one in settings_offered(sheet, units=units).settings}


def settings_of_job(job: Job) -> list[str]:
    """What a job says of its car's surroundings, as it would be set: height, air and fuel."""
    general = job.facts.general
    found = [f"{name}={_plain(general[name].value, unit)}" for name, unit in SURROUNDINGS if name in general]
    fuel = general["fuel"].choice if "fuel" in general else None
    return [*found, *([f"fuel={fuel}"] if fuel else [])]


def _plain(value: float | None, unit: str) -> str:
    assert value is not None
    return f"{in_unit(value, unit, 'temperature' if unit == 'degC' else None):.6g} {unit}"


def _told(text: str, healthy: Healthy, system: str) -> Settings:
    """One setting by itself: what it makes of the healthy car."""
    return settings_from([text], healthy.kind, healthy.home, healthy.seen.cars, system)


def _sliders(
    told: Sequence[Settings],
    healthy: Healthy,
    state: StateTold,
    system: str,
    offered: Mapping[str, OfferedSetting],
) -> Iterator[Slider]:
    by_name = {one.told[0].name: one for one in told if one.told[0].cylinder is None}
    for one in bench_data().sliders:
        if one.name not in offered:
            continue
        setting = offered[one.name]
        rest = _rest(setting, state)
        found = by_name.get(one.name)
        value = rest if found is None else _value(found, setting, healthy, system)
        unit = setting.unit or ""
        low, high, step = setting.low or 0.0, setting.high or 0.0, _step(one, unit, setting)
        yield Slider(
            one.name, one.title, one.hint, unit, _upwards(low, step), _upwards(high, step), step, rest, value
        )


def _choices(
    told: Sequence[Settings], healthy: Healthy, offered: Mapping[str, OfferedSetting]
) -> Iterator[Choice]:
    for name, title in bench_data().choices.items():
        if name not in offered:
            continue
        rest = f"E{100.0 * healthy.home.fuel:g}" if name == "fuel" else ""
        found = next((one.conditions[name].choice for one in told if name in one.conditions), None)
        yield Choice(name, title, tuple(offered[name].choices), rest, found or rest)


def _rest(setting: OfferedSetting, state: StateTold) -> float:
    """Where a slider stands with nothing set, in its unit."""
    if setting.usual is not None:
        return float(f"{setting.usual:.4g}")
    if setting.name == "pump_voltage":  # what wiring and battery leave there, in the state looked at
        return round(state.healthy.pump_voltage_v, 1)
    return 0.0


def _value(found: Settings, setting: OfferedSetting, healthy: Healthy, system: str) -> float:
    told = found.told[0]
    if told.severity is not None:
        return told.severity
    if told.kind == "condition":
        si = found.conditions[told.name].value
        assert si is not None
    else:
        si = float(found.cars.values[healthy.kind.blueprint.where(told.name, None)][0, 0])
    assert setting.unit is not None
    dimension = "temperature" if setting.unit in ("°C", "°F") else None
    return float(f"{in_unit(si, setting.unit, dimension):.5g}") + 0.0


def _step(one: SliderData, unit: str, setting: OfferedSetting) -> float:
    span = (setting.high or 0.0) - (setting.low or 0.0)
    return one.step.get(unit, span / 100.0)


def _upwards(value: float, step: float) -> float:
    """An end of a slider, on its grid."""
    return float(f"{round(value / step) * step:.7g}") + 0.0


def _faults(healthy: Healthy) -> dict[str, tuple[Fault, ...]]:
    """The causes that may be chosen, by the drawn part they sit in; those with a slider have that."""
    with_slider = {one.name for one in bench_data().sliders}
    groups: dict[str, list[Fault]] = {one.title: [] for one in bench_data().parts}
    groups[ELSEWHERE] = []
    for cause in causes_of(healthy.kind):
        if cause.id in with_slider:
            continue
        part = next((one for one in bench_data().parts if cause.part in one.parts), None)
        groups[part.title if part else ELSEWHERE] += _forms(cause, part.id if part else "")
    return {title: tuple(found) for title, found in groups.items() if found}


def _forms(cause: Cause, part: str) -> list[Fault]:
    if len(cause.forms) == 1:
        return [Fault(cause.id, cause.title, part, cause.per_cylinder)]
    up, down = (cause.ways[cause.form_of(sign)] for sign in (1.0, -1.0))
    return [
        Fault(f"{sign}{cause.id}", f"{cause.title.partition(': ')[0]}: {way}", part, cause.per_cylinder)
        for sign, way in (("", up), ("-", down))
    ]


def _signed(setting: Setting) -> str:
    """The name of a fault with its sign; -0 is the least of its other form."""
    return f"-{setting.name}" if str(setting.severity).startswith("-") else setting.name


def _chosen(setting: Setting) -> Chosen:
    assert setting.severity is not None
    return Chosen(_signed(setting), setting.cylinder or 1, abs(setting.severity), setting.words, setting.does)
