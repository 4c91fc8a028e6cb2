"""A reading that goes from plainly wrong to gross keeps its cause: the worse, the less it may be waved away.

Judged as common practice, no source: what a mechanic would say of the same figures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from evenpour.job.causes.groups import named_by
from test_causes_gross import answered, read

SHUT = 'conditions = { valve = "shut" }\n'
WIDE = 'conditions = { throttle = "wide" }\n'
SLOW = 'conditions = { stroke = "slow" }\n'
RESTED = 'conditions = { load = "rested" }\n'
CRANKED = 'conditions = { load = "cranking" }\n'
AT_PUMP = 'conditions = { where = "pump_terminals" }\n'

#: What is read, of which cylinder or of the whole car; the figures; what the others then read; which causes
#: it may be, those that one look at the part tells apart.
WALKS: dict[str, tuple[str, str, int | None, Sequence[str], str, set[str]]] = {
    "battery rested": ("battery_voltage", RESTED, None, ["11 V", "10 V", "6 V", "0 V"], "",
        {"battery_weak", "battery_dead", "charging_poor"}),
    "battery cranking": ("battery_voltage", CRANKED, None, ["9 V", "7 V", "5 V", "3 V"], "",
        {"battery_weak", "battery_dead", "charging_poor"}),
    "pump volts": ("pump_voltage", AT_PUMP, None, ["10 V", "8 V", "5 V", "3 V"], "",
        {"pump_voltage_low", "battery_weak", "battery_dead"}),
    "system pressure": ("system_pressure", SHUT, None, ["5.7 bar", "6.2 bar", "7 bar"], "",
        {"system_pressure_high", "return_restricted", "gauge_fault"}),
    "compression": ("compression", WIDE, 3, ["7 bar", "4 bar", "2 bar", "0.5 bar"], "11 bar",
        {"compression_low", "valve_clearance_wrong", "exhaust_clearance_wrong", "inlet_clearance_wrong"}),
    "opens high": ("injector_opening_pressure", SLOW, 2, ["4.5 bar", "6 bar", "8 bar", "10 bar"], "3.3 bar",
        {"injector_opens_high", "injector_shut"}),
    "opens low": ("injector_opening_pressure", SLOW, 2, ["2.4 bar", "1.5 bar", "0.6 bar"], "3.3 bar",
        {"injector_opens_low"}),
    "late": ("timing_static", "", None, ["-6 deg", "-20 deg", "-39 deg"], "",
        {"timing_late", "points_gap_wrong", "points_gap_timed"}),
    "plate": ("plate_rest_height", "", None, ["-1 mm", "-2.5 mm", "-4 mm"], "", {"plate_rest_wrong"}),
}  # fmt: skip


@pytest.mark.parametrize("name", WALKS)
def test_a_reading_that_grows_worse_keeps_its_cause(name: str) -> None:
    what, where, cylinder, figures, others, causes = WALKS[name]
    for figure in figures:
        rows = [read(what, figure, cylinder, where)]
        if cylinder is not None:
            rows += [
                read(what, others, other, where, minute=5 + other)
                for other in range(1, 7)
                if other != cylinder
            ]
        answer = answered("flat-six", rows)
        named = {its.cause for its in named_by(answer.causes[0])}
        its = math.fsum(
            one.probability
            for one in answer.causes
            if named_by(one) and {each.cause for each in named_by(one)} & causes
        )
        assert named & causes, (figure, named)
        assert its > 0.4, (figure, its)
        assert all(one.probability < 0.5 for one in answer.clashes), (figure, answer.clashes)
