"""Reading logs: any delimiter, decimal mark, heads and units; and what is wrong, with line and column."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evenpour.errors import FieldProblem, Problem, Questioned
from evenpour.job.trace.clock import MIN_S, seconds_of, unwrapped
from evenpour.job.trace.columns import TraceKind
from evenpour.job.trace.input import Asked, Recorded, recorded
from evenpour.job.trace.layout import layout_of
from evenpour.job.trace.units import unit_in

TRACES = Path(__file__).parent / "traces"
BAR = 1e5
TIMES = [5.0 * one for one in range(240)]
PRESSURES = [2.5 * np.exp(-time / 5000.0) for time in TIMES]

Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes lines into a file."""

    def written(*lines: str, encoding: str = "utf-8", end: str = "\n", name: str = "log.csv") -> Path:
        path = tmp_path / name
        path.write_bytes((end.join(lines) + end).encode(encoding))
        return path

    return written


def rows(delimiter: str = ",", decimal: str = ".", more: Sequence[str] = ()) -> list[str]:
    """Time and pressure of an invented leak, with further cells."""
    found = []
    for time, pressure in zip(TIMES, PRESSURES, strict=True):
        cells = [f"{time:.1f}", f"{pressure:.3f}"]
        found.append(delimiter.join([*(cell.replace(".", decimal) for cell in cells), *more]))
    return found


def read(path: Path, kind: TraceKind = "holding", **asked: object) -> Recorded:
    return recorded(path, kind, Asked(**asked))  # type: ignore[arg-type]


def wrong(path: Path, kind: TraceKind = "holding", **asked: object) -> str:
    with pytest.raises(Problem) as caught:
        read(path, kind, **asked)
    return str(caught.value)


@pytest.mark.parametrize("delimiter", [";", "\t", "|", ",", " ", "   "])
@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16"])
def test_any_delimiter_decimal_mark_and_letters_read_the_same(
    write: Write, delimiter: str, decimal: str, encoding: str
) -> None:
    if delimiter == decimal:
        pytest.skip("nobody could read that")
    heads = delimiter.join(["Zeit[s]", "Öldruck[bar]"])
    found = read(write(heads, *rows(delimiter, decimal), encoding=encoding))
    assert found.time == pytest.approx(TIMES)
    assert found.values["pressure"] == pytest.approx([round(p, 3) * BAR for p in PRESSURES])
    assert found.rows_words == "lines 2 to 241"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_end_of_line_will_do(write: Write, end: str) -> None:
    assert read(write("t (s),p (bar)", *rows(), end=end)).time.size == 240


def test_three_heads_semicolons_decimal_commas_and_a_gap_read_right() -> None:
    found = read(TRACES / "holding_three_heads.csv")
    layout = layout_of(TRACES / "holding_three_heads.csv")
    assert (layout.delimiter, layout.decimal, layout.encoding, layout.first_line) == (";", ",", "latin-1", 4)
    assert [column.head for column in found.columns][:2] == ["Zeit Kanal 1", "Druck Prüfkopf Kanal 2"]
    assert [column.unit.text for column in found.columns if column.unit] == ["s", "bar", "°C", "V"]
    assert [column.role for column in found.columns] == ["time", "pressure", "", ""]
    assert found.time[[0, -1]] == pytest.approx([0.0, 1497.0])
    assert np.nanmax(found.values["pressure"]) == pytest.approx(4.92 * BAR, rel=0.01)
    assert "no rows from 10 min to 11.5 min" in found.notes[0]
    assert "nothing was read in 9 rows" in found.notes[1]


def test_the_file_is_known_by_what_it_holds() -> None:
    path = TRACES / "holding_by_hand.csv"
    assert read(path).sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize(
    ("head", "unit"),
    [
        ("Pressure [bar]", "bar"),
        ("Druck in bar", "bar"),
        ("p/kPa", "kPa"),
        ("Pression (psi)", "psi"),
        ("P_rail_bar", "bar"),
        ("p {kPa abs}", "kPa"),
        ("RPM", "rpm"),
        ("U/min", "rpm"),
        ("Lambda 1", "lambda"),
        ("AFR", "AFR"),
        ("Temp °C", "degC"),
        ("t (ms)", "ms"),
        ("air g/s", "g/s"),
        ("Drehzahl 1/min", "rpm"),
    ],
)
def test_a_unit_is_found_in_a_head_of_any_language(head: str, unit: str) -> None:
    found = unit_in(head)
    assert found is not None
    assert found.unit.name == unit
    assert found.absolute is ("abs" in head)


