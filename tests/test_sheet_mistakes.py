"""A sheet with mistakes: each is told, with its line and what was likely meant. Copies, and the schema."""

from __future__ import annotations

import re
import tomllib

import pytest

from evenpour import data
from evenpour.errors import FieldProblem, Problems
from evenpour.job.sheet.copy import copied
from evenpour.machine.sheet_schema import sheet_schema
from sheet_tools import CHECKS, FORM, KINDS, sheet

FLAT_SIX = data.shipped_text("sheets/flat-six.toml")


def changed(old: str, new: str) -> str:
    """The flat six's sheet with one passage changed."""
    assert FLAT_SIX.count(old) >= 1, old
    return FLAT_SIX.replace(old, new, 1)


def problems(text: str) -> list[str]:
    with pytest.raises(Problems) as caught:
        sheet(text)
    return [str(problem) for problem in caught.value.all]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("plate_diameter =", "plate_diametre =", "plate_diametre.*is no value of a sheet.*plate_diameter"),
        ('check = "system_pressure"', 'check = "sistem_pressure"', "is no check.*system_pressure"),
        ("catalyst = false", "catalist = false", "catalist.*is no device.*catalyst"),
        ("catalyst = false", "", r"catalyst is missing.*is there a catalyst\?"),
        ("catalyst = false", 'catalyst = "no"', "neither true nor false"),
        ('title = "Flat six', 'tittle = "Flat six', "tittle.*title"),
        ('title = "Flat six, 2.7 l"', 'title = ""', "title is missing"),
        ('id = "flat-six"', 'id = "Flat Six"', "no short name"),
        ('is = "80 mm"', 'is = "80 bar"', "plate_diameter '80 bar' is a pressure, not a length"),
        ('is = "80 mm"', 'is = "80"', "has no unit"),
        ('is = "80 mm"', 'is = "80 m"', "is not possible. Allowed: 30 mm to 200 mm"),
        ('is = "745 g/l"', 'is = "745 g"', "fuel_reference_density.*is not a mass per a volume"),
        ('is = "745 g/l"', 'is = "1.2 kg/l"', "is not possible"),
        ("is = 16.5", 'is = "16.5"', "lever_ratio.*is no number"),
        ("is = 16.5", "is = nan", "lever_ratio.*is no number"),
        ("is = 16.5", "is = 0.2", "is not possible"),
        ("is = 6,", "is = 6.5,", "no whole number"),
        ("is = 6,", "is = 2,", "cylinders '2' is not possible. Allowed: 3 to 12"),
        ("is = 6,", "is = 13,", "is not possible"),
        ("is = 6,", "is = true,", "is no number"),
        (
            "is = [1, 6, 2, 4, 3, 5]",
            "is = [1, 6, 2, 4, 3, 3]",
            "firing_order '1-6-2-4-3-3' does not name each",
        ),
        ("is = [1, 6, 2, 4, 3, 5]", "is = [1, 6, 2, 4, 3]", "the numbers 1 to 6, each once"),
        ("is = [1, 6, 2, 4, 3, 5]", 'is = "1-6-2-4-3-5"', "no list of cylinders"),
        ("is = [1, 2, 3, 4, 5, 6]", "is = [0, 1, 2, 3, 4, 5]", "line_map"),
        ('is = "clockwise"', 'is = "clockwize"', "is no word for this.*Did you mean clockwise"),
        ('lines_swappable = { is = "yes"', "lines_swappable = { is = true", 'Write "yes" or "no" in quotes'),
        ('is = ["feed", "return"]', 'is = ["feed", "none"]', "says none and a hose too"),
        ('is = ["feed", "return"]', "is = []", "is empty"),
        (
            'opening_full = { is = "55 mm"',
            'opening_full = { is = "70 mm"',
            "beyond the plate's travel.*62 mm",
        ),
        (
            'opening_part = { is = "20 mm"',
            'opening_part = { is = "2 mm"',
            "is not above opening_idle of 3 mm",
        ),
        ("displacement = {", "# displacement = {", "displacement is missing"),
        ("cylinders = {", "# cylinders = {", "cylinders is missing"),
        ('is = "2.7 l", source = "mem"', 'is = "2.7 l", source = "memm"', "is no source of this sheet.*mem"),
        ('is = "2.7 l", source = "mem"', 'is = "2.7 l"', "source is missing"),
        ('{ is = "2.7 l", source = "mem" }', '"2.7 l"', "does not say where it comes from"),
        ('is = "2.7 l", source', 'iss = "2.7 l", source', "iss.*is no field"),
        ("points_ignition = true", "points_ignition = false", "points_ignition is not fitted"),
        ('low = "4.7 bar"', 'low = "5.7 bar"', "is above high"),
        ('low = "4.7 bar"', 'low = "4.7 ohm"', "is a resistance, not a pressure"),
        ('allowed = ["dry"]', 'allowed = ["try"]', "is no choice of accumulator_vent.*dry"),
        ('when = { load = "rested" }', 'when = { lode = "rested" }', "is no condition.*load"),
        ('when = { load = "rested" }', 'when = { load = "cranking" }', "two limits for the same conditions"),
        ('slope = "0.05 bar/degC"', 'slope = "0.05 bar"', "is not a pressure per"),
        ("[sources]", "[source]", "source.*is no field of a sheet.*sources"),
    ],
)
def test_a_mistake_is_told_with_its_line(old: str, new: str, words: str) -> None:
    told = problems(changed(old, new))
    matching = [line for line in told if re.search(words, line)]
    assert matching, told
    assert matching[0].startswith("own.toml, line ")


