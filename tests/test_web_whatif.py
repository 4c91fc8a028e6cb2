"""The what-if bench: what is drawn and written is what the model says, with and without script."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from urllib.parse import urlencode

import pytest
from playwright.sync_api import expect

from browser_world import LAPTOP, PHONE, Bay, bay, browser, violations
from evenpour.job.engine_model import causes_of
from evenpour.job.whatif.answers import InsideTold
from evenpour.job.whatif.bench import bench
from evenpour.job.whatif.parts import bench_data
from evenpour.job.whatif.settings import settings_from
from evenpour.job.whatif.worked_out import healthy_engine, whatif
from evenpour.web.cutaway import DROP, LIFTED, drop_size
from evenpour.web.rendering import HERE, STATIC
from web_world import Pages, pages, shop_pages

__all__ = ["bay", "browser", "pages", "shop_pages"]

SIX = "flat-six"
SOME = (SIX, "flat-six-oxygen", "inline-five")  # plain, with oxygen control, with a load diaphragm
HALF = "mixture_screw=0.5 turn"
CLOGGED = "injector_restricted[4]=0.5"
JARGON = re.compile(
    r"posterior|prior\b|likelihood|quantile|percentile|standard deviation|sigma\b|variance", re.I
)


class Drawn(HTMLParser):
    """The elements of a page by their ids: attributes, and the text directly in them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.attributes: dict[str, dict[str, str]] = {}
        self.texts: dict[str, str] = {}
        self._open: list[tuple[str, str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        name = said.pop("id", "")
        if name:
            self.attributes[name] = said
            self.texts[name] = ""
        self._open.append((tag, name))

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if self._open and self._open[-1][1]:
            self.texts[self._open[-1][1]] += data

    def moved(self, name: str) -> float:
        """By how much a piece is drawn moved upwards."""
        return -float(self.attributes[name]["transform"].removeprefix("translate(0 ").rstrip(")"))


def address(*settings: str, state: str = "idle_warm", here: str = "/what-if") -> str:
    said = "".join(f"&set={one.replace('+', '%2B').replace(' ', '+')}" for one in settings)
    return f"{here}?state={state}{said}"


def drawn(pages: Pages, *settings: str, state: str = "idle_warm") -> Drawn:
    page = pages.get(address(*settings, state=state))
    assert page.status == 200
    return Drawn(page.html.source)


def inside(*settings: str, state: str = "idle_warm") -> InsideTold:
    found = next(one for one in whatif(SIX, settings).states if one.state == state).now
    assert found is not None
    return found


# ---- the way there ----


def test_the_bench_is_reached_from_the_bay_book_and_from_a_job(pages: Pages) -> None:
    assert "/what-if" in pages.get("/").html.links
    job = pages.begin(sheet="inline-four")
    assert f"{job}/what-if" in pages.get(job).html.links
    page = pages.get(f"{job}/what-if")
    assert page.status == 200
    assert "Inline four" in page.text
    assert "bench-sheet" not in page.html.ids  # a job has its sheet


def test_in_a_job_the_bench_may_stand_where_its_car_stands(pages: Pages) -> None:
    job = pages.begin("cold-1")
    link = next(link for link in pages.get(f"{job}/what-if").html.links if "set=ambient_temperature" in link)
    text = pages.get(link).text
    assert "The air temperature in the workshop: 17 °C" in text
    assert "The height above the sea: 240 m" in text


def test_nothing_set_is_the_healthy_car_and_nothing_is_marked(pages: Pages) -> None:
    page = pages.get("/what-if")
    assert "Nothing yet: this is the healthy car." in page.text
    assert 'class="moved"' not in page.html.source
    assert "value changed" not in page.html.source


def test_the_sheet_is_chosen_in_the_workshop(pages: Pages) -> None:
    page = pages.get("/what-if?sheet=vee-eight")
    assert "Vee eight" in page.text
    assert "drop-8" in page.html.ids
    assert "drop-9" not in page.html.ids
    assert pages.get("/what-if?sheet=nothing").status == 404


# ---- drawn by the model's numbers alone ----

CASES = [
    ((), "idle_warm"),
    ((HALF,), "idle_warm"),
    (("altitude=2500 m", "ambient_temperature=-10 degC"), "road_steady"),
    ((CLOGGED, "warm_setting=3.1 bar"), "full_load"),
    (("filter_restricted=0.8",), "opening_full"),
]


@pytest.mark.parametrize(("settings", "state"), CASES)
def test_lifts_travels_and_flows_are_drawn_as_the_model_says(
    pages: Pages, settings: tuple[str, ...], state: str
) -> None:
    found, told = drawn(pages, *settings, state=state), inside(*settings, state=state)
    full = next(one for one in whatif(SIX, ()).states if one.state == "opening_full").healthy
    still = next(one for one in whatif(SIX, ()).states if one.state == "rest").healthy
    assert found.moved("plate") == pytest.approx(LIFTED * told.plate_lift_mm / full.plate_lift_mm, abs=0.01)
    lever = found.attributes["lever"]
    assert float(lever["y2"]) - float(lever["y1"]) == pytest.approx(found.moved("plate"), abs=0.01)
    stroke = full.plunger_lift_mm - still.plunger_lift_mm
    rise = found.moved("plunger") * stroke / told.plunger_lift_mm
    again = drawn(pages).moved("plunger") * stroke / inside().plunger_lift_mm
    assert rise == pytest.approx(again, rel=1e-4)  # one scale for all states
    for port in told.ports:
        flow = float(found.attributes[f"drop-{port.port}"]["data-flow"])
        assert flow == pytest.approx(port.fuel_ml_per_min, rel=1e-6)
        opened = float(found.attributes[f"valve-{port.port}"]["data-open"])
        assert opened == pytest.approx(port.valve_open, rel=1e-6, abs=1e-9)


def test_a_drop_is_as_large_as_its_flow() -> None:
    found = bench(SIX, [CLOGGED], "full_load")
    sizes = [drop_size(found, port.fuel_ml_per_min) for port in found.drawn.ports]
    flows = [port.fuel_ml_per_min for port in found.drawn.ports]
    for size, flow in zip(sizes, flows, strict=True):
        assert (size / sizes[0]) ** 2 == pytest.approx(flow / flows[0])
    assert drop_size(found, found.most.ports[0].fuel_ml_per_min) == pytest.approx(DROP)


def test_the_edge_in_the_slits_goes_with_the_plunger_on_the_scale_beside_it(pages: Pages) -> None:
    found, told = drawn(pages, HALF), inside(HALF)
    foot, mark = 100.0, 14.0  # as the marks of the scale are drawn
    edge = -found.moved("row-line")
    per_mark = float(found.texts["tick-2"]) / 2.0
    assert (foot - edge) / mark * per_mark == pytest.approx(told.plunger_lift_mm, rel=1e-3)
    assert float(found.attributes["slit-1"]["height"]) == pytest.approx(foot - edge, rel=1e-3)


def test_half_a_turn_turns_the_key_half_round(pages: Pages) -> None:
    assert drawn(pages, HALF).attributes["key"]["transform"] == "rotate(180)"
    assert drawn(pages, "mixture_screw=-0.25 turn").attributes["key"]["transform"] == "rotate(-90)"


def test_what_is_written_is_what_the_model_says_with_what_it_was(pages: Pages) -> None:
    found, told, before = drawn(pages, HALF), inside(HALF), inside()
    assert found.texts["w-open"] == f"{told.plunger_lift_mm:.3f} mm"
    assert found.texts["w-open-was"] == f"was {before.plunger_lift_mm:.3f}"
    assert found.texts["w-lambda"] == f"{told.lambda_:.3f}"
    assert found.texts["w-port-3"] == f"{told.ports[2].fuel_ml_per_min:.2f}"
    assert found.texts["w-system"] == f"{told.system_pressure_bar:.2f} bar"
    assert found.texts["w-system-was"] == ""
    assert found.attributes["w-lambda"]["class"] == "value changed"
    assert found.attributes["w-system"]["class"] == "value"


def test_only_what_stands_otherwise_is_marked(pages: Pages) -> None:
    found = drawn(pages, CLOGGED, state="full_load")
    kinds = {name: one["class"] for name, one in found.attributes.items() if name.startswith("valve-")}
    assert kinds == {f"valve-{k}": "moved" if k == 4 else "unmoved" for k in range(1, 7)}
    assert found.attributes["plate"]["class"] == "unmoved"


def test_an_engine_that_does_not_run_is_drawn_standing_and_says_so(pages: Pages) -> None:
    page = pages.get(address("spark_none=1"))
    found = Drawn(page.html.source)
    assert "does not run" in page.text
    assert "It is drawn standing" in page.text
    assert found.moved("plate") == pytest.approx(0.0, abs=1e-9)
    assert found.texts["w-lambda"] == "–"


def test_figures_come_in_the_units_of_the_device(pages: Pages) -> None:
    pages.client.cookies.set("evenpour", "units=us")
    page = pages.get(address("altitude=6000 ft"))
    found = Drawn(page.html.source)
    assert found.texts["w-control"].endswith(" psi")
    assert found.texts["w-open"].endswith(" thou")
    assert 'value="6000"' in page.html.source
    assert re.findall(r"(?<!nudged )[\d.]+ (?:m?bar|mm|ml)\b", page.text) == []


# ---- setting, and taking away ----


def form_of(pages: Pages, path: str) -> dict[str, str]:
    form = next(one for one in pages.get(path).html.forms if one.action.endswith("/what-if"))
    return dict(form.fields)


def test_a_form_without_script_leads_to_an_address_that_says_it_all(pages: Pages) -> None:
    fields = form_of(pages, "/what-if") | {"mixture_screw": "0,5", "state": "full_load"}
    answer = pages.client.post("/what-if", data=fields)
    assert answer.status_code == 303
    page = pages.get(answer.headers["location"])
    assert page.address.endswith("state=full_load&set=mixture_screw%3D0%2C5+turn")
    assert "Full load: pulls at" in page.text
    assert form_of(pages, answer.headers["location"])["mixture_screw"] == "0.5"


def test_a_form_sent_as_it_came_sets_nothing(pages: Pages) -> None:
    for path in ("/what-if", "/what-if?sheet=vee-eight"):
        answer = pages.client.post("/what-if", data=form_of(pages, path))
        assert "set=" not in answer.headers["location"]


def test_another_state_does_not_set_the_voltage_it_brings_along(pages: Pages) -> None:
    fields = form_of(pages, address(state="rest"))
    still = fields["pump_voltage"]
    answer = pages.client.post("/what-if", data=fields | {"state": "idle_warm"})
    assert "set=" not in answer.headers["location"]
    assert float(form_of(pages, answer.headers["location"])["pump_voltage"]) > float(still)


def test_two_faults_on_their_cylinders_can_be_set_and_taken_away(pages: Pages) -> None:
    faults = {
        "fault.1": "injector_restricted", "cylinder.1": "4", "severity.1": "0.3",
        "fault.2": "-plate_rest_wrong", "severity.2": "1",
    }  # fmt: skip
    answer = pages.client.post("/what-if", data=form_of(pages, "/what-if") | faults)
    page = pages.get(answer.headers["location"])
    assert "The injector is clogged, cylinder 4: slight (+0.3 of −1 to 1)" in page.text
    assert "wrong height: gross (−1 of −1 to 1)" in page.text
    fields = form_of(pages, answer.headers["location"])
    assert {name: fields[name] for name in faults} == faults
    away = next(link for link in page.html.links if "plate_rest" in link and "injector" not in link)
    assert "injector is clogged, cylinder 4" not in pages.get(away).text


def test_what_has_no_slider_is_kept_through_the_form(pages: Pages) -> None:
    path = address("slit_width[3]=-5%", "fuel=E85")
    answer = pages.client.post("/what-if", data=form_of(pages, path))
    text = pages.get(answer.headers["location"]).text
    assert "width of the metering slit, cylinder 3" in text
    assert "E85" in text


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        (("mixture_screw=soon",), "Mixture screw"),
        (("nothing=1",), "nothing"),
        (("injector_restricted=0.5",), "does not say of which cylinder"),
        (("altitude=90000 m",), "out of all sense"),
    ],
)
def test_what_cannot_be_set_is_said_and_the_bench_stands(
    pages: Pages, settings: tuple[str, ...], words: str
) -> None:
    page = pages.get(address(*settings))
    assert page.status == 422
    assert "That cannot be set" in page.text
    assert words in page.text
    assert "plate" in page.html.ids


