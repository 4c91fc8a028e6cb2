"""The answer about a job's causes, kept on disk for the state it was worked out from.

Asking again is instant; whatever the answer depends on is part of its key, so nothing has to be thrown away
when something changes: the journal, the sheet, the units, what is believed before any reading, what repairs
cost, and the model and the data themselves. A file that cannot be read is worked out anew.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.causes.experience import prior_now
from evenpour.job.causes.prior import Prior
from evenpour.job.causes.repair_costs import Costs, costs
from evenpour.job.hashes import canonical
from evenpour.job.kept_files import found_file, keep_file, model_stamp

if TYPE_CHECKING:
    from evenpour.job.causes.case import Case
    from evenpour.job.job import Job
    from evenpour.job.store import Store

#: What is being done now, told while an answer is worked out.
Tell = Callable[[str], None]
#: Takes the explained job that an answer is told from.
Hold = Callable[["Case"], None]

FORM = 1  # of the kept answers; another form is another key
MOST = 300  # answers on disk, of some 50 kB each; the longest unasked go first
AT_HAND = 32  # answers in memory

_lock = threading.Lock()
_at_hand: OrderedDict[str, CausesAnswer] = OrderedDict()
_at_work: dict[str, threading.Lock] = {}


def kept_answer(
    job: Job, *, store: Store | None = None, tell: Tell | None = None, hold: Hold | None = None
) -> CausesAnswer:
    """What may be wrong with the car: as kept, or worked out now and kept.

    May be called from many threads: who asks for what another is working out waits for it.

    Args:
        job: As its journal stands.
        store: Where the own closed jobs lie that move the prior; the workshop's store if not given.
        tell: Called with what is being done, in words, each time it is something else; not called where the
            answer was kept.
        hold: Given the explained job, as soon as it is there; not called where the answer was kept.
    Raises:
        Problems: the workshop's own costs or counts cannot be read.
    """
    prior, own_costs = prior_now(job, store=store), costs()
    key = key_of(job, prior, own_costs)
    found = _kept(key)
    if found is not None:
        return found
    with _lock:
        mine = _at_work.setdefault(key, threading.Lock())
    try:
        with mine:
            return _kept(key) or _made(key, job, prior, own_costs, tell, hold)
    finally:
        with _lock:
            _at_work.pop(key, None)


def answer_at_hand(job: Job, *, store: Store | None = None) -> CausesAnswer | None:
    """The kept answer, or None where it would have to be worked out first."""
    return _kept(key_now(job, store=store))


def key_now(job: Job, *, store: Store | None = None) -> str:
    """What the answer to the job depends on as things stand now, as one word.

    Whoever keeps an answer elsewhere keeps it under this too: the journal alone does not say whether it
    still holds, since another closed job moves what is believed before any reading.

    Raises:
        Problems: the workshop's own costs or counts cannot be read.
    """
    return key_of(job, prior_now(job, store=store), costs())


def key_of(job: Job, prior: Prior, own_costs: Costs) -> str:
    """What the answer depends on, as one word."""
    said = [
        FORM,
        model_stamp(),
        job.chain_head,
        job.units,
        own_costs.plain(),
        _plain(prior),
        _plain(job.sheet),
    ]
    return hashlib.sha256(canonical(said).encode()).hexdigest()


def _plain(value: Any) -> Any:
    """A value as plain ones in an order that is the same in every process."""
    if value is None or isinstance(value, str | int):  # most are
        return value
    if is_dataclass(value):
        return {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, Mapping):
        return [[_plain(name), _plain(one)] for name, one in value.items()]
    if isinstance(value, set | frozenset):
        return sorted(map(str, value))
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return repr(value)


def _made(
    key: str, job: Job, prior: Prior, own_costs: Costs, tell: Tell | None, hold: Hold | None
) -> CausesAnswer:
    from evenpour.job.causes.answer import causes_answer  # the engine's model: only where it is needed

    answer = causes_answer(job, prior, own_costs, tell=tell, hold=hold)
    _remember(key, answer)
    keep_file("causes", key, answer.model_dump_json(by_alias=True).encode(), MOST)
    return answer


def _kept(key: str) -> CausesAnswer | None:
    with _lock:
        if key in _at_hand:
            _at_hand.move_to_end(key)
            return _at_hand[key]
    content = found_file("causes", key)
    if content is None:
        return None
    try:
        answer = CausesAnswer.model_validate_json(content)
    except (ValidationError, ValueError):
        return None  # spoilt: it is worked out anew and written over
    _remember(key, answer)
    return answer


def _remember(key: str, answer: CausesAnswer) -> None:
    with _lock:
        _at_hand[key] = answer
        _at_hand.move_to_end(key)
        while len(_at_hand) > AT_HAND:
            _at_hand.popitem(last=False)
