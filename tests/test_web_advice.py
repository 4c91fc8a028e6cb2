"""The one thing to do next: by one rule, the same on every page, with the reason where a page differs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evenpour.job import advice as rule
from evenpour.job.advice import Advice, beside_catches, beside_causes
from evenpour.job.catalogue import catalogue
from evenpour.job.causes.answers import CauseLine, CauseName, CausesAnswer, NextCheckLine, RepairLine
from evenpour.job.causes.groups import close_calls
from evenpour.job.causes.page import Explained
from evenpour.job.demo import demo_entries
from evenpour.job.job import job_from
from evenpour.job.opening import stored_job
from evenpour.job.step_page import where_it_stands
from evenpour.web.causes_told import found_of
from evenpour.web.pages import causes
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]

REPAIR = RepairLine(
    remedy="clean or renew the injector", part="injector", cylinder=4, probability=0.93, minutes=40.0,
    cost=30.0, causes=[CauseName(cause="injector_clogged", cylinder=4)], effort=60.0,
    source="common practice",
)  # fmt: skip
CATCH = NextCheckLine(
    what="catch", cylinder=None, state="", conditions={"through": "injectors", "opening": "full"},
    information=0.7, minutes=18.0, why="", step="catch_injectors", before=[], cautions=[],
    swaps=["injector 4 with 1"],
)  # fmt: skip
ANSWER = CausesAnswer(
    sheet="flat-six", notice="", causes=[], nothing_wrong=0.01, unexplained=0.0, others=0.0, clashes=[],
    undivided=[], next_checks=[CATCH], repairs=[REPAIR], worth_doing=None, readings=9, left_out=[], notes=[],
    hour_of_work=60.0,
)  # fmt: skip
HALF_WAY = "injectors-full-1"


@pytest.fixture
def kept(monkeypatch: pytest.MonkeyPatch) -> list[CausesAnswer | None]:
    """What the rule finds kept of the causes; nothing, until a test puts it there."""
    answers: list[CausesAnswer | None] = [None]
    monkeypatch.setattr(rule, "answer_at_hand", lambda job, *, store=None: answers[0])
    return answers


def test_a_repair_worth_doing_goes_before_the_order_of_the_work(
    pages: Pages, kept: list[CausesAnswer | None]
) -> None:
    job = pages.begin(HALF_WAY)
    kept[0] = ANSWER.model_copy(update={"worth_doing": "Clean or renew the injector, cylinder 4"})
    page = pages.get(job)
    assert "Do this next Clean or renew the injector, cylinder 4 93 % that it mends" in page.text
    assert "nothing has to be proved twice" in page.text
    assert page.text.index("Clean or renew") < page.text.index("Then, in the order of the work")
    assert f"{job}/causes" in page.html.links
    catches = pages.get(f"{job}/catch").text
    assert "another thing goes first: Clean or renew the injector, cylinder 4." in catches


def test_a_check_goes_before_the_order_of_the_work_while_something_is_outside(
    pages: Pages, kept: list[CausesAnswer | None]
) -> None:
    job = pages.begin(HALF_WAY)
    kept[0] = ANSWER
    page = pages.get(job)
    assert (
        "Do this next Catch again: through injectors, full opening, injector 4 with 1 exchanged" in page.text
    )
    assert any("swap=injector+4+with+1" in link for link in page.html.links)


def test_where_nothing_is_outside_the_order_of_the_work_comes_first(
    pages: Pages, kept: list[CausesAnswer | None]
) -> None:
    job = pages.begin()
    kept[0] = ANSWER
    text = pages.get(job).text
    assert "Catch again" not in text
    assert "Then, in the order of the work" not in text
    assert "Do this next 1.1" in text


def test_while_the_causes_are_not_worked_out_the_first_page_says_so(
    pages: Pages, kept: list[CausesAnswer | None]
) -> None:
    job = pages.begin(HALF_WAY)
    assert "Why is not worked out yet for the readings as they stand" in pages.get(job).text
    assert "it may put another thing first" in pages.get(f"{job}/catch").text
    assert "not worked out yet" not in pages.get(pages.begin()).text


def test_a_closed_job_has_nothing_to_do_next(pages: Pages, kept: list[CausesAnswer | None]) -> None:
    kept[0] = ANSWER.model_copy(update={"worth_doing": "Clean or renew the injector, cylinder 4"})
    job = pages.begin("")
    if "closed" in pages.get(job).text:
        assert "Do this next" not in pages.get(job).text


def test_each_page_says_why_it_advises_another_thing_and_nothing_where_it_does_not() -> None:
    step = Advice("step", "7.1 Bleed the gauge", "", None, "7.1 Bleed the gauge", "bleed", True, True)
    asked = ("injectors", "full", ("injector 4 with 1",))
    assert "In the order of the work comes first: 7.1" in beside_catches(step, *asked)
    assert "7.1 Bleed the gauge: nothing is outside" in beside_causes(replace(step, found=False))
    assert beside_causes(replace(step, kind="repair")) == ""
    assert beside_causes(None) == ""
    assert beside_catches(None, *asked) == ""


def _line(cause: str, cylinder: int | None, p: float) -> CauseLine:
    return CauseLine(
        cause=cause, cylinder=cylinder, says=cause, probability=p, severity=None, severity_u=None,
        severity_words="", for_=[], against=[], if_mended=[], part=None, remedy=None,
    )  # fmt: skip


def test_only_causes_nearly_as_likely_are_said_not_to_be_told_apart() -> None:
    names = [CauseName(cause="injector_clogged", cylinder=4), CauseName(cause="line_squeezed", cylinder=4)]
    for first, second, told in ((0.93, 0.07, 1), (0.7, 0.3, 2), (0.5, 0.1, 1), (0.2, 0.2, 2)):
        lines = [_line("injector_clogged", 4, first), _line("line_squeezed", 4, second)]
        assert len(close_calls(names, lines)) == told
    six = [CauseName(cause="injector_clogged", cylinder=one) for one in range(1, 7)]
    lines = [_line("pump_worn", None, 0.4), *(_line("injector_clogged", one, 0.1) for one in range(1, 7))]
    assert len(close_calls([CauseName(cause="pump_worn", cylinder=None), *six], lines)) == 7


def test_a_repair_that_goes_first_leads_to_its_steps_their_cautions_and_the_form_that_enters_it(
    pages: Pages, kept: list[CausesAnswer | None]
) -> None:
    job = pages.begin(HALF_WAY, warned=True)
    kept[0] = ANSWER.model_copy(update={"worth_doing": "Clean or renew the injector, cylinder 4"})
    now = pages.get(job)
    assert "40 min of work" in now.text
    (led,) = (link for link in now.html.links if "/enter?" in link)
    assert led == f"{job}/enter?part=injector&cylinder=4#a-part"
    page = pages.get(led)
    assert "A part was handled: injector" in page.text
    assert f"{job}/steps/odd_injector" in page.html.links
    fields = page.html.form("did").fields
    assert (fields["part"], fields["cylinder"], fields["action"]) == ("injector", "4", "")
    refused = pages.send(led, "did", action="cleaned")
    assert (refused.status, "Work on a part is done by somebody" in refused.text) == (422, True)
    assert "A part was handled: injector" in refused.text
    assert f"{job}/steps/odd_injector" in refused.html.links
    assert 'id="caution-pressure_jet"' in refused.html.source
    assert refused.html.form("did").fields["cylinder"] == "4"
    assert pages.send(led, "did", action="cleaned", who="Ines").status == 200
    did = {"action": "cleaned", "part": "injector", "cylinder": 4, "who": "Ines"}
    assert pages.entries(job)[-1][1] == did


def test_a_part_asked_for_shows_what_its_steps_warn_of_before_its_form(pages: Pages) -> None:
    page = pages.get(f"{pages.begin()}/enter?part=injector&cylinder=4")
    assert 'id="caution-pressure_jet"' in page.html.source
    assert 'value="did"' not in page.html.source
    pump = pages.get(f"{pages.begin()}/enter?part=fuel_pump")  # no step of the path handles it
    assert 'id="caution-pressure_jet"' in pump.html.source
    assert "The engine’s manual tells how it is put right." in pump.text


@pytest.mark.parametrize(
    ("part", "steps"),
    [
        ("accumulator", ["accumulator_vent_look"]),
        ("regulator_heater", ["heater_ohms"]),
        ("thermo_time_switch", ["thermo_time_switch_bench"]),
        ("fuel_pump", ["pump_volts", "read_system_pressure", "deadhead_pump"]),
        ("generator", []),
    ],
)
def test_a_part_that_no_step_handles_names_the_steps_that_try_it(
    pages: Pages, part: str, steps: list[str]
) -> None:
    job = pages.begin()
    page = pages.get(f"{job}/enter?part={part}")
    named = page.text.partition("The engine’s manual tells how it is put right.")[2].partition("Once it")[0]
    assert named.startswith(" Whether it is good shows in") == bool(steps)
    links = [link.rpartition("/")[2] for link in page.html.links if "/steps/" in link]
    assert [one for one in links if one in steps] == steps


def test_a_part_that_no_step_handles_warns_of_what_is_met_at_the_part_not_of_every_step_that_tries_it(
    pages: Pages,
) -> None:
    page = pages.get(f"{pages.begin()}/enter?part=accumulator")
    warned = [name for name in catalogue().cautions if f'id="caution-{name}"' in page.html.source]
    assert sorted(warned) == ["fire", "lifting", "pressure_jet"]  # none of the hot restarts


def test_a_part_that_the_manual_alone_knows_is_entered_without_a_step(pages: Pages) -> None:
    plain = pages.get(f"{pages.begin()}/enter?part=nothing_known")
    assert "caution-" not in plain.html.source
    assert 'value="did"' not in plain.html.source
    assert any(one.method == "get" and "injector" in one.choices.get("part", ()) for one in plain.html.forms)


def test_the_box_and_the_list_of_repairs_lead_to_where_they_are_entered(pages: Pages) -> None:
    number = int(pages.begin(HALF_WAY).rpartition("/")[2])
    job = stored_job(pages.store, number)
    screw = REPAIR.model_copy(update={"part": "mixture_screw", "cylinder": None, "remedy": "turn it back"})
    told = found_of(
        job,
        ANSWER.model_copy(
            update={"worth_doing": "Clean or renew the injector, cylinder 4", "repairs": [screw, REPAIR]}
        ),
    )
    assert told.doing is not None
    assert told.doing.address == f"/jobs/{number}/enter?part=injector&cylinder=4#a-part"
    assert [one.address.rpartition("/")[2] for one in told.repairs] == [
        "screw",
        "enter?part=injector&cylinder=4#a-part",
    ]


def test_what_comes_before_a_check_is_told_in_the_order_of_the_work(
    pages: Pages, kept: list[CausesAnswer | None]
) -> None:
    job = pages.begin(HALF_WAY)
    backwards = ["injectors_out", "cold_start_unplugged", "spark_disabled"]
    kept[0] = ANSWER.model_copy(update={"next_checks": [CATCH.model_copy(update={"before": backwards})]})
    text = pages.get(job).text
    assert "First: take the spark away, unplug the cold-start valve, injectors out, labelled" in text
    told = found_of(stored_job(pages.store, int(job.rpartition("/")[2])), kept[0])
    assert told.first is not None
    assert [name for name, _ in told.first.check.before] == backwards[::-1]


def test_the_box_of_the_causes_is_a_link_to_the_repair(pages: Pages, monkeypatch: pytest.MonkeyPatch) -> None:
    worth = ANSWER.model_copy(update={"worth_doing": "Clean or renew the injector, cylinder 4"})
    monkeypatch.setattr(causes, "explained_before", lambda job, store: Explained(worth, None, job.chain_head))
    job = pages.begin(HALF_WAY)
    page = pages.get(f"{job}/causes")
    assert page.html.links.count(f"{job}/enter?part=injector&cylinder=4#a-part") == 2  # box and list
    assert "40 min of work, parts about 30 in your money. Tap it: first what it wants" in page.text


def test_what_was_worth_doing_before_the_newest_entries_is_told_as_old_and_leads_nowhere(
    pages: Pages, monkeypatch: pytest.MonkeyPatch
) -> None:
    worth = ANSWER.model_copy(update={"worth_doing": "Clean or renew the injector, cylinder 4"})
    monkeypatch.setattr(causes, "explained_before", lambda job, store: Explained(worth, None, job.chain_head))
    whole = causes._page
    monkeypatch.setattr(causes, "_page", lambda ask: replace(whole(ask), working=True, added=True))
    job = pages.begin(HALF_WAY)
    page = pages.get(f"{job}/causes")
    assert "It was worth doing, as it was before the newest entries." in page.text
    assert "Repairs, the best worth first, as it was then" in page.text
    assert "worth doing now" not in page.text
    assert '<a class="next"' not in page.html.source
    assert not [one for one in page.html.links if one.startswith((f"{job}/enter?part", f"{job}/steps/"))]


def test_a_stage_left_open_for_a_part_that_is_off_is_named() -> None:
    entries = list(demo_entries())
    entries = entries[: 1 + next(place for place, one in enumerate(entries) if one.id == "step-52")]
    did = next(one for one in demo_entries() if one.kind == "did")
    removed = replace(did, id="off", seq=len(entries) + 1, at=entries[-1].at,
                      content={"action": "removed", "part": "fuel_pump"})  # fmt: skip
    standing = where_it_stands(job_from("demo", [*entries, removed]))
    assert standing is not None
    assert standing.left is not None
    assert (standing.at.stage, standing.left.stage) == ("spark", "supply")


def test_the_stage_shown_is_that_of_the_next_step_and_what_was_left_open_is_named(
    pages: Pages, kept: list[CausesAnswer | None]
) -> None:
    text = pages.get(pages.begin("co-4")).text
    assert "Stage 13 of 15: Warm up, set idle mixture and speed." in text
    assert "Left open on the way" not in text  # probe and blanked hoses hold up no start
    assert "13.5 Set idle mixture" in text
    link = pages.get(f"{pages.begin('co-4')}/stages")
    assert "To where the work stands: warm up, set idle mixture and speed" in link.text
    again = pages.get(pages.begin("step-35")).text  # before the gauge goes in
    assert "Stage 6 of 15" in again
    assert "The next step is one of stage 1, Take the car in" in again
