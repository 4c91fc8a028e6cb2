"""What shows that the engine ran, and whether it was last tried in vain: one rule for all that asks it."""

from __future__ import annotations

from collections.abc import Iterable

from evenpour.job.judging import Judged
from evenpour.machine.asking import RUNNING

START, DEAD = "start_outcome", "no_fire"  # how a start went, at which nothing fired
#: The restart after a hot soak, and what is said of one that succeeded.
HOT_START, STARTED = "hot_restart", ("long_crank", "starts")
PLUG = "plug_look"
IDLE_SPEED = "idle_speed"
#: What is read in the hand, whatever it tells of the running engine.
IN_THE_HAND = frozenset({PLUG})
#: What the engine is said to do where it turns by itself, and where it does not.
RUNS: frozenset[str | None] = frozenset({"idle", "running"})
_STANDS: frozenset[str | None] = frozenset({"off", "cranking", "stalled"})
_TIMED = frozenset({"timing_running", "advance"})


def shows_it_ran(read: Judged) -> bool:
    """Whether a reading was taken on the running engine, or is of a hot one that started again. How a start
    went is told by its own word.
    """
    check, reading = read.check.id, read.reading
    engine = reading.conditions["engine"].choice if "engine" in reading.conditions else None
    if check in IN_THE_HAND or check == START:
        return False
    if check == HOT_START:
        return reading.choice in STARTED
    if check == IDLE_SPEED and not any(reading.values):
        return False
    if "state" in reading.conditions or engine in RUNS:
        return True
    return engine not in _STANDS and check in RUNNING | _TIMED


def tried_in_vain(judged: Iterable[Judged], *, before: int | None = None) -> Judged | None:
    """The last start, if nothing fired at it and nothing shows that the engine ran since.

    Args:
        before: The place in the job as of which that is asked; None: now.
    """
    found = None
    for one in sorted(judged, key=lambda one: one.rank):
        if before is not None and one.rank >= before:
            break
        if one.check.id == START:
            found = one if one.reading.choice == DEAD else None
        elif shows_it_ran(one):
            found = None
    return found
