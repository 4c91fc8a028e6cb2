"""How strongly faults show in a catch, by the model of each sheet's engine, and what the catches then say."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenness_world import group_sum, p_off
from evenpour.data import sheet_names, shipped_text
from evenpour.errors import UnknownName
from evenpour.job.engine_model import kind_for
from evenpour.machine.visibility import GROSS, sight, visibility
from evenpour.measure import next_catch
from evenpour.measure.evenness import Part, Run, evenness
from evenpour.measure.visibility import LIFTS, PLAIN, Sight, lift_of, table
from poured_world import TWO_OPENINGS, Poured, flows, kept, lost, passes
from shows_tools import catch, caught, engine, time

THROUGH = ("lines", "injectors")
GROSSES = tuple(f"gross {step}" for step in range(1, 8))
RESTRICTIONS = ("moderate", "soft", *GROSSES)
NAMED = ("idle", "part", "full")

every_sheet = pytest.mark.parametrize("sheet", sheet_names())


# ------------------------------------------------------------------------------------------ the figures


@every_sheet
def test_every_visibility_lies_from_nothing_to_all(sheet: str) -> None:
    openings: tuple[str | float, ...] = (*NAMED, "rest", 0.001, 0.012, 0.09)
    for through, opening in itertools.product(THROUGH, openings):
        seen = visibility(kind_for(sheet), through, opening)
        assert set(seen) == {"port", "line", "injector"}
        assert set(seen["port"]) == {"moderate", "edge"}
        assert set(seen["line"]) == set(seen["injector"]) == {*RESTRICTIONS, "severe"}
        assert all(0.0 <= share <= 1.0 for ways in seen.values() for share in ways.values())


@every_sheet
@settings(max_examples=25)
@given(lifts=st.tuples(st.floats(0.0, 0.1), st.floats(0.0, 0.1)))
def test_restrictions_show_more_at_larger_openings_and_edges_less(
    sheet: str, lifts: tuple[float, float]
) -> None:
    kind = kind_for(sheet)
    for through in THROUGH:
        small, large = (visibility(kind, through, lift) for lift in sorted(lifts))
        for part in ("line", "injector"):
            assert all(small[part][way] <= large[part][way] for way in RESTRICTIONS)
        assert small["port"]["edge"] >= large["port"]["edge"]


@every_sheet
def test_each_way_shows_most_where_it_should(sheet: str) -> None:
    kind = kind_for(sheet)
    full, idle = visibility(kind, "injectors", "full"), visibility(kind, "lines", "idle")
    assert all(full[part][way] == 1.0 for part in ("line", "injector") for way in full[part])
    assert idle["port"]["edge"] == 1.0


@every_sheet
def test_a_moderate_restriction_is_hidden_but_at_the_full_opening_behind_the_injector(sheet: str) -> None:
    kind = kind_for(sheet)
    for opening in NAMED:
        assert visibility(kind, "lines", opening)["line"]["moderate"] == 0.0
    for opening in ("idle", "part"):
        assert visibility(kind, "injectors", opening)["injector"]["moderate"] == 0.0


@every_sheet
def test_a_visibility_is_what_is_missing_over_what_is_missing_at_most(sheet: str) -> None:
    """Worked out anew: a line narrowed until the named catch lacks twice its limit there."""
    kind = kind_for(sheet)
    shares = [kept(kind, "injectors", "full", 2.0 * kind.evenness["full"])]
    shares += [kept(kind, "lines", "full", loss) for loss in GROSS]
    for way, share in zip(("moderate", *GROSSES), shares, strict=True):
        most = math.log1p(-lost(kind, "injectors", "full", share))
        for through, opening in itertools.product(THROUGH, NAMED):
            expected = math.log1p(-lost(kind, through, opening, share)) / most
            # Rounded to a hundredth; the size is found by a straight line between sizes a ninth apart.
            assert visibility(kind, through, opening)["line"][way] == pytest.approx(expected, abs=0.015)


@every_sheet
def test_line_and_injector_show_alike_behind_the_injector(sheet: str) -> None:
    """In series: an injector narrowed to take off as much as the line does at full does so everywhere."""
    kind = kind_for(sheet)
    others = [1.0] * (kind.design.cylinders - 1)
    resistance = {part: kind.centre[f"{part}_restriction"] ** -2 for part in ("line", "injector")}
    share = 0.2
    added = resistance["line"] * (share**-2 - 1.0)
    alike = (1.0 + added / resistance["injector"]) ** -0.5
    for opening in NAMED:
        line = flows(kind, "injectors", opening, {"line_restriction": [share, *others]})
        injector = flows(kind, "injectors", opening, {"injector_restriction": [alike, *others]})
        assert line == pytest.approx(injector, rel=1e-9)
    bare = flows(kind, "lines", "full", {"injector_restriction": [0.01, *others]})
    assert bare[0] == pytest.approx(bare[1], rel=1e-12)


@pytest.mark.parametrize(("through", "opening"), [("hoses", "full"), ("lines", "half")])
def test_an_unknown_catch_is_refused(through: str, opening: str) -> None:
    with pytest.raises(UnknownName):
        visibility(kind_for("flat-six"), through, opening)


# --------------------------------------------------------------------------------------------- the sight


def test_a_sight_holds_both_ways_of_catching_at_every_opening_asked_for_and_can_be_hashed() -> None:
    kind = kind_for("inline-four")
    seen = sight(kind, (*NAMED, "12 mm"))
    assert hash(seen) == hash(sight(kind, (*NAMED, "12 mm")))
    assert seen.table("injectors", "12 mm") == visibility(kind, "injectors", 0.012)
    assert seen.table("lines", "full") == visibility(kind, "lines", "full")
    assert set(seen.ways("line")) == {*RESTRICTIONS, "severe"}


def test_what_the_model_was_not_asked_comes_from_the_plain_table_at_the_sheets_own_lifts() -> None:
    seen = sight(kind_for("inline-four"), ("idle", "half open"))
    assert not [row for row in seen.rows if row[0].endswith("half open")]
    assert seen.table("injectors", "27 mm")["line"]["moderate"] == 1.0  # this sheet's full opening
    assert table("injectors", "27 mm")["line"]["moderate"] < 0.6


def test_lifts_are_the_sheets_own() -> None:
    seen = sight(kind_for("inline-four"), NAMED)
    assert [seen.lift(name) for name in NAMED] == pytest.approx([1.4e-3, 9.4e-3, 27e-3])
    assert seen.lift("part") < seen.lift("12 mm") < seen.lift("full") < seen.lift("30 mm")
    assert PLAIN.lift("12 mm") < PLAIN.lift("part")
    assert seen.lift("half open") == 0.0
    assert lift_of("12,5 mm") == pytest.approx(0.0125)
    assert lift_of("full") == LIFTS["full"]


@pytest.mark.parametrize(("sheet", "following"), [("flat-six", "part"), ("inline-four", "full")])
def test_the_next_larger_opening_is_found_by_the_sheets_lifts(sheet: str, following: str) -> None:
    kind = kind_for(sheet)
    parts = [Part(part, n + 1, n) for part in ("port", "line", "injector") for n in range(4)]
    run = Run("injectors", "12 mm", (50e-6,) * 4, (1e-6,) * 4, (40.0,) * 4, 0.5, False,
              (0, 1, 2, 3), (0, 1, 2, 3), (0, 1, 2, 3))  # fmt: skip
    found = next_catch.candidates(
        parts,
        [run],
        NAMED,
        "12 mm",
        "injectors",
        {},
        lines_swappable=True,
        sight=sight(kind, (*NAMED, "12 mm")),
    )
    assert [one.opening for one in found if one.kind == "opening"] == [following]


# ----------------------------------------------------------------------------------- nothing to be seen


def blind(openings: tuple[str, ...] = NAMED) -> Sight:
    """An engine on which no line and no injector ever shows."""
    hidden = {
        "port": {"moderate": 1.0, "edge": 1.0},
        "line": {"moderate": 0.0},
        "injector": {"moderate": 0.0},
    }
    rows = [
        (f"{through}:{opening}", part, way, share)
        for through in THROUGH
        for opening in openings
        for part, ways in hidden.items()
        for way, share in ways.items()
    ]
    return Sight(rows=tuple(rows))


def even(through: str, opening: str, off: Mapping[int, float] | None = None, n: int = 6) -> Run:
    amounts = tuple(80e-6 * (1.0 + (off or {}).get(port, 0.0)) for port in range(1, n + 1))
    row = tuple(range(n))
    return Run(through, opening, amounts, (0.5e-6,) * n, (35.0,) * n, 0.5, False, row, row,
               row if through == "injectors" else None)  # fmt: skip


PARTS = [Part(part, n + 1, n) for part in ("port", "line", "injector") for n in range(6)]
LIMITS = {"idle": 0.15, "part": 0.10, "full": 0.08}


def test_what_never_shows_is_neither_cleared_nor_blamed() -> None:
    """Whatever is caught, all that is known of it is what was believed before, and every figure is one."""
    for off in ({}, {2: -0.3}):
        answer = evenness(
            [even("lines", "full", off), even("injectors", "full", off)], PARTS, LIMITS, sight=blind()
        )
        unshown = [part for part in answer.parts if part.kind != "port"]
        assert all(math.isfinite(part.deviation) and math.isfinite(part.u) for part in answer.parts)
        assert all(part.p_off == pytest.approx(0.0, abs=1e-12) for part in unshown)  # beyond no limit
        assert all(0.0 <= p <= 1.0 for p in answer.even_by_run.values())
    assert p_off(answer, "port", 2) > 0.9


def test_bare_catches_leave_a_line_as_likely_off_as_it_was() -> None:
    """The plain table lets a moderate restriction show a little, so repeats clear it; the model hides it."""
    kind = kind_for("flat-six")
    seen = sight(kind, NAMED)
    runs = [even("lines", opening) for opening in ("idle", "full") * 5]
    before, after = (evenness(runs[:count], PARTS, LIMITS, sight=seen) for count in (2, 10))
    assert p_off(after, "line", 3) == pytest.approx(p_off(before, "line", 3), rel=0.1)
    assert p_off(after, "line", 3) > 0.005


def test_a_run_that_says_itself_what_shows_is_believed() -> None:
    everything = {part: {"moderate": 1.0, "severe": 1.0} for part in ("line", "injector")}
    uneven = replace(even("injectors", "full", {2: -0.3}), visibility=everything)
    runs = [even("lines", "full"), even("lines", "full"), uneven, uneven]
    answer = evenness(runs, PARTS, LIMITS, sight=blind())
    assert p_off(answer, "injector", 2) + p_off(answer, "line", 2) > 0.9


# ------------------------------------------------------------------------------- a line that starves


@every_sheet
def test_a_line_that_looks_perfect_bare_is_not_cleared_and_a_swap_is_asked_for(sheet: str) -> None:
    kind = kind_for(sheet)
    share = kept(kind, "injectors", "full", 0.4)
    assert 2.25e-6 <= passes(kind, share) <= 4.1e-6  # what such a line passes at full head
    assert all(lost(kind, "lines", opening, share) < 0.01 for opening in NAMED)
    car = Poured(np.random.default_rng(4), sheet=sheet, narrow={("line", 3): share})
    for through, opening in TWO_OPENINGS:
        car.catch(through, opening)
    answer = car.answer()
    assert all(answer.even_by_run[f"lines:{opening}"] >= 0.95 for opening in ("idle", "full"))
    assert answer.even_by_run["injectors:full"] <= 0.05
    assert answer.undivided == ((("line", 3), ("injector", 3)),)
    assert min(p_off(answer, "line", 3), p_off(answer, "injector", 3)) > 0.2
    assert group_sum(answer, "line", 3) > 0.9
    asked = answer.next_catch
    assert asked is not None
    assert (asked.through, asked.opening) == ("injectors", "full")
    assert any(kind == "injector" and 3 in swapped for kind, *swapped in asked.swaps)
    answer, _ = car.follow(answer)
    assert [(part.kind, part.number) for part in answer.parts if (part.p_off or 0.0) > 0.5] == [("line", 3)]


@pytest.mark.parametrize("sheet", ["flat-six", "inline-four-oxygen"])
@pytest.mark.parametrize(("part", "loss"), [("line", 0.2), ("line", 0.35), ("injector", 0.5)])
def test_a_gross_restriction_is_found(sheet: str, part: str, loss: float) -> None:
    """So narrow that a line shows it bare at full as well, which no moderate restriction does."""
    share = kept(kind_for(sheet), "lines", "full", loss)
    car = Poured(np.random.default_rng(4), sheet=sheet, narrow={(part, 2): share})
    for one in TWO_OPENINGS:
        car.catch(*one)
    answer, _ = car.follow(car.answer())
    assert p_off(answer, part, 2) > 0.9
    assert [(one.kind, one.number) for one in answer.parts if (one.p_off or 0.0) > 0.5] == [(part, 2)]


@pytest.mark.parametrize("swap", ["moves along", "stays"])
def test_a_restriction_that_shows_a_little_at_part_is_a_line_or_an_injector_too(swap: str) -> None:
    """A pressure valve softer than the model's: two fifths of what is missing at full are missing at part."""
    seen = sight(kind_for("flat-six"), NAMED)
    runs = [even("lines", opening) for opening in NAMED] + [
        even("injectors", opening, off)
        for opening, off in (("idle", {}), ("part", {4: -0.065}), ("part", {4: -0.07}), ("full", {4: -0.18}))
    ]
    answer = evenness(runs, PARTS, LIMITS, sight=seen)
    assert answer.undivided == ((("line", 4), ("injector", 4)),)
    assert min(p_off(answer, "line", 4), p_off(answer, "injector", 4)) > 0.3
    assert answer.next_catch is not None
    assert answer.next_catch.swaps == (("injector", 4, 1),)
    exchanged = even("injectors", "full", {1 if swap == "moves along" else 4: -0.18})
    told = evenness([*runs, replace(exchanged, injectors=(3, 1, 2, 0, 4, 5))], PARTS, LIMITS, sight=seen)
    guilty = "injector" if swap == "moves along" else "line"
    assert [(one.kind, one.number) for one in told.parts if (one.p_off or 0.0) > 0.5] == [(guilty, 4)]


