"""What the page of causes says would read otherwise: only what somebody would see."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from evenpour.job.causes import words


def _told(number: int) -> Any:
    """A reading by its number, taken with the screw where it is now."""
    query = SimpleNamespace(situation=SimpleNamespace(screw=0.0))
    return SimpleNamespace(number=number, caught=None, observation=SimpleNamespace(query=query))


def _case(rows: int) -> Any:
    """Checks that the model puts far apart with and without the cause."""
    columns = SimpleNamespace(
        column=np.arange(rows), check=np.arange(rows), is_choice=np.zeros(rows, dtype=bool), y=np.zeros(rows)
    )
    seen = SimpleNamespace(columns=columns)
    noise = SimpleNamespace(per_sd=np.full(rows, 10.0))
    parts = (SimpleNamespace(told=SimpleNamespace(seen=seen)),)
    return SimpleNamespace(
        told=tuple(map(_told, range(rows))),
        explanation=SimpleNamespace(seen=seen, noise=noise),
        weighed=SimpleNamespace(parts=parts),
        slips=(),
        job=None,
    )


def test_what_would_read_the_same_in_words_is_no_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    foreseen, read = {0: "tight", 1: "about 5.0 bar"}, {0: "tight", 1: "4.2 bar"}
    monkeypatch.setattr(words, "foreseen_words", lambda job, told, value: foreseen[told.number])
    monkeypatch.setattr(words, "_read", lambda job, told: read[told.number])
    monkeypatch.setattr(
        words, "_named_whole", lambda job, told: ("Intake under smoke", "System pressure")[told.number]
    )
    told = words.mended_words(_case(2), np.array([1.0, 4.2]), np.array([0.0, 5.0]))
    assert told == ["System pressure: about 5.0 bar instead of 4.2 bar"]


def test_what_was_meant_otherwise_than_it_was_written_is_not_told_as_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(words, "foreseen_words", lambda job, told, value: "1.55 %")
    monkeypatch.setattr(words, "_read", lambda job, told: "0.3 %")
    monkeypatch.setattr(words, "_named_whole", lambda job, told: "CO")
    case = _case(1)
    assert words.mended_words(case, np.array([0.3]), np.array([1.55])) == ["CO: 1.55 % instead of 0.3 %"]
    case.slips = (SimpleNamespace(rows=np.array([0])),)
    assert words.mended_words(case, np.array([0.3]), np.array([1.55])) == []