# ---- following ----


def test_the_answer_to_an_open_page_is_the_page_itself(pages: Pages) -> None:
    fields = form_of(pages, "/what-if") | {"mixture_screw": "0.5", "altitude": "1500"}
    said = pages.client.get("/what-if/live", params=fields).json()
    found = Drawn(pages.get(said["address"]).html.source)
    for name, moves in said["moves"].items():
        if name in found.attributes:
            assert {key: found.attributes[name].get(key.lower()) for key in moves} == moves, name
    shown = {name: text for name, text in said["words"].items() if name in found.texts}
    assert len(shown) > 60
    assert {name: found.texts[name] for name in shown} == shown
    assert set(said["pieces"]) <= set(found.attributes)
    assert said["fields"]["mixture_screw"] == "0.5"


def test_an_open_page_is_told_what_cannot_be_set(pages: Pages) -> None:
    answer = pages.client.get("/what-if/live", params={"altitude": "high"})
    assert answer.status_code == 422
    assert "Height above the sea" in answer.json()["problem"]


# ---- words, parts, readings ----


def test_what_would_be_read_says_whether_it_would_be_noticed(pages: Pages) -> None:
    text = pages.get(address(HALF)).text
    row = text.partition("CO, warm")[2].replace(" ", "")
    assert re.match(r"[\d.]+%usually[\d.]+to[\d.]+%[\d.]+%\+[\d.]+%1to2%Yes:outsidethelimit", row)
    assert "No difference." in text
    assert not JARGON.search(text)


