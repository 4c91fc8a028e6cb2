"""The form of every kind of entry: which fields it has, and of what type.

Texts stay as typed; what a quantity means is read elsewhere. Rules that look at two fields at once stand in
``rules.py``, so that one missing field hides no other complaint.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

ACTIONS: Final = (
    "replaced",
    "adjusted",
    "cleaned",
    "removed",
    "refitted",
    "disconnected",
    "reconnected",
    "fitted",
    "taken_out",
)
THROUGH: Final = ("lines", "injectors")
APPROACHES: Final = ("lean", "rich")
OPENINGS: Final = ("rest", "idle", "part", "full")
SWAP: Final = r"\s*(line|injector)s?\s+([0-9]{1,2})\s+with\s+([0-9]{1,2})\s*"
HASH: Final = "^[0-9a-f]{64}$"
MOST_CYLINDERS: Final = 16


def trouble(text: str, **more: str) -> PydanticCustomError:
    """A fault in our own words; ``complaints`` turns it into a problem."""
    return PydanticCustomError("ours", text, more)


def _text(value: object) -> object:
    if isinstance(value, str) and not value.strip():
        raise trouble("is empty")
    return value


def _with_unit(value: object) -> object:
    if isinstance(value, bool):
        raise trouble("is yes or no, no quantity", remedy='Write figure and unit in quotes, like "4.8 bar".')
    if isinstance(value, (int, float)):
        raise trouble(
            "is a number without a unit",
            remedy='Write figure and unit in quotes, like "4.8 bar" or "60 s".',
        )
    return _text(value)


def is_bare(value: object) -> bool:
    """A number without quotes."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _one_of(names: tuple[str, ...], kind: str) -> Callable[[str], str]:
    def check(value: str) -> str:
        if value not in names:
            raise PydanticCustomError("no_such_name", "is no {kind}", {"names": names, "kind": kind})
        return value

    return check


def _opening(value: str) -> str:
    if value not in OPENINGS and not value.lstrip()[:1].isdigit():
        raise PydanticCustomError(
            "no_such_name", "is no {kind}", {"names": (*OPENINGS, "a lift like 12 mm"), "kind": "opening"}
        )
    return value


def _photo(value: object) -> object:
    names = value if isinstance(value, list) else [value]
    if not names or not all(isinstance(name, str) and name.strip() for name in names):
        raise trouble("is no file name", allowed="a file name, or a list of them")
    return value


def _containers(value: object) -> object:
    if not isinstance(value, list) or not all(
        (isinstance(name, str) and name.strip()) or (isinstance(name, int) and not isinstance(name, bool))
        for name in value
    ):
        raise trouble("is no list of containers", allowed="their numbers or names, one for each port")
    return value


def _tare(value: object) -> object:
    for one in value if isinstance(value, list) else [value]:
        if not isinstance(_with_unit(one), str):
            raise trouble("is no weight", allowed='"21 g", or a list with one for each container')
    return value


def _hum(value: object) -> object:
    if not isinstance(value, bool) and not (isinstance(value, str) and value.strip()):
        raise trouble("is neither yes or no nor a word", allowed="true, false, or a word")
    return value


def _hash(value: str) -> str:
    if re.fullmatch(HASH, value) is None:
        raise trouble("is no SHA-256", allowed="64 digits and letters from a to f")
    return value


def _date(value: object) -> object:
    """A day as ``2026-03-01``."""
    try:
        sound = isinstance(value, str) and date.fromisoformat(value).isoformat() == value
    except ValueError:
        sound = False
    if not sound:
        raise trouble("is no date", allowed="a day like 2026-03-01")
    return value


def _schema(**schema: object) -> Any:
    return Field(json_schema_extra=schema)  # type: ignore[arg-type]


Text = Annotated[str, BeforeValidator(_text)]
Measured = Annotated[str, BeforeValidator(_with_unit)]
Amount = Annotated[str, BeforeValidator(lambda value: value if value == "" else _with_unit(value))]
Cylinder = Annotated[int, Field(ge=1, le=MOST_CYLINDERS)]
Conditions = dict[str, Measured]
_TEXTS = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}


