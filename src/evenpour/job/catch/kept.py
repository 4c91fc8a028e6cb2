"""What catches say of evenness, kept on disk where a shop is open: a job that nobody opened lately is at hand
without its catches being weighed again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from evenpour.job.kept_files import found_file, keep_file, model_stamp
from evenpour.measure.evenness import Evenness

FORM = 1  # of what is kept; another form is another name
MOST = 2000  # on disk, of some 5 kB each; the longest unasked go first

_on_disk: ContextVar[bool] = ContextVar("on_disk", default=False)


class _Kept(BaseModel):
    """As it stands in the file; no figure is rounded."""

    model_config = ConfigDict(frozen=True, extra="forbid", ser_json_inf_nan="constants")

    evenness: Evenness


@contextmanager
def kept_on_disk() -> Iterator[None]:
    """Within, what is weighed is looked for among what was kept, and kept."""
    before = _on_disk.set(True)
    try:
        yield
    finally:
        _on_disk.reset(before)


def kept_or_weighed(weigh: Callable[[], Evenness], *weighed: Any) -> Evenness:
    """What *weigh* answers, or answered before.

    Args:
        weigh: Works it out.
        weighed: All that the answer depends on besides the code and the data; each writes itself out whole.
    """
    if not _on_disk.get():
        return weigh()
    key = hashlib.sha256(repr((FORM, model_stamp(), weighed)).encode()).hexdigest()
    content = found_file("evenness", key)
    if content is not None:
        try:
            return _Kept.model_validate_json(content).evenness
        except ValidationError:
            pass  # spoilt: it is worked out anew and written over
    answer = weigh()
    keep_file("evenness", key, _Kept(evenness=answer).model_dump_json().encode(), MOST)
    return answer
