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
ACCUMULATOR = ("accumulator_failed", "wet", ("1.15 bar", "return"))


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
