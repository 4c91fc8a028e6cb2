"""A fault that is in no catalogue is told as one, and no known fault or sound car is taken for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenpour.causes.aside import Often, weighed
from evenpour.causes.explanation import Explanation, explain
from evenpour.causes.observed import Observation
from evenpour.causes.suspects import Suspect, hypotheses, suspects
from evenpour.causes.unknown import unknown
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.engine_model import causes_of, kind_for
from job_examples import job_with
from simulated_cars import HOME, questions, read

KIND = kind_for("flat-six")
LISTED = suspects(KIND, causes_of(KIND))
READ = (
    "system_pressure", "control_pressure_cold", "control_pressure_warm", "exhaust_co", "idle_speed",
    "manifold_vacuum", "timing_static",
)  # fmt: skip
OFTEN = Often(pairs=0.25, several=0.1)
PRIOR = 0.03


def told(observations: tuple[Observation, ...], without: str = "") -> Explanation:
    """The explanation, by a catalogue that may lack a cause."""
    listed = tuple(one for one in LISTED if one.id != without)

    def weight(one: Suspect) -> float:
        assert one.cause is not None
        return one.cause.weight / (KIND.design.cylinders if one.cause.per_cylinder else 1)

    return explain(KIND, listed, hypotheses(listed, 0.25, weight), observations, HOME)


def strange(found: Explanation) -> float:
    """Probability of a fault that is not known."""
    known = weighed(found, OFTEN).log_total
    its = np.log(PRIOR / (1.0 - PRIOR)) + unknown(found.severe, found.noise).log_evidence
    return float(1.0 / (1.0 + np.exp(known - its)))


def car(cause: str, severity: float, seed: int = 3) -> tuple[Observation, ...]:
    fault = next(h for h, one in enumerate(LISTED) if one.id == cause)
    return read(KIND, LISTED, fault, severity, questions(KIND, READ), np.random.default_rng(seed))


def moved(observations: tuple[Observation, ...], **by: float) -> tuple[Observation, ...]:
    """The same with some readings times a factor."""
    return tuple(
        one if one.value is None else replace(one, value=one.value * by.get(one.check.check, 1.0))
        for one in observations
    )


def test_a_camshaft_two_teeth_late_is_something_strange() -> None:
    """All compressions low by two fifths and little vacuum, yet tight cylinders and the ignition right: no
    cause known does so, a worn engine leaks.
    """
    some = ("system_pressure", "compression", "leak_down", "manifold_vacuum", "timing_static", "idle_speed")
    sound = read(KIND, LISTED, 0, 0.0, questions(KIND, some), np.random.default_rng(3))
    odd = moved(sound, compression=0.6, manifold_vacuum=0.4)
    found = told(odd)
    assert strange(told(sound)) < PRIOR
    assert strange(found) > 0.5
    its = unknown(found.severe, found.noise)
    names = {int(check): one.check.check for check, one in zip(found.seen.columns.check, odd, strict=True)}
    touched = {names[int(c)]: p for c, p in zip(its.checks, its.touched, strict=True)}
    assert min(touched["compression"], touched["manifold_vacuum"]) > 0.8
    assert max(touched["system_pressure"], touched["timing_static"]) < 0.2


def test_a_fault_left_out_of_the_catalogue_raises_it() -> None:
    late = car("timing_late", 0.9)
    known, left_out = strange(told(late)), strange(told(late, without="timing_late"))
    assert known < 0.05
    assert left_out > 5.0 * known


@pytest.mark.parametrize("cause", ["nothing_wrong", "pump_weak", "mixture_screw_rich"])
def test_sound_cars_and_known_faults_keep_it_small(cause: str) -> None:
    assert strange(told(car(cause, 0.6, seed=11))) < 0.05


def test_one_reading_far_off_is_no_strange_fault() -> None:
    """It is far likelier a known cause, or a stray reading; that one in two hundred is stray leaves some."""
    assert strange(told(moved(car("nothing_wrong", 0.0), control_pressure_warm=1.5))) < 0.2


def test_nothing_read_is_nothing_strange() -> None:
    found = told(())
    assert strange(found) < PRIOR


def answer(*values: tuple[str, str, str]) -> CausesAnswer:
    """The answer to readings by what, value and what else is stated."""
    text = "".join(
        f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"\nsure = true\n{stated}\n'
        for what, value, stated in values
    )
    return causes_answer(job_with(text))


IDLE = 'conditions = { state = "idle_warm" }'
WARM = 'conditions = { voltage = "12.4 V", heater = "plugged", after = "5 min" }'


def test_where_it_leads_the_answer_names_the_readings_and_where_to_look_first() -> None:
    squeezed = [("compression", f"6.{5 + k % 3} bar", f"cylinder = {k}") for k in range(1, 7)]
    squeezed += [("leak_down", f"{9 + k % 3} %", f"cylinder = {k}") for k in range(1, 7)]  # and yet not worn
    found = answer(
        ("system_pressure", "4.95 bar", ""), ("manifold_vacuum", "0.34 bar", IDLE),
        ("idle_speed", "880 rpm", IDLE), *squeezed,
    )  # fmt: skip
    assert found.unexplained > 0.5
    assert {"compression", "manifold_vacuum"} <= {one.what for one in found.clashes}
    assert any("the fuel in the tank" in note for note in found.notes)
    whole = sum(line.probability for line in found.causes) + found.nothing_wrong
    assert whole + found.unexplained + found.others == pytest.approx(1.0, abs=1e-6)


def test_two_pressures_written_in_another_unit_are_slips_and_nothing_strange() -> None:
    found = answer(
        ("system_pressure", "72 bar", ""), ("control_pressure_warm", "52 bar", WARM),
        ("exhaust_co", "1.5 %", IDLE), ("idle_speed", "900 rpm", IDLE),
    )  # fmt: skip
    assert found.unexplained < 0.05
