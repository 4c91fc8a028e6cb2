"""The one form a correction is kept in, however it was written.

By hand it may name the new content as ``new = { ... }`` or as fields of its own beside ``of`` and ``reason``:

    [[correction]]
    of = "reading-3"
    reason = "read from the wrong scale"
    what = "system_pressure"
    value = "4.9 bar"
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from typing import Any, Final

from evenpour.errors import FieldProblem
from evenpour.job import times
from evenpour.job.entries import Draft, Entry
from evenpour.job.forms import OWN_ID
from evenpour.job.known import Known
from evenpour.job.rules import plain_content

_OF_CORRECTION: Final = ("of", "reason", "withdrawn", "new")
_OF_ANY: Final = frozenset({"who", "note", "photo"})


def is_flat(content: Mapping[str, Any], mended: Draft | Entry | None) -> bool:
    """Whether the new content stands as fields of the correction itself."""
    if content.get("new") is not None or content.get("withdrawn") is True:
        return False
    more = set(content) - set(_OF_CORRECTION)
    return bool(more - _OF_ANY) or (mended is not None and mended.kind == "note" and bool(more))


def plain_correction(content: Mapping[str, Any], known: Known) -> dict[str, Any]:
    """The content of a correction as it is kept: ``of``, ``reason``, and ``new`` or ``withdrawn``.

    In the flat form ``who`` is both who corrects and who the new content names; ``note`` and ``photo`` belong
    to the new content. Faults are left for ``known.faults`` to name.
    """
    of = content.get("of")
    of = known.meant(of) if isinstance(of, str) else of
    mended = known.get(of) if isinstance(of, str) else None
    if is_flat(content, mended):
        kept = {name: content[name] for name in ("of", "reason", "who") if name in content}
        kept["new"] = _new_from_flat(content, mended, known)
    else:
        kept = dict(content)
    if of is not None:
        kept["of"] = of
    if kept.get("withdrawn") is False and "new" in kept:
        del kept["withdrawn"]
    if isinstance(kept.get("new"), Mapping):
        kept["new"] = _plain_new(kept["new"], mended, known)
    return kept


def _new_from_flat(content: Mapping[str, Any], mended: Draft | Entry | None, known: Known) -> dict[str, Any]:
    new = {name: value for name, value in content.items() if name not in _OF_CORRECTION}
    return _wrapped(new, content.get("reason"), mended, known)


def _wrapped(
    new: dict[str, Any], reason: object, mended: Draft | Entry | None, known: Known
) -> dict[str, Any]:
    if mended is None:
        return new
    if mended.kind == "correction":  # what the corrected correction should have said of its own entry
        of = mended.content.get("of")
        inner = known.get(of) if isinstance(of, str) else None
        return {"of": of, "reason": reason, "new": _wrapped(new, reason, inner, known)}
    if mended.kind in OWN_ID and "id" not in new:
        new = {"id": mended.content.get("id"), **new}
    if mended.kind == "override" or (mended.kind == "step" and new.get("done") is False):
        new.setdefault("reason", reason)
    return new


def _plain_new(new: Mapping[str, Any], mended: Draft | Entry | None, known: Known) -> dict[str, Any]:
    kind = mended.kind if mended is not None else ""
    kept = plain_content(kind, new)
    if "at" in kept:
        with contextlib.suppress(FieldProblem):  # left as typed then: known.faults names it, with its place
            kept["at"] = times.read_time(kept["at"])
    if kind not in OWN_ID and mended is not None and kept.get("id") == mended.id:
        del kept["id"]  # the whole entry was copied; its id stays anyway
    return plain_correction(kept, known) if kind == "correction" else kept
