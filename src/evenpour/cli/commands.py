"""The commands there are: name, module, and the line ``evenpour --help`` shows.

Each module holds one click command (or group) named ``command``. It is imported only when asked for, so the
help and a mistyped name answer at once, without NumPy and the rest.
"""

from __future__ import annotations

from typing import NamedTuple


class Listed(NamedTuple):
    """Where a command lives, and its one line of help."""

    module: str
    line: str


COMMANDS: dict[str, Listed] = {
    "demo": Listed("evenpour.cli.demo", "Walk through an invented job, from first look to handover."),
    "job": Listed("evenpour.cli.job", "Begin, list, show, import, export and close stored jobs."),
    "add": Listed("evenpour.cli.add", "Add a reading, catch, move or action to a stored job."),
    "judge": Listed("evenpour.cli.judge", "Judge every reading of a job against its limits."),
    "path": Listed("evenpour.cli.path", "Show what is proved, what went stale, and what comes next."),
    "causes": Listed(
        "evenpour.cli.causes", "Explain all readings together, and name the check to make next."
    ),
    "experience": Listed("evenpour.cli.experience", "Show how common causes are, by your own closed jobs."),
    "repairs": Listed("evenpour.cli.repairs", "Show and set what each repair takes."),
    "catch": Listed("evenpour.cli.catch", "Show how evenly the outlets pour, and which part is off."),
    "screw": Listed("evenpour.cli.screw", "Show every move of the mixture screw and its starting point."),
    "spark": Listed("evenpour.cli.spark", "Timing, top dead centre, firing order, dwell and compression."),
    "gas": Listed("evenpour.cli.gas", "Work out the mixture from the exhaust gas, and what it shows."),
    "trace": Listed("evenpour.cli.trace", "Read a log of pressures or of a drive, and fit it."),
    "whatif": Listed("evenpour.cli.whatif", "Predict every reading with a screw, weather or fault set."),
    "record": Listed("evenpour.cli.record", "Write the printed record of a job."),
    "serve": Listed("evenpour.cli.serve", "Serve the pages to browsers on this machine."),
    "sheet": Listed("evenpour.cli.sheet", "List, show, copy and check engine sheets."),
    "schema": Listed("evenpour.cli.schema", "Print the JSON Schema of a file or an answer."),
}