def test_the_line_is_the_one_to_mend() -> None:
    text = changed('is = "80 mm"', 'is = "80 bar"')
    line = 1 + text[: text.index("80 bar")].count("\n")
    assert problems(text) == [
        f"own.toml, line {line} (values, plate_diameter): plate_diameter '80 bar' is a pressure, not"
        " a length. Allowed: mm, m, in, thou, ft."
    ]
    text = changed('slope = "0.05 bar/degC"', 'slope = "0.05 bar"')
    limit = text[: text.index('slope = "0.05 bar"')].rindex("[[limit]]")
    assert 1 + text[:limit].count("\n") <= int(re.findall(r"line (\d+)", problems(text)[0])[0])


def test_all_mistakes_are_told_in_one_go_in_the_order_of_the_file() -> None:
    text = FLAT_SIX
    for old, new in [
        ("catalyst = false", "catalist = false"),
        ('is = "80 mm"', 'is = "80 bar"'),
        ('is = "10 mm"', 'is = "10 s"'),
        ('low = "4.7 bar"', 'low = "5.7 bar"'),
        ('check = "spark_seen"', 'check = "spark_scene"'),
    ]:
        text = text.replace(old, new, 1)
    told = problems(text)
    assert len(told) == 6  # the misspelt device is unknown, and the right one is missing
    lines = [int(re.findall(r"line (\d+)", line)[0]) for line in told]
    assert lines == sorted(lines)


def test_a_limit_for_what_is_not_fitted_is_refused() -> None:
    text = FLAT_SIX + '\n[[limit]]\ncheck = "lambda_duty"\nlow = "40 %"\nhigh = "60 %"\nsource = "cp"\n'
    (told,) = problems(text)
    assert "oxygen_control is not fitted" in told


@pytest.mark.parametrize("text", ['format = "evenpour-job/1"\n', "x = 1\n", 'format = "evenpour-sheet/2"\n'])
def test_another_form_of_file_is_told_as_such(text: str) -> None:
    (told,) = problems(text)
    assert 'A sheet starts with format = "evenpour-sheet/1"' in told


def test_a_nearly_empty_sheet_says_all_that_is_missing() -> None:
    told = problems('format = "evenpour-sheet/1"\n')
    for name in ("id", "title", "notice", "accumulator", "cylinders", "firing_order", "opening_full"):
        assert any(re.search(rf"{name}\b.* is missing", line) for line in told), name


@pytest.mark.parametrize(
    "line", ["values = 3", "devices = []", "sources = true", 'limit = "none"', "limit = [1]", "title = 3"]
)
def test_a_table_that_is_none_is_a_complaint_and_no_crash(line: str) -> None:
    assert problems(f'format = "evenpour-sheet/1"\n{line}\n')


@pytest.mark.parametrize("name", data.sheet_names())
def test_a_copy_keeps_every_value_and_says_that_none_is_checked(name: str) -> None:
    text = data.shipped_text(f"sheets/{name}.toml")
    original, copy = sheet(text), sheet(copied(text, "mine", title='The "blue" one'))
    assert (copy.id, copy.title) == ("mine", 'The "blue" one')
    assert {n: v.value for n, v in copy.values.items()} == {n: v.value for n, v in original.values.items()}
    assert [(x.check, x.low, x.high) for x in copy.limits] == [
        (x.check, x.low, x.high) for x in original.limits
    ]
    assert {value.source for value in copy.values.values()} == {
        f"from {name}, not yet checked against the manual"
    }
    assert {limit.source for limit in copy.limits} == {f"from {name}, not yet checked against the manual"}
    assert set(copy.unchecked) == {*copy.values, *(limit.check for limit in copy.limits)}
    assert original.unchecked == ()


