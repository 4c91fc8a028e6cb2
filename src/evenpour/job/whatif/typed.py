"""What the form of the what-if bench says, as it would be typed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from evenpour.job.whatif.answers import OfferedSetting
from evenpour.job.whatif.bench import SLOTS, USUAL_SEVERITY, settings_of
from evenpour.job.whatif.parts import bench_data


def settings_typed(form: Mapping[str, str], sheet: str, *, units: str | None = None) -> list[str]:
    """What a form of the bench says, as it would be typed.

    Fields: of a slider its name, in the unit shown, and ``rest.NAME``, where it stood with nothing set; the
    same of a choice;
    ``fault.1``, ``cylinder.1``, ``severity.1`` and so on; ``other.1`` and so on, as typed before.
    """
    offered = settings_of(sheet, units)
    return [
        *_slid(form, offered),
        *_chosen_words(form, offered),
        *_faulty(form, offered),
        *(text for name, text in form.items() if name.startswith("other.") and text.strip()),
    ]


def _slid(form: Mapping[str, str], offered: Mapping[str, OfferedSetting]) -> Iterator[str]:
    for one in bench_data().sliders:
        text = form.get(one.name, "").strip()
        if text and one.name in offered and not _alike(text, form.get(f"rest.{one.name}", "")):
            yield f"{one.name}={text} {offered[one.name].unit or ''}".rstrip()


def _chosen_words(form: Mapping[str, str], offered: Mapping[str, OfferedSetting]) -> Iterator[str]:
    for name in bench_data().choices:
        word = form.get(name, "")
        if word and name in offered and word != form.get(f"rest.{name}", ""):
            yield f"{name}={word}"


def _alike(text: str, other: str) -> bool:
    """Whether two numbers as typed are the same."""
    try:
        return abs(float(text.replace(",", ".").replace("−", "-")) - float(other)) < 1e-9
    except ValueError:
        return text == other


def _faulty(form: Mapping[str, str], offered: Mapping[str, OfferedSetting]) -> Iterator[str]:
    for slot in range(1, SLOTS + 1):
        signed = form.get(f"fault.{slot}", "").strip()
        if not signed:
            continue
        name = signed.removeprefix("-")
        cylinder = form.get(f"cylinder.{slot}", "").strip() or "1"
        where = f"[{cylinder}]" if name in offered and offered[name].cylinders else ""
        severity = form.get(f"severity.{slot}", "").strip() or str(USUAL_SEVERITY)
        yield f"{name}{where}={'-' if signed.startswith('-') else ''}{severity}"