@pytest.mark.parametrize("head", ["Sensor A", "Air in", "Temp min", "Bank F", "Kanal 1", "", "Druck"])
def test_a_word_that_only_looks_like_a_unit_is_none(head: str) -> None:
    assert unit_in(head) is None


def test_a_row_of_units_is_known_by_its_units_wherever_it_stands(write: Write) -> None:
    for heads in (
        ["Time,Pressure", "s,psi"],
        ["Time,Pressure", "s,psi", "A1,A2"],
        ["x;y;z", "Time,P", "[s],[psi]"],
    ):
        found = read(write("made by a logger", *heads, *(f"{t},{36 - t / 100:.2f}" for t in TIMES)))
        assert found.unit == "psi"
        assert found.values["pressure"][0] == pytest.approx(36.0 * 6894.757, rel=1e-6)


def test_without_heads_time_and_pressure_are_told_by_how_they_run(write: Write) -> None:
    found = read(write(*rows(";", ",")))
    assert [column.role for column in found.columns] == ["time", "pressure"]
    assert "can only be in s" in found.columns[0].why
    assert "it can only be bar" in found.columns[1].why


def test_minutes_by_hand_are_told_by_how_long_such_a_trace_lasts() -> None:
    found = read(TRACES / "holding_by_hand.csv")
    assert found.time[-1] == 1800.0


def test_two_pressures_are_asked_about_and_not_guessed() -> None:
    path = TRACES / "two_pressures.csv"
    asked = wrong(path)
    assert "could be column 2 'P1 [bar]' or 3 'P2 [bar]'" in asked
    assert "Say which: --column pressure=2" in asked
    assert read(path, columns={"pressure": "3"}).values["pressure"][0] == pytest.approx(2.3 * BAR)
    assert read(path, columns={"pressure": "P1 [bar]"}).values["pressure"][0] == pytest.approx(2.5 * BAR)


@pytest.mark.parametrize("head", ["s,bar", ""])
def test_commas_between_columns_and_inside_figures_are_asked_about(write: Write, head: str) -> None:
    broken = [line.replace(".", ",") for line in rows()]
    said = wrong(write(*filter(None, [head, *broken])))
    assert "commas both between columns and" in said
    assert "semicolons" in said
    whole = [f"{int(time)},{int(2500 * np.exp(-time / 5000.0))}" for time in TIMES]
    assert read(write("t [s],p [mbar]", *whole)).values["pressure"][0] == pytest.approx(2.5 * BAR)


@pytest.mark.parametrize(
    ("head", "seconds"), [("t s", 1195.0), ("time_s", 1195.0), ("s", 1195.0), ("Zeit min", 71_700.0)]
)
def test_the_letter_at_the_end_of_a_head_says_the_unit_of_what_climbs(
    write: Write, head: str, seconds: float
) -> None:
    found = read(write(f"{head},P [bar]", *rows()))
    assert found.time[-1] == seconds


def test_a_pressure_beside_a_mixture_is_asked_about(write: Write) -> None:
    path = write("t [s],p [kPa],Lambda", *(f"{time},{40 + time / 100:.1f},0.95" for time in TIMES))
    assert "is it a manifold's, in a drive?" in wrong(path)
    assert read(path, columns={"pressure": "2"}).values["pressure"][0] == pytest.approx(40e3)


def test_a_file_of_two_rows_is_told_to_have_two(write: Write) -> None:
    assert "holds 2 rows of figures" in wrong(write("t [s],P [bar]", "0,2.5", "10,2.4"))


def test_a_climbing_column_without_a_unit_is_asked_for_its_unit_and_no_other(write: Write) -> None:
    said = wrong(
        write("x,P [bar]", *(f"{time / 5.0:.1f},{p:.3f}" for time, p in zip(TIMES, PRESSURES, strict=True)))
    )
    assert "names no unit: by its length of 239 it could be in s or min" in said
    assert "--column time=1:s" in said