def test_the_curve_has_a_table_behind_it(pages: Pages) -> None:
    page = pages.get(address(HALF))
    assert 'aria-label="Lambda over air flow. warm idle: lambda' in page.html.source
    mark = next(one for one in whatif(SIX, [HALF]).curve.marks if one.state == "idle_warm")
    row = f"{mark.air_g_per_s:.1f} g/s {mark.lambda_:.3f} 0.95 to 0.97"
    assert row.replace(" ", "") in page.text.replace(" ", "")


@pytest.mark.parametrize("sheet", SOME)
def test_every_cause_of_the_engine_can_be_chosen(sheet: str) -> None:
    found = bench(sheet, ())
    offered = {fault.name.removeprefix("-") for faults in found.groups.values() for fault in faults}
    assert offered | {one.name for one in found.sliders} >= {
        one.id for one in causes_of(healthy_engine(sheet).kind)
    }


@pytest.mark.parametrize("sheet", SOME)
def test_whatever_is_worth_trying_can_be_set_on_every_engine(sheet: str) -> None:
    healthy = healthy_engine(sheet)
    for one in bench_data().worth:
        settings_from(one.settings, healthy.kind, healthy.home, healthy.seen.cars)
        assert one.state in healthy.states["metric"]


@pytest.mark.parametrize("sheet", SOME)
def test_every_part_reads_figures_that_there_are(sheet: str) -> None:
    found = bench(sheet, ())
    assert {key for part in found.parts for _, key in part.reads} <= set(found.figures)
    assert all(part.says for part in found.parts)


