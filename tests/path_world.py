"""A small car for the tests of the path, and a diary that numbers its events."""

from __future__ import annotations

from typing import Any

from evenpour.path import (
    Claim,
    Done,
    Event,
    Evidence,
    Happened,
    Override,
    Part,
    PathState,
    Plan,
    Proof,
    Stage,
    Step,
    Touch,
    fold,
)

PARTS = (
    Part("injector", "injector", per_cylinder=True, opens=("injector_union[k]", "injector_seal[k]")),
    Part("injector_union", "injector union", per_cylinder=True),
    Part("injector_seal", "injector seal", per_cylinder=True),
    Part("fuel_distributor", "fuel distributor", opens=("injector_union",)),
    Part("mixture_screw", "mixture screw", kind="screw"),
    Part("mixture_key", "mixture key", kind="tool", put_back="take the key out"),
    Part("coil_feed", "coil feed", kind="connection", put_back="connect the coil feed"),
    Part("charger", "charger", kind="tool"),
)
STAGES = (
    Stage("safe", "Make safe"),
    Stage("bench", "On the bench"),
    Stage("catch", "Catch", needs=("no_spark", "system_right", "seals")),
    Stage("put_back", "Put back", needs=("even",)),
    Stage("fire", "First fire", needs=("even", "unions_dry"), put_back_empty_except=("charger",)),
    Stage("handover", "Hand over", needs=("idle_right",), put_back_empty_except=()),
)
CLAIMS = (
    Claim("no_spark", "safe", "no spark can come", held_by="coil_feed", proof=(Proof(step="cut_spark"),)),
    Claim("key_in", "safe", "the key is in", held_by="mixture_key", optional=True),
    Claim(
        "seals",
        "bench",
        "the injector seals",
        per_cylinder=True,
        rests_on=("injector[k]",),
        proof=(Proof(check="injector_drip"),),
    ),
    Claim(
        "system_right",
        "bench",
        "system pressure is right",
        rests_on=("fuel_distributor",),
        ages_on=("ran_dry",),
        proof=(Proof(check="system_pressure", conditions={"valve": "shut"}),),
    ),
    Claim(
        "even",
        "catch",
        "the injectors pour evenly",
        rests_on=("injector", "fuel_distributor"),
        proof=(Proof(catch="injectors:idle"), Proof(catch="injectors:full")),
    ),
    Claim(
        "unions_dry",
        "put_back",
        "the union is dry",
        per_cylinder=True,
        rests_on=("injector_union[k]",),
        proof=(Proof(any=(Proof(step="wipe"), Proof(check="union_look"))),),
    ),
    Claim(
        "idle_right",
        "fire",
        "idle mixture is right",
        rests_on=("mixture_screw",),
        proof=(Proof(check="exhaust_co"),),
    ),
)
STEPS = (
    Step("cut_spark", "safe", "Cut the spark", proves=("no_spark",), puts_on=("coil_feed",), minutes=3),
    Step(
        "drip_test",
        "bench",
        "Drip test",
        proves=("seals",),
        checks=("injector_drip",),
        cautions=("jet",),
        minutes=20,
    ),
    Step(
        "read_system",
        "bench",
        "Read system pressure",
        proves=("system_right",),
        needs=("no_spark",),
        checks=("system_pressure",),
        minutes=10,
    ),
    Step(
        "catch_all",
        "catch",
        "Catch through the injectors",
        proves=("even",),
        needs=("no_spark",),
        checks=("catch",),
        minutes=30,
    ),
    Step(
        "wipe",
        "put_back",
        "Wipe every union",
        proves=("unions_dry",),
        touches=("injector_seal[k]",),
        cautions=("fire",),
        minutes=9,
    ),
    Step("spark_back", "put_back", "Connect the coil feed", takes_off=("coil_feed",), minutes=2),
    Step("start", "fire", "Start it", cautions=("fire",), minutes=5),
    Step("set_idle", "fire", "Set the idle", proves=("idle_right",), checks=("exhaust_co",), minutes=15),
)
PLAN = Plan(STAGES, CLAIMS, STEPS, PARTS, cylinders=6)


class Diary:
    """Events in order; every call is a new entry, a minute after the one before."""

    def __init__(self, plan: Plan = PLAN) -> None:
        self.plan = plan
        self.events: list[Event] = []

    def read(self, check: str, supports: bool = True, **more: Any) -> Diary:
        more.setdefault("oldest", len(self.events))
        return self._add(Evidence, source=("check", check), supports=supports, **more)

    def catch(self, key: str, supports: bool = True, **more: Any) -> Diary:
        more.setdefault("oldest", len(self.events))
        return self._add(Evidence, source=("catch", key), supports=supports, **more)

    def did(self, action: str, part: str, cylinder: int | None = None) -> Diary:
        return self._add(Touch, part=part, action=action, cylinder=cylinder)

    def step(self, step: str, **more: Any) -> Diary:
        return self._add(Done, step=step, **more)

    def happened(self, what: str) -> Diary:
        return self._add(Happened, what=what)

    def override(self, target: str) -> Diary:
        return self._add(Override, target=target, who="AB", reason="seen by eye")

    def add(self, kind: Any, **more: Any) -> Diary:
        return self._add(kind, **more)

    @property
    def state(self) -> PathState:
        return fold(self.plan, self.events)

    def _add(self, kind: Any, **more: Any) -> Diary:
        rank = len(self.events)
        self.events.append(kind(rank=rank, at=f"10:{rank:02}", entry=f"e{rank}", **more))
        return self
