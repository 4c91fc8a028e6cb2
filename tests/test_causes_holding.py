"""Falls of the pressure after the stop that a leaking system shows: no reading of them is a slip."""

from __future__ import annotations

import pytest

from evenpour.job import job_of_text
from evenpour.job.causes.answer import causes_answer
from evenpour.job.job_file import read_text
from shows_tools import FORM, GAUGE_6

HEAD = f"""{FORM}
[engine]
sheet = "vee-six"
[conditions]
ambient_temperature = "18 degC"
fuel = "E5"
{GAUGE_6}"""
SOUND = (
    ("system_pressure", "5.2 bar", 'valve = "shut"'),
    ("control_pressure_cold", "1.75 bar", 'regulator_temperature = "18 degC", heater = "unplugged"'),
    ("control_pressure_warm", "3.7 bar", 'voltage = "12.5 V", heater = "plugged", after = "5 min"'),
)
NON_RETURN = ("non_return_valve_leaks", "dry", ("2.2 bar", "feed"))
# a pinched return stops near half of what a sound car leaks: the seats of regulator and control circuit
ACCUMULATOR = ("accumulator_failed", "wet", ("1.3 bar", "return"))


def gauged(what: str, value: str, conditions: str) -> str:
    read = f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"\ninstrument = "gauge"\n'
    return read + f"conditions = {{ {conditions} }}\n"


@pytest.mark.parametrize(
    ("at_ten", "at_twenty", "fault"),
    [
        ("1.0 bar", "0.45 bar", NON_RETURN),  # as through a gap: less by the same factor in each ten minutes
        ("1.2 bar", "0.7 bar", NON_RETURN),
        ("1.1 bar", "0.5 bar", ACCUMULATOR),
    ],
)
def test_a_fall_as_through_a_gap_blames_the_leak_and_calls_no_reading_a_slip(
    at_ten: str, at_twenty: str, fault: tuple[str, str, tuple[str, str]]
) -> None:
    cause, vent, (blocked, branch) = fault
    text = "".join(gauged(*one) for one in SOUND)
    text += gauged("holding_pressure", at_ten, 'after = "10 min"')
    text += gauged("holding_pressure", at_twenty, 'after = "20 min"')
    text += gauged("holding_pressure", blocked, f'after = "10 min", blocked = "{branch}"')
    text += f'[[reading]]\nwhat = "accumulator_vent"\nvalue = "{vent}"\n'
    text += '[[reading]]\nwhat = "hot_restart"\nvalue = "long_crank"\nconditions = { soak = "20 min" }\n'
    answer = causes_answer(job_of_text(read_text(HEAD + text, "job.toml")))
    assert not answer.clashes
    assert answer.causes[0].cause == cause
    assert answer.causes[0].probability > 0.8


def test_a_leak_that_a_pinched_return_leaves_as_it_was_is_not_in_the_primary_regulator() -> None:
    """Nor is it the shut-off of the control circuit's return, which sits in it; nor the pump's valve."""
    text = "".join(gauged(*one) for one in SOUND)
    text += gauged("holding_pressure", "0.9 bar", 'after = "10 min"')
    for branch in ("feed", "return"):
        text += gauged("holding_pressure", "0.95 bar", f'after = "10 min", pinched = "{branch}"')
    text += '[[reading]]\nwhat = "accumulator_vent"\nvalue = "dry"\n'
    answer = causes_answer(job_of_text(read_text(HEAD + text, "job.toml")))
    cleared = {"non_return_valve_leaks", "primary_regulator_leaks", "control_return_valve_leaks"}
    assert sum(one.probability for one in answer.causes if one.cause in cleared) < 0.05
    assert not any("primary regulator" in one.remedy for one in answer.repairs if one.probability > 0.05)


def test_a_leak_that_a_pinched_return_stops_may_be_either_valve_in_the_primary_regulator() -> None:
    text = "".join(gauged(*one) for one in SOUND)
    text += gauged("holding_pressure", "0.9 bar", 'after = "10 min"')
    text += gauged("holding_pressure", "0.95 bar", 'after = "10 min", pinched = "feed"')
    text += gauged("holding_pressure", "2.5 bar", 'after = "10 min", pinched = "return"')
    answer = causes_answer(job_of_text(read_text(HEAD + text, "job.toml")))
    likely = {one.cause: one.probability for one in answer.causes}
    assert likely["primary_regulator_leaks"] > 0.1
    assert likely["control_return_valve_leaks"] > 0.1
    assert likely["primary_regulator_leaks"] + likely["control_return_valve_leaks"] > 0.85
