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
    return SimpleNamespace(
        told=tuple(map(_told, range(rows))), explanation=SimpleNamespace(seen=seen, noise=noise), job=None
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
