"""Job files that are right, and how tests put one together."""

from __future__ import annotations

from evenpour.job import job_of_text
from evenpour.job.causes.answers import NextCheckLine
from evenpour.job.job import Job
from evenpour.job.job_file import read_text

SHORT = """format = "evenpour-job/1"

[engine]
sheet = "flat-six"

[[reading]]
what = "plate_travel"
value = "free"

[[reading]]
what = "plate_travel"
value = "free"
"""

EVERY_KIND = """format = "evenpour-job/1"

[engine]
sheet = "flat-six"
car = "green coupe"
workshop = "Shed, bay 2"
mileage = "98 000 km"

[conditions]
ambient_temperature = "18 degC"
altitude = "240 m"
fuel = "E5"

[[instrument]]
id = "gauge"
kind = "pressure gauge"
range = "6 bar"
class = 1.0
resolution = "0.05 bar"

[[instrument]]
id = "container"
kind = "measuring cylinder"
range = "25 ml"
error = "0.2 ml"

[[reading]]
what = "control_pressure_cold"
value = "1.45 bar"
conditions = { regulator_temperature = "18 degC" }
instrument = "gauge"
at = 2026-05-03T10:12:00
note = "first of the day, \\"cold\\" µ°Ω"
photo = ["a.jpg", "b.jpg"]

[[step]]
id = "spark_disabled"
done = true
who = "AB"
at = 2026-05-03T10:50:00

[[step]]
id = "filter_flushed"
done = false
reason = "new tank"
at = 2026-05-03T10:51:00

[[catch]]
through = "lines"
opening = "idle"
duration = "60 s"
amounts = ["8.0 ml", "8.2 ml", "7.9 ml", "8.1 ml", "", "8.0 ml"]
swaps = ["line 3 with 5"]
instrument = "container"
containers = [1, 2, 3, 4, 5, 6]
valve_hum = true
at = 2026-05-03T11:02:00+02:00

[[catch]]
through = "injectors"
opening = "12 mm"
durations = ["60 s", "60 s", "61 s", "60 s"]
amounts = ["8.0 g", "8.2 g", "7.9 g", "8.1 g"]
tare = "21 g"
discard = true
at = 2026-05-03T11:20:00.25Z

[[move]]
part = "mixture_screw"
turns = "+1/8 turn"
at = 2026-05-03T12:31:00

[[did]]
action = "replaced"
part = "injector"
cylinder = 4
at = 2026-05-03T11:40:00

[[happened]]
what = "backfire"
at = 2026-05-03T12:40:00

[[caution]]
id = "fuel_spray"
who = "AB"
at = 2026-05-03T09:00:00

[[override]]
claim = "hot_restart_good"
who = "AB"
reason = "owner collects today"
at = 2026-05-03T16:00:00

[[note]]
text = '''two lines
of words'''

[[reading]]
what = "compression"
cylinder = 2
values = ["10.1 bar", "10.2 bar"]
at = 2026-05-03T09:30:00

[[correction]]
of = "reading-1"
reason = "read from the wrong ring of the scale"
what = "control_pressure_cold"
value = "1.40 bar"
conditions = { regulator_temperature = "18 degC" }
instrument = "gauge"

[[correction]]
of = "happened-1"
reason = "it was the other car"
withdrawn = true

[[closed]]
cause = "injector_restricted"
cylinder = 4
confirmed = true
at = 2026-05-03T17:00:00
"""


def head(sheet: str = "flat-six") -> str:
    """What a job file of an engine like *sheet* begins with."""
    return f'format = "evenpour-job/1"\n[engine]\nsheet = "{sheet}"\n'


def job_with(*tables: str, sheet: str = "flat-six") -> Job:
    """A job with these tables, as a file has them."""
    return job_of_text(read_text(head(sheet) + "".join(tables), "job.toml"))


def hourly(*tables: str) -> str:
    """The tables one after the other, an hour apart."""
    return "".join(f"{one}\nat = 2026-05-03T{9 + hour:02}:00:00\n" for hour, one in enumerate(tables))


def next_check(minutes: float, *before: str) -> NextCheckLine:
    """A check of invented minutes."""
    return NextCheckLine(
        what="cold_start_valve_drip", cylinder=None, state="", conditions={}, information=0.3,
        minutes=minutes,
        why="", step="cold_start_drip", before=list(before), cautions=[], swaps=[],
    )  # fmt: skip