def test_a_value_put_in_from_the_manual_is_no_longer_unchecked() -> None:
    copy = copied(FLAT_SIX, "mine")
    mended = copy.replace(
        '{ is = "80 mm", source = "copied" }', '{ is = "82 mm", source = "manual, page 12" }'
    )
    assert mended != copy
    result = sheet(mended)
    assert "plate_diameter" not in result.unchecked
    assert result.values["plate_diameter"].source == "manual, page 12"
    assert "# mixture screw" in mended  # comments stay where they stood


def test_a_copy_of_a_copy_names_the_sheet_it_came_from() -> None:
    again = sheet(copied(copied(FLAT_SIX, "mine"), "yours"))
    assert again.values["cylinders"].source == "from mine, not yet checked against the manual"


@pytest.mark.parametrize("new_id", ["flat-six", "Mine", "../mine", "", "mine.toml"])
def test_a_copy_needs_a_short_name_of_its_own(new_id: str) -> None:
    with pytest.raises(FieldProblem, match=r"short name|is the id"):
        copied(FLAT_SIX, new_id)


def test_a_text_that_cannot_be_changed_safely_is_refused() -> None:
    odd = changed('note = "return pinched', "note = \"source = 'cp'; return pinched")
    assert tomllib.loads(odd)
    with pytest.raises(FieldProblem, match="cannot be copied safely"):
        copied(odd, "mine")
    dotted = changed('source = "mem" }', '"source" = "mem" }')
    with pytest.raises(FieldProblem, match="cannot be copied safely"):
        copied(dotted, "mine")


def test_a_copy_of_a_sheet_with_windows_line_ends_can_be_read() -> None:
    assert sheet(copied("\ufeff" + FLAT_SIX.replace("\n", "\r\n"), "mine")).id == "mine"


def test_the_schema_names_every_value_device_check_and_condition() -> None:
    schema = sheet_schema(FORM, CHECKS, KINDS)
    properties = schema["properties"]
    assert set(properties["values"]["properties"]) == set(FORM.values)
    assert set(properties["devices"]["properties"]) == set(FORM.devices)
    limit = properties["limit"]["items"]["properties"]
    assert limit["check"]["enum"] == list(CHECKS)
    assert set(limit["when"]["properties"]) == set(KINDS)
    assert "cylinders" in properties["values"]["required"]
    assert "dwell" not in properties["values"]["required"]


TYPES = {
    "object": dict,
    "array": list,
    "string": str,
    "boolean": bool,
    "integer": int,
    "number": (int, float),
}


def fits(value: object, schema: dict) -> bool:
    """The few words of JSON Schema that our schema uses."""
    types = schema.get("type", [])
    names = [types] if isinstance(types, str) else types
    if names and not any(isinstance(value, TYPES[name]) for name in names):
        return False
    if "const" in schema and value != schema["const"]:
        return False
    if "enum" in schema and value not in schema["enum"]:
        return False
    if "anyOf" in schema and not any(fits(value, one) for one in schema["anyOf"]):
        return False
    if "pattern" in schema and not re.search(schema["pattern"], str(value)):
        return False
    if isinstance(value, list) and "items" in schema:
        return all(fits(one, schema["items"]) for one in value)
    if isinstance(value, dict):
        inner, more = schema.get("properties", {}), schema.get("additionalProperties", {})
        return set(schema.get("required", [])) <= set(value) and all(
            fits(one, inner[name]) if name in inner else more is not False and fits(one, more)
            for name, one in value.items()
        )
    return True


@pytest.mark.parametrize("name", data.sheet_names())
def test_shipped_sheets_fit_the_schema(name: str) -> None:
    schema = sheet_schema(FORM, CHECKS, KINDS)
    plain = data.shipped(f"sheets/{name}.toml").values
    assert fits(plain, schema)
    assert not fits({**plain, "tittle": "x"}, schema)
    assert not fits(
        {**plain, "values": {**plain["values"], "cylinders": {"is": "six", "source": "x"}}}, schema
    )
    assert not fits({**plain, "limit": [{"check": "idle_speed", "source": "cp"}]}, schema)