class Form(BaseModel):
    """What any entry may carry besides its own fields."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    who: Text | None = None
    note: Text | None = None
    photo: Annotated[Any, BeforeValidator(_photo), _schema(**_TEXTS)] = None


class EngineForm(Form):
    """The car and the sheet its engine is judged by."""

    sheet: Text
    car: Text | None = None
    chassis: Text | None = None
    engine_number: Text | None = None
    mileage: Text | None = None
    workshop: Text | None = None


class ConditionsForm(Form):
    """Conditions that hold for all readings which state none of their own: any name, with its text."""

    model_config = ConfigDict(extra="allow", strict=True, frozen=True)
    __pydantic_extra__: dict[str, Measured]


class InstrumentForm(Form):
    """A gauge, scale, container or meter, and how far it errs."""

    id: Text
    kind: Text
    range: Measured | None = None
    class_: Annotated[float, Field(gt=0, le=50, allow_inf_nan=False)] | None = Field(None, alias="class")
    error: Measured | None = None
    resolution: Measured | None = None
    scale: Text | None = None
    calibrated: Annotated[str, BeforeValidator(_date), _schema(format="date")] | None = None


class ReadingForm(Form):
    """What a check read: one value, several repeats of it, or a recording in a file."""

    what: Text
    cylinder: Cylinder | None = None
    value: Measured | None = None  # lambda and counts may be typed bare; rules.plain_content makes them text
    values: list[Measured] | None = Field(None, min_length=1, max_length=1000)
    conditions: Conditions | None = None
    instrument: Text | None = None
    sure: bool | None = None
    file: Text | None = None  # a recording the value was taken from, what it holds, and its lines
    sha256: Annotated[str, AfterValidator(_hash), _schema(pattern=HASH)] | None = None
    rows: Text | None = None


class CatchForm(Form):
    """One run of the flow test: fuel caught from each port in a time."""

    through: Annotated[str, AfterValidator(_one_of(THROUGH, "way to catch")), _schema(enum=list(THROUGH))]
    opening: Annotated[Text, AfterValidator(_opening)]
    duration: Measured | None = None
    durations: list[Measured] | None = Field(None, min_length=1, max_length=MOST_CYLINDERS)
    amounts: list[Amount] = Field(min_length=1, max_length=MOST_CYLINDERS)
    swaps: list[Annotated[Text, _schema(pattern=f"^{SWAP}$")]] | None = None
    containers: Annotated[Any, BeforeValidator(_containers), _schema(type="array")] = None
    tare: Annotated[Any, BeforeValidator(_tare), _schema(**_TEXTS)] = None
    instrument: Text | None = None
    temperature: Measured | None = None
    fuel: Text | None = None
    liquid: Text | None = None
    discard: bool | None = None
    valve_hum: Annotated[Any, BeforeValidator(_hum), _schema(type=["boolean", "string"])] = None
    conditions: Conditions | None = None


class MoveForm(Form):
    """A screw turned; clockwise is positive.

    ``approach`` is the side from which the last bit came, ``mark`` what the screw stands at after it.
    """

    part: Text
    turns: Measured
    cylinder: Cylinder | None = None
    approach: (
        Annotated[str, AfterValidator(_one_of(APPROACHES, "side")), _schema(enum=list(APPROACHES))] | None
    ) = None
    mark: Text | None = None


class DidForm(Form):
    """A part, screw or tool handled."""

    action: Annotated[str, AfterValidator(_one_of(ACTIONS, "action")), _schema(enum=list(ACTIONS))]
    part: Text
    cylinder: Cylinder | None = None


class StepForm(Form):
    """A step done, or passed over, that leaves no reading."""

    id: Text
    done: bool
    reason: Text | None = None
    cylinder: Cylinder | None = None


class HappenedForm(Form):
    """Something nobody decided, which yet ages proofs."""

    what: Text
    cylinder: Cylinder | None = None


class CautionForm(Form):
    """A caution read."""

    id: Text


class OverrideForm(Form):
    """A claim or a put-back item passed over by name and reason."""

    claim: Text | None = None
    item: Text | None = None
    cylinder: Cylinder | None = None
    who: Text  # an override without a name would be nobody's
    reason: Text


class NoteForm(Form):
    """Words or a photo for the record; ``about`` is the id of the entry they belong to, ``step`` a step's."""

    text: Text | None = None
    cylinder: Cylinder | None = None
    about: Text | None = None
    step: Text | None = None


class ClosedForm(Form):
    """The job closed, with the cause that was found, if one was; ``also``: further ones, like
    ``spark_missing[2]``."""

    cause: Text | None = None
    cylinder: Cylinder | None = None
    also: list[Text] | None = None
    confirmed: bool | None = None
    reason: Text | None = None


class CorrectionForm(Form):
    """What an earlier entry should have said (the whole of it), or that it should not stand."""

    of: Text
    reason: Text
    withdrawn: bool | None = None
    new: dict[str, Any] | None = None


FORMS: Final[Mapping[str, type[Form]]] = {
    "engine": EngineForm,
    "conditions": ConditionsForm,
    "instrument": InstrumentForm,
    "reading": ReadingForm,
    "catch": CatchForm,
    "move": MoveForm,
    "did": DidForm,
    "step": StepForm,
    "happened": HappenedForm,
    "caution": CautionForm,
    "override": OverrideForm,
    "note": NoteForm,
    "closed": ClosedForm,
    "correction": CorrectionForm,
}
KINDS: Final = tuple(FORMS)
SINGLE: Final = frozenset({"engine", "conditions"})  # stand once in a job, as [engine] and [conditions]
OWN_ID: Final = frozenset({"instrument", "step", "caution"})  # `id` names the thing; the entry's is `entry`
TIMELESS: Final = frozenset({"engine", "conditions", "instrument", "note", "correction"})
IN_TIME: Final = frozenset(KINDS) - TIMELESS  # these need `at` beside a move or a did


def field_names(kind: str) -> tuple[str, ...]:
    """The names a form has, as typed in a file: its own, then those of any entry."""
    own = {name: field.alias or name for name, field in FORMS[kind].model_fields.items()}
    return (*(typed for name, typed in own.items() if name not in Form.model_fields), *Form.model_fields)


def form_names(kind: str) -> tuple[str, ...]:
    """As :func:`field_names`, with the names of the entry itself: its id, its times."""
    own = "entry" if kind in OWN_ID else "id"
    return tuple(dict.fromkeys((*field_names(kind), own, "at", "entered")))
