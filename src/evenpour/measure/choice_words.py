"""A choice as it is said: its id in words, or the trade's phrase where that is another."""

from __future__ import annotations

SAID = {"fires_dies": "fires and dies"}
COMPOUND = {"cold_start": "cold-start"}  # keeps its hyphen inside a longer word


def choice_words(choice: str) -> str:
    """``no_fire`` is ``no fire``; ``fires_dies`` is ``fires and dies``."""
    for its, said in COMPOUND.items():
        choice = choice.replace(its, said)
    return SAID.get(choice, choice.replace("_", " "))
