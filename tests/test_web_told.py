"""What the pages tell of an entry: right after it, and when one looks back at it."""

from __future__ import annotations

from evenpour.job.opening import stored_job
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]

EXCHANGE = "If one injector is odd: exchange two, catch again"
PUT_RIGHT = f"To put it right, or to find out: {EXCHANGE}"


def test_an_uneven_catch_asks_for_an_exchange_and_the_catch_with_it_does_not_again(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    assert PUT_RIGHT in pages.get(f"{job}/catch?entry=injectors-full-1").text
    job = pages.begin("swapped")
    assert PUT_RIGHT not in pages.get(f"{job}/catch?entry=swapped").text
    assert PUT_RIGHT not in pages.get(f"{job}/catch?entry=injectors-full-1").text


def test_once_it_is_sure_which_injector_is_off_no_exchange_is_asked_for_again(pages: Pages) -> None:
    job = pages.begin("swapped")
    back = {"action": "refitted", "part": "exchanged_injector", "who": "Ines"}
    number = int(job[6:])
    pages.store.append(number, "did", back)
    amounts = ["80 ml", "80 ml", "79.5 ml", "66 ml", "80 ml", "80.5 ml"]
    content = {"through": "injectors", "opening": "full", "duration": "35 s", "amounts": amounts}
    pages.store.append(number, "catch", content, id="back-again")
    page = pages.get(f"{job}/catch?entry=back-again")
    assert "Injector 4: 18" in page.text
    assert PUT_RIGHT not in page.text


def test_what_is_even_now_is_not_to_be_put_right_where_one_looks_back_at_how_it_was(pages: Pages) -> None:
    job = pages.begin("injectors-full-2")
    page = pages.get(f"{job}/catch?entry=injectors-full-1")
    assert "The catch is kept" in page.text
    assert PUT_RIGHT not in page.text


def test_a_reading_that_was_put_right_since_names_no_step_that_mends_it(pages: Pages) -> None:
    job = pages.begin()
    number = int(job[6:])
    reading = {"what": "system_pressure", "value": "4.2 bar"}
    pages.store.append(number, "reading", reading, id="low-1")
    assert "To put it right" in pages.get(f"{job}/read/system_pressure?entry=low-1").text
    pages.store.append(number, "reading", {**reading, "value": "4.9 bar"}, id="right-1")
    assert "To put it right" not in pages.get(f"{job}/read/system_pressure?entry=low-1").text


def test_a_step_that_nothing_calls_for_is_not_what_a_page_leads_on_to(pages: Pages) -> None:
    page = pages.get(f"{pages.begin('lines-full')}/steps/catch_lines_full")
    assert "If one port is odd" not in page.text
    assert "On: 8.9 See the bare ends stay dry" in page.text
    page = pages.get(f"{pages.begin('injectors-full-1')}/steps/catch_injectors_full")
    assert f"On: 9.6 {EXCHANGE}" in page.text


def test_a_step_says_which_of_its_minutes_are_work_and_which_the_clock_takes(pages: Pages) -> None:
    job = pages.begin("injectors-full-1")
    assert "8 min of work while the clock runs for 20 min" in pages.get(f"{job}/steps/read_holding").text
    assert "of work while" not in pages.get(f"{job}/steps/odd_injector").text


def test_the_history_says_which_exchanged_injectors_are_back(pages: Pages) -> None:
    job = pages.begin("swapped")
    back = {"action": "refitted", "part": "exchanged_injector", "who": "Ines"}
    pages.store.append(int(job[6:]), "did", back)
    assert "Exchanged injector refitted: injector 4 with 1" in pages.get(f"{job}/history").text


def test_where_a_reading_settles_nothing_the_pages_tell_the_ways_on(pages: Pages) -> None:
    job = pages.begin(warned=True)
    number = int(job[6:])
    step = f"{job}/steps/heater_ohms"
    assert "It cannot be told" not in pages.get(step).text
    heater = {
        "what": "regulator_heater_resistance", "value": "25.8 ± 0.6 ohm",
        "conditions": {"temperature": "20 degC"},
    }  # fmt: skip
    pages.store.append(number, "reading", heater, id="heater-1")
    page = pages.get(step)
    assert "It cannot be told" in page.text
    assert "25.8 ± 0.7 Ω. An instrument good to ± 0.2 Ω would settle it" in page.text
    assert f"{job}/stages/bench#claim-heater_right" in page.html.links
    assert 'id="claim-heater_right"' in pages.client.get(f"{job}/stages/bench").text
    pages.send(f"{job}/stages/bench", "override-heater_right", who="Ines", reason="no finer meter")
    assert "It cannot be told" not in pages.get(step).text


def test_now_says_of_what_was_read_already_that_it_cannot_be_told(pages: Pages) -> None:
    job = pages.begin()
    number = int(job[6:])
    for one in stored_job(pages.store, number).path().upcoming:
        if one.stage == "intake" and one.step != "valve_clearances":
            pages.store.append(number, "step", {"id": one.step, "done": True})
    for cylinder in range(1, 7):
        clearance = {"what": "valve_clearance", "cylinder": cylinder, "value": "0.1 ± 0.04 mm"}
        pages.store.append(number, "reading", clearance)
    page = pages.get(job)
    assert "Read already, but it cannot be told: the valve clearance 0.10 ± 0.05 mm" in page.text
    assert f"{job}/steps/valve_clearances#undecided" in page.html.links


def test_a_reading_without_a_condition_that_its_limit_needs_asks_for_that_and_blames_no_sheet(
    pages: Pages,
) -> None:
    job = pages.begin()
    cold = {"what": "control_pressure_cold", "value": "1.4 bar"}
    pages.store.append(int(job[6:]), "reading", cold, id="cold-bare")
    page = pages.get(f"{job}/read/control_pressure_cold?entry=cold-bare")
    assert "no limit on the sheet" not in page.text
    assert "state the regulator's temperature" in page.text