# ------------------------------------------------------------------------------------------- in a job


def poured(through: str, opening: str, minute: int, shares: Mapping[str, list[float]] | None = None) -> str:
    """A catch of the inline four, as the model pours it, read to half a millilitre."""
    duration, kind = {"idle": 150.0, "full": 35.0}[opening], kind_for("inline-four")
    amounts = [round(2e6 * flow * duration) / 2.0 for flow in flows(kind, through, opening, shares or {})]
    return catch(
        through, opening, [f"{amount} ml" for amount in amounts], time(11, minute), duration=f"{duration} s"
    )


def test_a_job_weighs_its_catches_by_its_own_sheets_engine() -> None:
    kind = kind_for("inline-four")
    narrow = {"line_restriction": [1.0, kept(kind, "injectors", "full", 0.4), 1.0, 1.0]}
    text = engine("inline-four") + "".join(
        poured(through, opening, 5 * step, narrow) for step, (through, opening) in enumerate(TWO_OPENINGS)
    )
    answer = caught(text)
    assert [{(one["part"], one["cylinder"]) for one in group} for group in answer["undivided"]] == [
        {("line", 2), ("injector", 2)}
    ]
    off = {(one["part"], one["cylinder"]): one["p_off"] for one in answer["parts"]}
    assert min(off["line", 2], off["injector", 2]) > 0.2
    assert any("injector 2" in swap for swap in answer["next_catch"]["swaps"])


def test_an_engine_that_cannot_be_computed_is_said_and_its_catches_weighed_all_the_same(
    tmp_path: Path,
) -> None:
    text = shipped_text("sheets/inline-four.toml")
    own = tmp_path / "own.toml"
    own.write_text(
        re.sub(r'(fuel_reference_density = \{ is = )"[^"]*"', r'\1"820 g/l"', text), encoding="utf-8"
    )
    answer = caught(engine(str(own)) + poured("lines", "full", 0) + poured("injectors", "full", 5))
    assert any("cannot be computed" in note for note in answer["notes"])
    assert answer["even"] >= 0.95
