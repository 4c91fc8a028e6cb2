"""What comes along when a part is touched: what sits in it, but for what the action leaves as it was."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Along:
    """What comes along when a part is touched.

    Attributes:
        inside: Parts that sit in another, by that one.
        leaves: Those that an action on the other leaves as they were, by the action.
    """

    inside: Mapping[str, Sequence[str]]
    leaves: Mapping[str, Sequence[str]]

    def parts_of(self, part: str, action: str) -> frozenset[str]:
        """The touched part and those that come along with it."""
        return frozenset((part, *self.inside.get(part, ()))) - frozenset(self.leaves.get(action, ())) | {part}