def test_every_part_is_numbered_in_its_drawing() -> None:
    shown = "".join(path.read_text(encoding="utf-8") for path in (HERE / "templates").glob("what_if_*.html"))
    named = set(re.findall(r'callout\(page, "(\w+)"', shown))
    assert named == {part.id for part in bench_data().parts} - {"frequency"} | ({"frequency"} & named)


def test_a_part_offers_what_can_go_wrong_in_it(pages: Pages) -> None:
    page = pages.get("/what-if")
    links = [link for link in page.html.links if "set=pressure_valve_leaks" in link]
    assert len(links) == 1
    assert "differential-pressure valve is off, cylinder 4" in pages.get(links[0]).text


def test_the_page_is_light_and_brings_nothing_from_elsewhere(pages: Pages) -> None:
    def sent(path: str) -> int:
        with pages.client.stream("GET", path, headers={"accept-encoding": "gzip"}) as answer:
            return sum(len(part) for part in answer.iter_raw())

    path = address(HALF, CLOGGED)
    source = pages.get(path).html.source
    files = set(re.findall(r'(?:href|src)="(/static/[^"#]+)', source))
    fonts = {f"/static/fonts/{one.name}" for one in STATIC.glob("fonts/*.woff2")}
    scripts = {f"/static/{one.name}" for one in STATIC.glob("*.js")}
    assert sent(path) + sum(map(sent, files | fonts | scripts)) < 150_000
    assert " style=" not in source
    assert not re.search(r"<script(?![^>]*\ssrc=)", source)


