"""The command line has no library split small matrices among threads, unless somebody asks for it."""

from __future__ import annotations

import os

import pytest

from evenpour.cli import main


@pytest.mark.parametrize(("asked", "given"), [(None, "1"), ("2", "2")])
def test_small_matrices_are_left_to_our_own_threads(
    asked: str | None, given: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", asked or "")
    if asked is None:
        monkeypatch.delenv("OPENBLAS_NUM_THREADS")
    main(["--version"])
    assert os.environ["OPENBLAS_NUM_THREADS"] == given
