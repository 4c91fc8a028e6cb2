"""What-ifs on engines whose ports feed cylinders of other numbers."""

from __future__ import annotations

from evenpour.job.port_words import fed_words, read_at
from evenpour.job.whatif.rows import blocks
from evenpour.job.whatif.worked_out import whatif
from evenpour.machine.line_map import LineMap


def test_a_short_port_of_cylinder_4_is_told_and_read_at_port_2() -> None:
    answer = whatif("vee-six", ["port_restricted[4]=0.3"])
    (told,) = answer.settings
    assert "port 2, feeding cylinder 4" in told.words
    caught = [one for one in answer.readings if one.what == "catch" and one.changed]
    assert {(one.cylinder, one.port) for one in caught} == {(4, 2)}
    rows = [row for block in blocks(answer) for row in block.changed]
    where = {row.where for row in rows if row.name.startswith("Fuel caught")}
    assert where == {"port 2, feeding cylinder 4"}
    warm = {one.cylinder: one for one in answer.readings if one.what == "exhaust_port_temperature"}
    assert {number for number, one in warm.items() if one.changed} == {4}
    assert all(one.port is None for one in warm.values())


def test_the_machine_opened_says_which_port_feeds_each_cylinder() -> None:
    answer = whatif("vee-six", ["port_restricted[4]=0.9"])
    (idle,) = (one for one in answer.states if one.state == "full_load")
    inside = idle.now or idle.healthy
    assert [one.cylinder for one in inside.ports] == [1, 2, 3, 4, 5, 6]
    assert [one.port for one in inside.ports] == [1, 3, 5, 2, 4, 6]
    if idle.now is not None:
        assert min(idle.now.ports, key=lambda one: one.fuel_ml_per_min).cylinder == 4


def test_places_are_told_by_port_only_where_the_numbers_differ() -> None:
    assert read_at([(2, None), (1, None), (3, None)]) == "cylinders 1 to 3"
    assert read_at([(4, 2), (2, 3)]) == "ports 2 and 3, feeding cylinders 4 and 2"
    assert read_at([(1, None), (4, 2)]) == "ports 1 and 2, feeding cylinders 1 and 4"
    assert fed_words(LineMap((1, 2, 3))) == ""
    assert (
        fed_words(LineMap((1, 3, 2))) == "Numbered by cylinder: ports 1, 2 and 3 feed cylinders 1, 3 and 2."
    )