def test_a_length_that_could_be_seconds_or_minutes_is_asked_about(write: Write) -> None:
    path = write(*(f"{one};{2.5 - one * 0.001:.3f}" for one in range(0, 300, 3)))
    assert "--column time=1:" in wrong(path)
    assert read(path, columns={"time": "1:min"}).time[-1] == 297.0 * 60.0


def test_a_column_without_a_unit_that_could_be_two_is_asked_about(write: Write) -> None:
    path = write("t (s),a,b", *(f"{t},{2.5 - t / 1e4:.3f},{2.3 - t / 1e4:.3f}" for t in TIMES))
    assert "could be column 2 'a' or 3 'b'" in wrong(path)
    found = read(path, columns={"pressure": "3:bar"})
    assert found.values["pressure"][0] == pytest.approx(2.3 * BAR)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"pressure": "9"}, "is no column of this file"),
        ({"pressure": "2:ml"}, "is no unit of a pressure"),
        ({"presure": "2"}, "Did you mean pressure?"),
        ({"pressure": "3"}, "holds no figures"),
    ],
)
def test_a_column_said_wrongly_is_refused_with_what_would_do(
    write: Write, said: dict[str, str], words: str
) -> None:
    assert words in wrong(write("t (s),p (bar),note", *rows(more=["ok"])), columns=said)


def test_text_among_numbers_is_named_by_line_and_column(write: Write) -> None:
    lines = rows()
    lines[49] = "245.0,ERR"
    path = write("t (s),p (bar)", *lines)
    said = wrong(path)
    assert said.startswith("log.csv, line 51 (column 2): p (bar) 'ERR' is no number.")
    assert '--missing "ERR"' in said
    found = read(path, missing=("ERR",))
    assert np.flatnonzero(np.isnan(found.values["pressure"])).tolist() == [49]


def test_blank_lines_do_not_shift_the_line_that_is_named(write: Write) -> None:
    lines = rows()
    lines[49] = "245.0,x"
    path = write("", "t (s),p (bar)", *lines[:10], "", "", *lines[10:])
    assert wrong(path).startswith("log.csv, line 54 (column 2)")
    backwards = write("t (s),p (bar)", *lines[:10], "", *rows()[5:9])
    assert wrong(backwards).startswith("log.csv, line 13 (column 1)")


def test_time_that_runs_backwards_is_named_by_line_and_column(write: Write) -> None:
    lines = rows()
    lines[100:] = rows()[:140]
    path = write("t (s),p (bar)", *lines)
    said = wrong(path)
    assert said.startswith(
        "log.csv, line 102 (column 1): t (s) '0' runs backwards: the line before says 495."
    )
    assert "--rows 2-101" in said
    assert read(path, lines=(2, 101)).time[-1] == 495.0


def test_pressures_that_cannot_be_are_questioned_and_a_few_are_left_out(write: Write) -> None:
    lines = rows()
    lines[30] = "150.0,99.9"
    found = read(write("t (s),p (bar)", *lines))
    assert np.isnan(found.values["pressure"][30])
    assert "a value that cannot be is left out, in line 32: 99.9 bar" in " ".join(found.notes)
    with pytest.raises(Questioned, match="cannot be, and is no single slip"):
        read(write("t (s),p (bar)", *(f"{t},{45 - t / 1000:.2f}" for t in TIMES)))


def test_a_line_that_breaks_off_is_left_out_and_said(write: Write) -> None:
    found = read(write("t (s),p (bar)", *rows(), "1205"))
    assert found.time.size == 240
    assert "line 242 left out" in found.notes[0]