# ---- in a browser ----


def figures(bay: Bay) -> Iterator[str]:
    yield from bay.faults
    yield from bay.strangers


def test_a_slider_moves_the_drawing_to_what_the_model_says(bay: Bay) -> None:
    page = bay.device()
    page.goto("/what-if")
    slide = page.get_by_label("Mixture screw, slide")
    slide.focus()
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    expect(page.locator("#w-screw")).to_have_text("1/2 turn", timeout=20_000)
    told = inside(HALF)
    lift = float(page.locator("#plunger").get_attribute("data-lift") or "nan")
    assert lift == pytest.approx(told.plunger_lift_mm, rel=1e-6)
    for port in told.ports:
        flow = float(page.locator(f"#drop-{port.port}").get_attribute("data-flow") or "nan")
        assert flow == pytest.approx(port.fuel_ml_per_min, rel=1e-6)
        expect(page.locator(f"#w-port-{port.port}")).to_have_text(f"{port.fuel_ml_per_min:.2f}")
    expect(page.locator("#w-lambda")).to_have_text(f"{told.lambda_:.3f}")
    expect(slide).to_have_attribute("aria-valuetext", "0.5 turn")
    expect(page.locator("#bench-heard")).to_contain_text(f"lambda {told.lambda_:.3f}")
    expect(page.locator("#bench-readings")).to_contain_text("outside the limit")
    page.reload()
    expect(page.locator("#w-screw")).to_have_text("1/2 turn")
    expect(page.get_by_label("Mixture screw + is clockwise")).to_have_value("0.5")
    assert list(figures(bay)) == []


def test_a_fault_is_chosen_with_its_cylinder_and_the_state_with_one_tap(bay: Bay) -> None:
    page = bay.device()
    page.goto("/what-if")
    expect(page.locator("#cylinder-1")).to_be_hidden()
    page.get_by_label("Fault", exact=True).select_option("injector_restricted")
    page.locator("#cylinder-1").select_option("4")
    page.get_by_label("Look at").select_option("full_load")
    told = inside(CLOGGED, state="full_load")
    expect(page.locator("#w-port-4")).to_have_text(f"{told.ports[3].fuel_ml_per_min:.1f}", timeout=20_000)
    expect(page.locator("#valve-4")).to_have_attribute("class", "moved")
    expect(page.locator("#bench-set")).to_contain_text("The injector is clogged, cylinder 4")
    page.locator("#bench-set").get_by_role("link", name="Take away").click()
    expect(page.locator("#bench-set")).to_contain_text("Nothing yet")
    assert list(figures(bay)) == []


def test_a_number_typed_wrongly_is_said_and_the_drawing_stands(bay: Bay) -> None:
    page = bay.device(**LAPTOP)
    page.goto("/what-if")
    before = page.locator("#w-lambda").text_content()
    page.get_by_label("Air temperature", exact=True).fill("warm")
    expect(page.locator("#bench-problem")).to_contain_text("Air temperature", timeout=20_000)
    assert page.locator("#w-lambda").text_content() == before
    page.get_by_label("Air temperature", exact=True).fill("30")
    expect(page.locator("#bench-problem")).to_have_text("", timeout=20_000)
    bay.faults.clear()  # the browser complains of the answer that refused it


@pytest.mark.parametrize(("device", "theme"), [(PHONE, "light"), (LAPTOP, "dark")], ids=["phone", "laptop"])
def test_nobody_is_shut_out_of_the_bench(bay: Bay, device: dict[str, object], theme: str) -> None:
    page = bay.device(**device, color_scheme=theme, reduced_motion="reduce")
    page.goto(address(HALF, CLOGGED))
    page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")
    # the rows of the whole table are like those above it, and there are five hundred cells of them
    page.evaluate("document.getElementById('all-readings').remove()")
    assert violations(page) == []


