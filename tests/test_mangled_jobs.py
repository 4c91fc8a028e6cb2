"""Whatever is done to a good job file, it is understood or told what is wrong; nothing ever breaks."""

from __future__ import annotations

import copy
import json
import tomllib
from collections.abc import Callable
from typing import Any

import pytest
import tomli_w
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from cli_world import DEMO
from evenpour.errors import FieldProblem, Problem, Problems
from evenpour.job import Job, job_of_text
from evenpour.job.job_file import collect

GOOD: dict[str, Any] = tomllib.loads(DEMO.read_text(encoding="utf-8"))
KINDS = [kind for kind, rows in GOOD.items() if isinstance(rows, list)]

# Values that fit some field, somewhere, and are wrong, odd, extreme or of another type in most others.
STRAYS: list[Any] = [
    "", " ", "0", "0 bar", "4.9", "4.9 bar", "-4.9 bar", "48 bar", "1e308 bar", "nan bar", "inf ml",
    "71 psi", "80 ml", "0 ml", "1e-9 ml", "80 g", "3 fl oz", "60 s", "0 s", "1e9 s", "10 min",
    "17 degC", "-400 degC", "1/8 turn", "1/0 turn", "90 turn", "3 clicks", "5 deg", "900 rpm", "100 %",
    "120 %", "open", "dry", "tight", "idle", "part", "12 mm", "lines", "injectors", "line 3 with 5",
    "injector 2 with 4", "line 1 with 6", "gauge", "cylinder", "meter", "wideband", "E85",
    "4.9 ± 0.1 bar", "4.9 ± 0 bar", "4.9 ± 5 bar", "flat-six", "inline-four", "vee-eight",
    "flat-six-oxygen", "injector", "mixture_screw", "fuel_distributor", "pump_bridge", "fire",
    "spark_disabled", "backfire", "holding_right", "system_pressure", "compression", "injector_drip",
    "reading-1", "correction-1", "½", "µ", "\u00a0", "\u2212", "٣ bar", "a" * 300,
    "2026-05-03T10:12:00", "1951-01-01T00:00:00Z", "2026-05-03T10:12:00+14:00", 0, 1, 4, 7, 16, 10**30,
    -1, 1.5, float("inf"), float("nan"), True, False, [], {}, ["80 ml"] * 6, ["80 ml"] * 5 + [""], [""]
    * 6, ["0 ml"] * 6, ["1e-12 ml"] * 6, ["80 g"] * 6, [6, 7], {"after": "10 min"},
    {"regulator_temperature": "17 degC"}, {"valve": "shut", "after": "0 s"},
]  # fmt: skip

Mangle = Callable[[dict[str, Any]], None]
numbers = st.integers(0, 10_000)


def places(job: dict[str, Any]) -> list[tuple[Any, Any]]:
    """Every (container, key) in a job, at any depth."""
    found: list[tuple[Any, Any]] = []

    def walk(one: Any) -> None:
        for key in list(one) if isinstance(one, dict) else range(len(one)):
            found.append((one, key))
            if isinstance(one[key], (dict, list)):
                walk(one[key])

    walk(job)
    return found


def pick(job: dict[str, Any], number: int) -> tuple[Any, Any]:
    every = places(job)
    return every[number % len(every)]


def entries(job: dict[str, Any], number: int) -> list[Any]:
    """One of the lists of entries that are left."""
    lists = [rows for rows in job.values() if isinstance(rows, list) and rows]
    return lists[number % len(lists)] if lists else []


@st.composite
def mangles(draw: st.DrawFn) -> Mangle:
    """One thing that is done to a job."""
    what = draw(
        st.sampled_from(["replace", "swap", "drop", "double", "shuffle", "rename", "retype", "correct"])
    )
    first, second = draw(numbers), draw(numbers)
    stray = draw(st.sampled_from(STRAYS))
    order = draw(st.randoms(use_true_random=False)) if what == "shuffle" else None

    def change(job: dict[str, Any]) -> None:
        container, key = pick(job, first)
        if what == "replace":
            container[key] = copy.deepcopy(stray)
        elif what == "swap":
            other, place = pick(job, second)
            container[key], other[place] = copy.deepcopy(other[place]), copy.deepcopy(container[key])
        elif what == "drop":
            del container[key]
        elif what == "double":
            rows = entries(job, first)
            if rows:
                rows.insert(second % (len(rows) + 1), copy.deepcopy(rows[second % len(rows)]))
        elif what == "shuffle" and order is not None:
            order.shuffle(entries(job, first))
        elif what == "rename" and isinstance(container, dict):
            container[f"{key}s"[:-2] if second % 2 else f"{key}x"] = container.pop(key)
        elif what == "retype":
            container[key] = [container[key]]
        elif what == "correct":
            rows = entries(job, first)
            new = copy.deepcopy(rows[second % len(rows)]) if rows else stray
            job.setdefault("correction", [])
            if isinstance(job["correction"], list):
                job["correction"].append({"of": f"reading-{second % 90}", "reason": "mangled", "new": new})

    return change