def test_a_file_of_two_tables_is_refused(write: Write) -> None:
    assert "do not hold 2 columns" in wrong(write("t (s),p (bar)", *rows(), *(f"{n},1,2" for n in range(40))))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"PK\x03\x04rest", "is no text"),
        (b"\x00\x01\x02", "is no text"),
        (b"only words here\nand here\n", "no columns of figures"),
    ],
)
def test_what_is_no_table_is_refused_with_a_way_out(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "odd.csv"
    path.write_bytes(content)
    assert words in wrong(path)


def test_a_file_that_is_not_there_says_so(tmp_path: Path) -> None:
    assert "is not there" in wrong(tmp_path / "nowhere.csv")


@pytest.mark.parametrize(
    ("texts", "kind", "seconds"),
    [
        (["10:12:33.5", "10:12:34"], "h:min:s", [36753.5, 36754.0]),
        (["2026-05-03 23:59:59", "2026-05-04T00:00:01"], "h:min:s", [0.0, 2.0]),
        (["3.5.2026 10:00:00", "3.5.2026 10:00:05"], "h:min:s", [0.0, 5.0]),
        (["12:33,5", "12:34,0"], MIN_S, [753.5, 754.0]),
        (["11:59:59 PM", "12:00:01 AM"], "h:min:s", [86399.0, 1.0]),
        (["12:33", None], "h:min", [45180.0, float("nan")]),
    ],
)
def test_times_of_day_read_in_many_forms(texts: list[str], kind: str, seconds: list[float]) -> None:
    import pyarrow as pa

    found = seconds_of(pa.array(texts), kind)
    if any("-" in text or "." in text[:4] for text in texts if text):
        found = found - found[0]
    assert found == pytest.approx(seconds, nan_ok=True)


def test_a_clock_runs_on_over_midnight() -> None:
    assert unwrapped(np.array([86_390.0, 86_399.0, 3.0, 9.0])).tolist() == [
        86_390.0,
        86_399.0,
        86_403.0,
        86_409.0,
    ]


def test_rows_of_one_second_are_spread_over_it(write: Write) -> None:
    lines = [f"10:00:{one // 10:02d},{2.5 - one * 1e-4:.4f}" for one in range(590)]
    found = read(write("clock,p (bar)", *lines), columns={"time": "1"})
    assert found.time == pytest.approx(np.arange(590) * 0.1)


def test_an_absolute_pressure_loses_the_air_and_it_is_said(write: Write) -> None:
    found = read(write("t (s),p (kPa abs)", *(f"{t},{350 - t / 50:.2f}" for t in TIMES)), air_pressure=95e3)
    assert found.values["pressure"][0] == pytest.approx(350e3 - 95e3)
    assert "is absolute: 95 kPa of air taken off" in " ".join(found.notes)


def test_an_afr_becomes_lambda_by_the_displays_scale(write: Write) -> None:
    lines = [f"{t},{14.0 + 0.001 * t:.3f},{20 + t / 100:.2f}" for t in TIMES]
    path = write("t (s),AFR,Luft (g/s)", *lines)
    assert read(path, "running").values["lambda"][0] == pytest.approx(14.0 / 14.7)
    assert read(path, "running", scale=14.5).values["lambda"][0] == pytest.approx(14.0 / 14.5)


def test_a_manifold_pressure_is_used_only_where_it_shows_what_it_is(write: Write) -> None:
    heads = "t (s),Lambda,Luft (g/s),MAP (kPa)"
    absolute = [f"{t},0.95,{10 + t / 50:.2f},{40 + t / 25:.1f}" for t in TIMES]
    assert read(write(heads, *absolute), "running").values["load"][0] == pytest.approx(40e3)
    gauge = [f"{t},0.95,{10 + t / 50:.2f},{-60 + t / 25:.1f}" for t in TIMES]
    assert read(write(heads, *gauge), "running").values["load"][0] == pytest.approx(101_325.0 - 60e3)
    neither = [f"{t},0.95,{10 + t / 50:.2f},{10 + t / 1000:.1f}" for t in TIMES]
    found = read(write(heads, *neither), "running")
    assert "load" not in found.values
    assert "does not show whether it is manifold pressure" in " ".join(found.notes)


def test_progress_is_told_in_bytes_up_to_the_whole(write: Write) -> None:
    path = write("t (s),p (bar)", *rows())
    told: list[tuple[int, int]] = []
    recorded(path, "holding", Asked(), lambda done, of: told.append((done, of)))
    assert told[-1] == (path.stat().st_size, path.stat().st_size)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=400))
def test_no_file_whatever_makes_it_fail_otherwise_than_in_words(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "any.csv"
    path.write_bytes(content)
    try:
        read(path)
    except (Problem, FieldProblem):
        return
