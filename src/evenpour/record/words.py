"""How the record words times, verdicts, cylinders and states. Nothing is worked out here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from evenpour.job.answers import JudgedReading
from evenpour.job.wording import likelihood

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
VERDICTS: Mapping[str, str] = {"within": "within", "outside": "outside", "cannot_tell": "cannot tell"}
STATES: Mapping[str, str] = {
    "passed_over": "passed over",
    "over": "no longer so",
    "stale": "prove again",
}
THROUGH: Mapping[str, str] = {"lines": "bare lines", "injectors": "injectors"}


def when(at: str | None) -> str:
    """``3 May 2026, 10:12``; a text that is no ISO time stays as it is."""
    moment = moment_of(at)
    if moment is None:
        return at or "time not noted"
    return f"{day(at)}, {moment:%H:%M}"


def span(times: Sequence[str]) -> str:
    """``9 May 2026, 16:51 to 16:56``."""
    first, last = when(times[0]), when(times[-1])
    if first == last:
        return first
    return f"{first} to {last.rpartition(', ')[2] if day(times[0]) == day(times[-1]) else last}"


def day(at: str | None) -> str:
    """``3 May 2026``."""
    moment = moment_of(at)
    return (
        (at or "day not noted")
        if moment is None
        else f"{moment.day} {MONTHS[moment.month - 1]} {moment.year}"
    )


def moment_of(at: str | None) -> datetime | None:
    """The moment of an ISO time; ``None`` for no time, or a time said in words."""
    if not at:
        return None
    try:
        return datetime.fromisoformat(at)
    except ValueError:
        return None


def sureness(verdict: str, p: float | None) -> str:
    """How sure a verdict is: ``99 % sure``, ``63 % that it is within``; nothing without a probability."""
    if p is None:
        return ""
    if verdict == "cannot_tell":
        return f"{likelihood(p)} that it is within"
    return f"{likelihood(p if verdict == 'within' else 1.0 - p)} sure"


def named(reading: JudgedReading) -> str:
    """``Injector opening pressure, cylinder 4``."""
    return reading.title if reading.cylinder is None else f"{reading.title}, cylinder {reading.cylinder}"


def state(word: str) -> str:
    """A state as it is printed."""
    return STATES.get(word, word.replace("_", " "))


def opening(word: str) -> str:
    """``idle opening``, or ``12 mm opening``."""
    return f"{word.replace('_', ' ')} opening"


def run_kind(key: str) -> str:
    """``bare lines, idle opening`` from ``lines:idle``."""
    through, _, open_at = key.partition(":")
    return f"{THROUGH.get(through, through)}, {opening(open_at)}"


def listed(words: Sequence[str]) -> str:
    """``a, b and c``."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1]))) if words else ""


def cylinders(numbers: Iterable[int | None]) -> str:
    """``cylinder 4``, ``cylinders 1 to 3 and 5``; nothing for no cylinder."""
    known = sorted({number for number in numbers if number is not None})
    runs: list[list[int]] = []
    for number in known:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run) for run in runs)
    said = listed([words for some in told for words in some])
    return f"cylinder{'s' if len(known) > 1 else ''} {said}" if known else ""


def counted(number: int, one: str, many: str | None = None) -> str:
    """``1 stage``, ``3 stages``, ``no stages``."""
    plural = many or f"{one}s"
    return f"no {plural}" if number == 0 else f"{number} {one if number == 1 else plural}"


def sentence(text: str) -> str:
    """With a capital and a full stop."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text.endswith((".", "?", "!", "”")) else ".")


def direction(turns: float) -> str:
    """Which way a screw was turned."""
    return "clockwise" if turns > 0 else "anticlockwise" if turns < 0 else ""


def spread_words(spread: float, u: float | None) -> str:
    """``3.7 ± 2.4 %``."""
    return f"{100.0 * spread:.1f} ± {200.0 * u:.1f} %" if u else f"{100.0 * spread:.1f} %"
