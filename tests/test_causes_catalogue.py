"""What the catalogue of causes answers on cases out of the trade's textbook, each told whole."""

from __future__ import annotations

from evenpour.job import job_of_text
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.job_file import read_text


def answer(*readings: str, sheet: str = "flat-six", fuel: str = "E5") -> CausesAnswer:
    """What is answered to readings, each told as ``what = value; condition = word, ...; cylinder``."""
    text = [f'format = "evenpour-job/1"\n[engine]\nsheet = "{sheet}"\n']
    text.append(f'[conditions]\nambient_temperature = "18 degC"\nfuel = "{fuel}"\n')
    for reading in readings:
        told, _, rest = reading.partition(";")
        what, _, value = told.partition("=")
        conditions, _, cylinder = rest.partition(";")
        words = [one.partition("=") for one in conditions.split(",") if one.strip()]
        stated = ", ".join(f'{name.strip()} = "{word.strip()}"' for name, _, word in words)
        text.append(f'[[reading]]\nwhat = "{what.strip()}"\nvalue = "{value.strip()}"\n')
        text.append(f"conditions = {{ {stated} }}\n" if stated else "")
        text.append(f"cylinder = {cylinder.strip()}\n" if cylinder.strip() else "")
    return causes_answer(job_of_text(read_text("".join(text), "job.toml")))


def likelihood(told: CausesAnswer, *causes: str) -> float:
    """Of any of these causes, alone or with another."""
    return sum(
        line.probability
        for line in told.causes
        if line.cause in causes or (line.with_ is not None and line.with_.cause in causes)
    )


def test_a_battery_that_is_flat_and_not_charged_is_told_by_what_is_read_on_it() -> None:
    told = answer(
        "battery_voltage = 11.7 V; load = rested",
        "battery_voltage = 8.8 V; load = cranking",
        "battery_voltage = 12.4 V; load = charging",
        "pump_voltage = 10.2 V; where = pump_terminals",
        "start_outcome = no_fire; engine = cold",
    )
    assert likelihood(told, "charging_poor") > 0.8
    assert not [one.what for one in told.clashes]


def test_a_pump_that_gets_what_a_battery_without_its_generator_gives_has_no_wiring_to_blame() -> None:
    low = "pump_voltage = 12.1 V; engine = idle"
    alone = answer(low)
    charged = answer(low, "battery_voltage = 14.1 V; load = charging")
    not_charged = answer(low, "battery_voltage = 12.5 V; load = charging")
    wiring = [likelihood(told, "pump_voltage_low") for told in (not_charged, alone, charged)]
    assert wiring == sorted(wiring)
    assert wiring[2] > 0.5
    assert alone.next_checks[0].what == "battery_voltage"
    assert alone.next_checks[0].state.endswith("charging")
    assert likelihood(not_charged, "charging_poor") > 0.8
