"""Three invented jobs as the record sees them: a good one, an overridden one, an unfinished one."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from evenpour.job.answers import (
    CatchAnswer,
    CautionLine,
    ClaimAnswer,
    HistoryLine,
    JudgeAnswer,
    JudgedReading,
    NextCatchAnswer,
    OverrideLine,
    PartAnswer,
    PartName,
    PathAnswer,
    PutBackAnswer,
    RenewedLine,
    RunAnswer,
    ScrewMove,
    ShownLimit,
    StageAnswer,
    StepAnswer,
    SuspectAnswer,
)
from evenpour.job.photos import Photo
from evenpour.job.sheet.answers import SheetAnswer, SheetLine
from evenpour.job.trace.answers import KeptRecording

NOTICE = "Typical values from common practice; your engine's manual decides."
SOURCE = "typical value, from memory, not verified"
GAUGE = "pressure gauge, class 1.0 of 0 to 6 bar: ±0.06 bar; smallest division 0.05 bar"
STAGES = (
    "Take the car in",
    "Make it safe for running the pump",
    "Clean the supply",
    "Prove the parts on the bench",
    "Prove the intake tight",
    "Connect the fuel and prove it dry",
    "Prove the pressures and the delivery",
    "Catch from the bare lines",
    "Catch through the injectors",
    "Put everything back",
    "Set the spark",
    "First fire",
    "Warm up and set the idle",
    "Hot, and on the road",
    "Hand over",
)
HEAD = "9f2c61d07be84a5d3c0e6f1b7a9d4c8e2b5f0a6d1c3e9b7f4a8d2c6e0b1f5a93"

_BAR = {"metric": (1.0, "bar", 2), "us": (14.503774, "psi", 1), "imperial": (14.503774, "psi", 1)}


@dataclass
class SampleJob:
    """Answers as they stand, under the names the record asks for."""

    sheet: SheetAnswer
    judged: JudgeAnswer
    pathed: PathAnswer
    caught: CatchAnswer | None = None
    name: str = "autumn service"
    number: int | None = 12
    engine: dict[str, Any] = field(default_factory=dict)
    closed: bool = True
    chain_head: str = HEAD
    moves: list[ScrewMove] = field(default_factory=list)
    lines: list[HistoryLine] = field(default_factory=list)
    passed: list[OverrideLine] = field(default_factory=list)
    warned: list[CautionLine] = field(default_factory=list)
    again: list[RenewedLine] = field(default_factory=list)
    gauges: list[tuple[str, str]] = field(default_factory=list)
    recorded: list[KeptRecording] = field(default_factory=list)
    taken: list[Photo] = field(default_factory=list)

    def sheet_answer(self) -> SheetAnswer:
        return self.sheet

    def judge(self) -> JudgeAnswer:
        return self.judged

    def path(self) -> PathAnswer:
        return self.pathed

    def catch(self) -> CatchAnswer | None:
        return self.caught

    def ledger(self) -> list[ScrewMove]:
        return self.moves

    def history(self) -> list[HistoryLine]:
        return self.lines

    def corrections(self) -> list[HistoryLine]:
        return [
            line("2026-05-03T10:26", "correction", "e25 corrected: the point had been left out", "e26"),
            line("2026-05-03T11:01", "correction", "e60 withdrawn: the hose had come off", "e61"),
        ]

    def overrides(self) -> list[OverrideLine]:
        return self.passed

    def cautions(self) -> list[CautionLine]:
        return self.warned

    def renewed(self) -> list[RenewedLine]:
        return self.again

    def calibrations(self) -> dict[str, str]:
        return {}

    def instruments(self) -> list[tuple[str, str]]:
        return self.gauges

    def recordings(self) -> list[KeptRecording]:
        return self.recorded

    def photos(self) -> list[Photo]:
        return self.taken


def pressure(
    what: str,
    title: str,
    bar: float,
    low: float,
    high: float | None,
    units: str,
    *,
    u: float = 0.04,
    verdict: str = "within",
    p: float = 0.99,
    minute: int = 0,
    cylinder: int | None = None,
    settle: str | None = None,
    stands: bool = True,
    conditions: dict[str, str] | None = None,
    typed: list[str] | None = None,
) -> JudgedReading:
    factor, unit, digits = _BAR[units]

    def said(value: float) -> str:
        return f"{value * factor:.{digits}f}"

    words = f"{said(low)} to {said(high)} {unit}" if high is not None else f"at least {said(low)} {unit}"
    return JudgedReading.model_validate(
        {
            "what": what,
            "title": title,
            "cylinder": cylinder,
            "value": bar * factor,
            "unit": unit,
            "u": u * factor,
            "limit": {"low": low * factor, "high": high and high * factor, "source": SOURCE, "words": words},
            "p_within": p,
            "verdict": verdict,
            "settle": settle,
            "shown": f"{said(bar)} ± {said(2 * u)} {unit}",
            "at": f"2026-05-03T10:{minute:02d}:00+02:00",
            "typed": typed or [f"{bar:g} bar"],
            "n": len(typed or [1]),
            "conditions": conditions or {},
            "instrument": "gauge",
            "basis": GAUGE,
            "notes": [],
            "stands": stands,
            "entries": [f"e{minute}"],
        }
    )


def choice(
    what: str, title: str, value: str, allowed: list[str], *, cylinder: int | None = None
) -> JudgedReading:
    good = value in allowed
    return JudgedReading.model_validate(
        {
            "what": what,
            "title": title,
            "cylinder": cylinder,
            "value": value,
            "unit": None,
            "u": None,
            "limit": ShownLimit(allowed=allowed, source=SOURCE, words=" or ".join(allowed)),
            "p_within": 1.0 if good else 0.0,
            "verdict": "within" if good else "outside",
            "settle": None,
            "shown": value,
            "at": "2026-05-03T11:40:00+02:00",
            "typed": [value],
            "conditions": {},
            "instrument": None,
            "basis": "",
            "notes": [],
            "stands": True,
            "entries": ["c"],
        }
    )


def readings(units: str) -> list[JudgedReading]:
    """What a good job reads: pressures with a replaced one, six injectors, a choice."""
    cold = {"regulator_temperature": "18 degC" if units == "metric" else "64 degF", "heater": "unplugged"}
    found = [
        pressure(
            "system_pressure",
            "System pressure",
            4.93,
            4.7,
            5.2,
            units,
            minute=12,
            typed=["4.92 bar", "4.95 bar", "4.93 bar"],
        ),
        pressure(
            "control_pressure_cold",
            "Control pressure, cold",
            1.18,
            1.25,
            1.55,
            units,
            verdict="outside",
            p=0.004,
            minute=20,
            conditions=cold,
            stands=False,
        ),
        pressure(
            "control_pressure_cold",
            "Control pressure, cold",
            1.41,
            1.25,
            1.55,
            units,
            minute=52,
            conditions=cold,
            p=0.998,
        ),
        pressure(
            "control_pressure_warm",
            "Control pressure, warm",
            3.61,
            3.4,
            3.8,
            units,
            minute=58,
            conditions={"voltage": "12.3 V", "heater": "plugged"},
        ),
        pressure(
            "holding_pressure",
            "Holding pressure",
            2.1,
            1.8,
            None,
            units,
            minute=59,
            conditions={"after": "10 min"},
            p=0.9996,
        ),
    ]
    bench = [3.31, 3.28, 3.34, 3.30, 3.27, 3.33]
    found += [
        pressure(
            "injector_opening_pressure",
            "Injector opening pressure",
            bar,
            3.0,
            3.6,
            units,
            minute=30 + k,
            cylinder=k,
        )
        for k, bar in enumerate(bench, start=1)
    ]
    found += [choice("injector_drip", "Injector drip", "dry", ["dry"], cylinder=k) for k in range(1, 7)]
    found.append(choice("plunger_movement", "Plunger moves freely", "free", ["free"]))
    return found


def run(
    number: int,
    through: str,
    opening: str,
    flows: list[float | None],
    *,
    u: float = 0.12,
    swaps: list[str] | None = None,
    discarded: bool = False,
    typed: list[str] | None = None,
    unit: str = "ml",
) -> RunAnswer:
    known = [flow for flow in flows if flow is not None]
    mean = sum(known) / len(known)
    return RunAnswer(
        catch=number,
        entry=f"k{number}",
        at=f"2026-05-03T1{number}:02:00+02:00",
        through=through,
        opening=opening,
        amounts=flows,
        typed=typed or ["" if flow is None else f"{flow:.1f} ml" for flow in flows],
        unit=unit,
        durations=[60.0],
        flows=flows,
        u_flows=[None if flow is None else max(u, 0.012 * flow) for flow in flows],
        seen_spread=(max(known) - min(known)) / mean,
        swaps=swaps or [],
        discarded=discarded,
        basis="container, read to 0.2 ml; stopwatch ±0.3 s",
        notes=[],
    )


def catches(units: str, *, uneven: bool = False) -> CatchAnswer:
    """Five runs; with *uneven* injector 4 pours too little at full."""
    typed = (
        [f"{ml * 0.033814:.2f} fl oz" for ml in (8.0, 8.2, 7.9, 8.1, 8.15, 8.0)]
        if units != "metric"
        else None
    )
    full = [98.0, 101.0, 99.5, 82.0 if uneven else 100.2, 100.4, 99.0]
    runs = [
        run(0, "lines", "idle", [7.2, 7.6, 7.4, 7.5, 7.3, 7.4], discarded=True),
        run(1, "lines", "idle", [8.0, 8.2, 7.9, 8.1, 8.15, 8.0], typed=typed),
        run(2, "lines", "part", [41.0, 42.1, 40.6, 41.4, None, 41.2], u=0.4),
        run(3, "injectors", "idle", [7.9, 8.1, 7.8, 7.95, 8.05, 7.9]),
        run(4, "injectors", "full", full, u=0.7),
        run(
            5,
            "injectors",
            "full",
            [98.2, 100.8, 99.1, 99.9, 82.4 if uneven else 100.1, 99.3],
            u=0.7,
            swaps=["injector 4 with 5"],
        ),
    ]
    parts = [
        PartAnswer(part=kind, cylinder=k, deviation=0.004 * (k - 3.5), u=0.009, p_off=0.004)  # type: ignore[arg-type]
        for kind in ("port", "line", "injector")
        for k in range(1, 7)
    ]
    even = {"lines:idle": 0.993, "lines:part": 0.97, "injectors:idle": 0.991, "injectors:full": 0.985}
    if uneven:
        parts[15] = PartAnswer(part="injector", cylinder=4, deviation=-0.172, u=0.011, p_off=0.992)
        parts[7] = PartAnswer(part="line", cylinder=2, deviation=0.021, u=0.02, p_off=0.31)
        even["injectors:full"] = 0.002
    return CatchAnswer(
        sheet="flat-six",
        notice=NOTICE,
        spread_by_run={
            "lines:idle": 0.037,
            "lines:part": 0.036,
            "injectors:idle": 0.038,
            "injectors:full": 0.19 if uneven else 0.03,
        },
        u_by_run={"lines:idle": 0.012, "lines:part": 0.011, "injectors:idle": 0.012, "injectors:full": 0.012},
        even_by_run=even,
        limit_by_run={"lines:idle": 0.15, "lines:part": 0.10, "injectors:idle": 0.15, "injectors:full": 0.08},
        spread=0.19 if uneven else 0.03,
        even=even["injectors:full"],
        verdict="outside" if uneven else "within",
        parts=parts,
        undivided=[[PartName(part="port", cylinder=2), PartName(part="line", cylinder=2)]] if uneven else [],
        suspect_amounts=[
            SuspectAnswer(
                catch=2, position=5, why="nothing was noted for it", offer="Catch it again, or leave it out."
            )
        ],
        next_catch=NextCatchAnswer(
            through="injectors",
            opening="full",
            swaps=["injector 2 with 3"],
            why="it divides line 2 from port 2",
        )
        if uneven
        else None,
        runs=runs,
        notes=["The container of port 3 was weighed without its lid."] if uneven else [],
    )


def sheet() -> SheetAnswer:
    values = [
        SheetLine(name="displacement", title="Displacement", shown="2.7 l", source=SOURCE),
        SheetLine(name="firing_order", title="Firing order", shown="1-6-2-4-3-5", source=SOURCE),
        SheetLine(
            name="screw_start",
            title="Mixture screw, back from onset",
            shown="1/2 turn",
            source="typical value, common practice, no source, not verified",
        ),
    ]
    limits = [
        SheetLine(name="system_pressure", title="System pressure", shown="4.70 to 5.20 bar", source=SOURCE),
        SheetLine(
            name="injector_resistance",
            title="Regulator heater",
            shown="18 to 26 Ω at 20 °C; λ 0.95 to 0.97; ≤ 5 µm",
            source=SOURCE,
        ),
    ]
    return SheetAnswer(
        sheet="flat-six",
        title="Flat six, 2.7 l",
        notice=NOTICE,
        cylinders=6,
        devices=[],
        values=values,
        limits=limits,
    )


def stages(states: dict[int, str] | None = None) -> list[StageAnswer]:
    found = []
    for index, title in enumerate(STAGES):
        state = (states or {}).get(index, "proved")
        why = {
            "proved": "all its claims stand",
            "stale": "injector 4 was replaced after its proof",
            "blocked": "needs “The injectors pour evenly at full”, which is stale",
            "open": "not begun",
            "overridden": "passed over by AB: the car is to be stored, not driven",
        }[state]
        steps = (
            [
                StepAnswer(
                    step=f"s{index}",
                    title="Catch at the full opening",
                    state="stale" if state == "stale" else "open",
                    why="",
                ),
                StepAnswer(step=f"t{index}", title="Read the plugs", state="open", why=""),
            ]
            if state in ("open", "stale", "blocked")
            else []
        )
        found.append(
            StageAnswer.model_validate(
                {
                    "stage": f"g{index}",
                    "title": title,
                    "state": state,
                    "why": why,
                    "short": "" if state == "proved" else why,
                    "steps": steps,
                }
            )
        )
    return found


def claims(state: str = "proved") -> list[ClaimAnswer]:
    found = [
        ClaimAnswer.model_validate(
            {
                "claim": "system_pressure_right",
                "cylinder": None,
                "stage": "pressures",
                "says": "System pressure is right",
                "state": "proved",
                "why": "system pressure 4.93 bar, within",
                "since": "2026-05-03T10:12:00+02:00",
                "entries": ["e12"],
            }
        ),
        ClaimAnswer.model_validate(
            {
                "claim": "even_injectors_full",
                "cylinder": None,
                "stage": "catch_injectors",
                "says": "The injectors pour evenly at full",
                "state": state,
                "why": "spread 3.0 %, limit 8 %",
                "since": "2026-05-03T14:02:00+02:00",
                "entries": ["k4"],
            }
        ),
    ]
    found += [
        ClaimAnswer.model_validate(
            {
                "claim": "injector_opens_right",
                "cylinder": k,
                "stage": "bench",
                "says": "The injector opens at the right pressure",
                "state": "proved",
                "why": f"opening pressure 3.{k}, within",
                "since": "2026-05-03T10:31:00+02:00",
                "entries": ["x"],
            }
        )
        for k in range(1, 7)
    ]
    return found


def path(**more: Any) -> PathAnswer:
    plain: dict[str, Any] = {
        "sheet": "flat-six",
        "notice": NOTICE,
        "stages": stages(),
        "claims": claims(),
        "put_back": [],
        "next": [],
        "repeat": [],
        "repeat_minutes": 0,
        "questions": [],
        "may_close": [],
        "outside": [],
    }
    return PathAnswer.model_validate({**plain, **more})


def line(at: str, kind: str, words: str, entry: str, **more: Any) -> HistoryLine:
    whole = f"{at}:00+02:00"
    return HistoryLine.model_validate(
        {
            "at": whole,
            "entered": whole,
            "who": "AB",
            "kind": kind,
            "words": words,
            "entry": entry,
            "note": "",
            **more,
        }
    )


def history(*, closed: bool) -> list[HistoryLine]:
    found = [
        line(
            "2026-05-02T09:00",
            "note",
            "the car came in on its own wheels, idling badly",
            "h1",
            note="smelt of fuel",
        ),
        line("2026-05-03T10:12", "reading", "system pressure 4.93 bar", "e12", photos=["gauge-1.jpg"]),
        line("2026-05-03T10:20", "reading", "control pressure, cold 1.18 bar", "e20"),
        line(
            "2026-05-03T10:25",
            "reading",
            "injector opening pressure, cylinder 3: 3.34 bar",
            "e25",
            corrected_by=["e26"],
        ),
        line("2026-05-03T10:40", "did", "control-pressure regulator adjusted", "e40"),
        line(
            "2026-05-03T11:00",
            "reading",
            "pump delivery 910 ml",
            "e60",
            withdrawn="the hose had come off",
            corrected_by=["e61"],
        ),
        line("2026-05-03T12:31", "move", "mixture screw 1/8 turn clockwise", "e70"),
        line("2026-05-03T13:40", "did", "injector 4 replaced", "e80"),
    ]
    if closed:
        found.append(
            line("2026-05-05T16:30", "closed", "job closed; cause found: control-pressure regulator", "z")
        )
    return found


def cautions(*, read: bool) -> list[CautionLine]:
    return [
        CautionLine(
            id="fire",
            title="Fuel burns, and its vapour finds the flame",
            text="Fuel vapour lies along the floor and lights at a spark, a lamp, a heater or "
            "a hot exhaust metres away. Work on a cold engine with the doors open, nothing alight nearby.",
            sign="fire",
            read_by="AB",
            read_at="2026-05-03T09:30:00+02:00",
        ),
        CautionLine(
            id="carbon_monoxide",
            title="Exhaust gas kills without smell",
            text="Carbon monoxide has no smell, and an engine being set runs rich. Run it in the open, or "
            "with an extraction hose on the tailpipe and the doors open.",
            sign="gas",
            read_by="AB" if read else None,
            read_at="2026-05-04T09:00:00+02:00" if read else None,
        ),
    ]


def common(units: str) -> dict[str, Any]:
    return {
        "sheet": sheet(),
        "engine": {
            "sheet": "flat-six",
            "car": "Grey coupé, 1975",
            "chassis": "invented 0471",
            "mileage": "143 000 km",
            "workshop": "The Shed, Mill Lane",
        },
        "moves": [
            ScrewMove(
                part="mixture_screw",
                at="2026-05-03T12:31:00+02:00",
                who="AB",
                typed="+1/8 turn",
                turns=0.125,
                total=0.125,
                note="",
                entry="e70",
                approach="lean",
                mark="seated",
            ),
            ScrewMove(
                part="mixture_screw",
                at="2026-05-03T12:40:00+02:00",
                who="AB",
                typed="-1/16 turn",
                turns=-0.0625,
                total=0.0625,
                note="idle too rich",
                entry="e71",
            ),
        ],
        "again": [
            RenewedLine(
                claim="control_cold_right",
                says="Control pressure cold is right",
                cylinder=None,
                disturbed="control-pressure regulator adjusted, 3 May 2026, 10:40",
                state="proved again",
            ),
            *(
                RenewedLine(
                    claim="supply_dry",
                    says="The unions are dry",
                    cylinder=k,
                    disturbed="fuel distributor refitted, 3 May 2026, 10:50",
                    state="proved again",
                )
                for k in range(1, 7)
            ),
        ],
        "gauges": [
            ("gauge", GAUGE),
            ("container", "measuring cylinder, 100 ml, read to 0.2 ml"),
            ("meter", "multimeter, ±1 % of the reading, assumed"),
        ],
    }


def good(units: str = "metric") -> SampleJob:
    return SampleJob(
        judged=JudgeAnswer(sheet="flat-six", notice=NOTICE, readings=readings(units)),
        pathed=path(),
        caught=catches(units),
        lines=history(closed=True),
        warned=cautions(read=True),
        **common(units),
    )


def overridden(units: str = "metric") -> SampleJob:
    doubtful = pressure(
        "compression",
        "Compression",
        9.2,
        9.0,
        12.0,
        units,
        u=0.12,
        verdict="cannot_tell",
        p=0.93,
        minute=5,
        cylinder=2,
        settle="3 more readings, or a gauge of class 1.0",
    )
    hot = pressure(
        "system_pressure",
        "System pressure, hot",
        5.31,
        4.7,
        5.2,
        units,
        verdict="outside",
        p=0.003,
        minute=57,
    )
    item = PutBackAnswer(
        item="pump_bridge",
        cylinder=None,
        name="pump bridge in the relay socket",
        since="2026-05-03T10:05:00+02:00",
        step="pump_by_hand",
        words="Take the pump bridge out of the relay socket and plug the relay in",
        entry="p1",
        overridden="AB: the relay is on order",
    )
    return SampleJob(
        judged=JudgeAnswer(sheet="flat-six", notice=NOTICE, readings=[*readings(units), doubtful, hot]),
        pathed=path(
            stages=stages({8: "overridden", 9: "overridden"}),
            claims=claims("overridden"),
            put_back=[item],
            outside=[f"System pressure, hot: {hot.shown} is outside {hot.limit.words if hot.limit else ''}"],
        ),
        caught=catches(units, uneven=True),
        lines=history(closed=True),
        warned=cautions(read=True),
        passed=[
            OverrideLine(
                target="even_injectors_full",
                says="The injectors pour evenly at full",
                who="AB",
                reason="the car goes into storage; injector 4 is on order",
                at="2026-05-05T16:00:00+02:00",
            ),
            OverrideLine(
                target="pump_bridge",
                says="Pump bridge in the relay socket",
                who="AB",
                reason="the relay is on order",
                at="2026-05-05T16:10:00+02:00",
            ),
        ],
        **common(units),
    )


def unfinished(units: str = "metric") -> SampleJob:
    state = {7: "stale", 8: "stale", 9: "blocked", **dict.fromkeys(range(10, 15), "open")}
    items = [
        PutBackAnswer(
            item=f"injector[{k}]",
            cylinder=k,
            name=f"injector {k}",
            since="2026-05-03T10:05:00+02:00",
            step=None,
            words=f"Refit injector {k} with new seals",
            entry=f"p{k}",
        )
        for k in range(1, 7)
    ]
    items.append(
        PutBackAnswer(
            item="coil_feed",
            cylinder=None,
            name="coil feed",
            since="2026-05-03T09:40:00+02:00",
            step="spark_disabled",
            words="Plug the coil feed in again",
            entry="p9",
        )
    )
    return SampleJob(
        judged=JudgeAnswer(sheet="flat-six", notice=NOTICE, readings=readings(units)),
        pathed=path(
            stages=stages(state),
            claims=claims("stale"),
            put_back=items,
            may_close=[
                "7 things are still to be put back",
                "“The injectors pour evenly at full” is stale: injector 4 was replaced after its proof",
                *(f"the stage “{STAGES[k]}” is open" for k in range(9, 15)),
                "the caution “Exhaust gas kills without smell” is not read",
            ],
        ),
        caught=catches(units),
        lines=history(closed=False),
        warned=cautions(read=False),
        closed=False,
        number=None,
        **common(units),
    )


KINDS = {"good": good, "overridden": overridden, "unfinished": unfinished}