@pytest.mark.parametrize("width", [320, 2560])
def test_the_bench_fits_and_every_target_can_be_hit(bay: Bay, width: int) -> None:
    page = bay.device(viewport={"width": width, "height": 800}, has_touch=True)
    page.goto(address(HALF, CLOGGED))
    page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        """() => [...document.querySelectorAll('main :is(a, button, summary, select, input)')]
          .filter((one) => one.type !== 'hidden')
          .filter((one) => one.checkVisibility() && getComputedStyle(one).display !== 'inline')
          .map((one) => [one.id || one.textContent.trim(), one.getBoundingClientRect()])
          .filter(([, box]) => box.height < 43.9 || box.width < 43.9).map(([name]) => name)"""
    )
    assert small == []


FAR = ("mixture_screw=15/16 turn", "altitude=3000 m", "ambient_temperature=40 degC", "warm_setting=2 bar")
NEAR = ("mixture_screw=-1 turn", "ambient_temperature=-20 degC", "warm_setting=5 bar", "air_leak_common=1")
CROWDED = """() => [...document.querySelectorAll('svg.cutaway')].flatMap((svg) => {
  const field = svg.getBoundingClientRect();
  const scale = field.width / svg.viewBox.baseVal.width;
  const labels = [...svg.querySelectorAll('text')].filter((one) => one.textContent.trim()).map((one) => {
    const box = one.getBoundingClientRect();
    const name = `${one.id} ${one.textContent.trim()}`;
    const line = 0.17 * box.height; // a line's box is higher than its letters
    return { name, size: scale * parseFloat(getComputedStyle(one).fontSize), left: box.left, right: box.right,
      top: box.top + line, bottom: box.bottom - line };
  });
  const walls = [...svg.querySelectorAll('.wall')].map((one) => one.getBoundingClientRect());
  const springs = [...svg.querySelectorAll('.spring')].map((one) => one.getBoundingClientRect());
  const balls = [...svg.querySelectorAll('.ball')].map((one) => {
    const { left, right, top, bottom } = one.getBoundingClientRect();
    return { name: 'ball', left, right, top, bottom };
  });
  const over = (one, other) => Math.min(one.right, other.right) - Math.max(one.left, other.left) > 0.5
    && Math.min(one.bottom, other.bottom) - Math.max(one.top, other.top) > 0.5;
  const inside = (one, other) => one.left >= other.left && one.right <= other.right && one.top >= other.top
    && one.bottom <= other.bottom;
  const wrong = labels.filter((one) => one.size < 14).map((one) => `${one.name}: small`);
  wrong.push(...labels.filter((one) => !inside(one, field)).map((one) => `${one.name}: outside`));
  for (const ball of balls)
    if (springs.some((one) => over(ball, { ...one.toJSON(), left: one.left - 2, right: one.right + 2 })))
      wrong.push("a part's number over a spring");
  labels.forEach((one, place) => {
    for (const wall of walls)
      if (over(one, { ...wall.toJSON(), left: wall.left - 2, right: wall.right + 2 }))
        wrong.push(`${one.name} touches a wall`);
    for (const other of labels.slice(place + 1))
      if (over(one, other)) wrong.push(`${one.name} over ${other.name}`);
    for (const other of balls)
      if (over(one, other) && !inside(one, other)) wrong.push(`${one.name} over a part's number`);
  });
  return wrong;
})"""


@pytest.mark.parametrize("system", ["metric", "us"])
def test_labels_of_the_drawings_can_be_read_on_the_smallest_phone(bay: Bay, system: str) -> None:
    page = bay.device(viewport={"width": 360, "height": 800})
    page.goto("/settings")
    page.locator(f"input[name=units][value={system}]").check(force=True)
    page.get_by_role("button", name="Keep").click()
    page.wait_for_url("**/settings?saved=yes#said")
    for sheet in ("flat-six", "vee-eight", "inline-four-oxygen"):
        for state, settings in (("full_load", FAR), ("idle_cold", NEAR)):
            page.goto(f"/what-if?{urlencode({'sheet': sheet, 'state': state, 'set': settings}, doseq=True)}")
            assert page.evaluate(CROWDED) == [], (sheet, state)