@st.composite
def mangled(draw: st.DrawFn) -> dict[str, Any]:
    """A stretch of the demo job with a few things done to it."""
    job = copy.deepcopy(GOOD)
    for kind in KINDS:
        rows = job[kind]
        if kind not in ("instrument", "move", "did"):
            begin = draw(numbers) % len(rows)
            job[kind] = rows[begin : begin + draw(st.integers(1, 8))]
    for change in draw(st.lists(mangles(), min_size=1, max_size=4)):
        if places(job):
            change(job)
    return job


def written(job: dict[str, Any], form: str) -> str:
    if form == "toml":
        try:
            return tomli_w.dumps(job)
        except (TypeError, ValueError):  # nothing that TOML can hold
            form = "json"
    return json.dumps(job, default=lambda one: one.isoformat())


def asked_everything(job: Job) -> None:
    judged, path, caught = job.judge(), job.path(), job.catch()
    for answer in (judged, path, caught):
        assert answer.model_dump_json()
    assert len(job.history()) == len(job.folded.standing) + len(job.folded.withdrawn)
    job.corrections(), job.overrides(), job.cautions(), job.renewed(), job.ledger()


def survives(text: str, form: str) -> Problem | None:
    """The problem that was found, if there was one; anything else fails the test."""
    try:
        asked_everything(job_of_text(collect(text, f"mangled.{form}")))
    except Problem as problem:
        for one in problem.all if isinstance(problem, Problems) else (problem,):
            assert str(one).strip()
            assert not isinstance(one, FieldProblem) or one.field
        return problem
    return None


def test_the_good_job_itself_is_understood() -> None:
    assert survives(DEMO.read_text(encoding="utf-8"), "toml") is None
    assert survives(written(GOOD, "json"), "json") is None


@settings(
    max_examples=80,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example],
)
@given(job=mangled(), form=st.sampled_from(["toml", "json"]))
def test_a_mangled_job_is_understood_or_told_what_is_wrong(job: dict[str, Any], form: str) -> None:
    survives(written(job, form), form)


@settings(max_examples=40, deadline=None)
@given(
    cut=st.integers(0, 60_000),
    length=st.integers(0, 400),
    put=st.sampled_from(["", "\x00", '"', "]", "=", "\n[[", "é"]),
)
@example(cut=0, length=0, put="\ufeff")
def test_a_file_with_a_piece_torn_out_is_understood_or_told_what_is_wrong(
    cut: int, length: int, put: str
) -> None:
    text = DEMO.read_text(encoding="utf-8")[:6000]
    cut %= len(text)
    survives(text[:cut] + put + text[cut + length :], "toml")


@pytest.mark.parametrize("stray", STRAYS, ids=lambda one: str(one)[:20])
def test_a_stray_value_in_any_field_is_survived(stray: Any) -> None:
    head = {"format": GOOD["format"], "engine": GOOD["engine"], "instrument": GOOD["instrument"]}
    at = {"at": "2026-05-03T10:12:00Z"}
    cold = {"what": "control_pressure_cold", "value": "1.4 bar", "instrument": "gauge", **at}
    catch = {key: value for key, value in GOOD["catch"][0].items() if key != "at"} | at
    cases = [
        {"reading": [cold | {"value": stray}]},
        {"reading": [cold | {"conditions": {"regulator_temperature": stray}}]},
        {"catch": [catch | {"amounts": stray}]},
        {"catch": [catch | {"amounts": [stray] * 6, "duration": stray}]},
        {"move": [{"part": "mixture_screw", "turns": stray, **at}]},
    ]
    for case in cases:
        survives(written({**head, **case}, "json"), "json")


def test_a_field_without_a_name_is_told_as_such() -> None:
    job = {"format": GOOD["format"], "engine": GOOD["engine"], "note": [{"text": "x", "": "y"}]}
    found = survives(written(job, "toml"), "toml")
    assert '"" is no field of a note' in str(found)
