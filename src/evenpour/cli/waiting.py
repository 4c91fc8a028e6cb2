"""One line on the terminal while something takes its time: what is being done, and for how long already."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

FIRST = 0.4  # s, before which nothing is worth a line
EVERY = 0.5  # s, between two looks at the clock


@contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """Gives what takes the words of the step at hand; on standard error, where that is a terminal."""
    stream = sys.stderr
    if not stream.isatty():
        yield lambda _: None
        return
    began, doing, done = time.monotonic(), [""], threading.Event()

    def run() -> None:
        pause = FIRST
        while not done.wait(pause):
            pause = EVERY
            if doing[0]:
                stream.write(f"\r\033[K{doing[0]}, {time.monotonic() - began:.0f} s")
                stream.flush()

    def say(words: str) -> None:
        doing[0] = words[:1].upper() + words[1:]

    writer = threading.Thread(target=run, daemon=True)
    writer.start()
    try:
        yield say
    finally:
        done.set()
        writer.join()
        stream.write("\r\033[K")
        stream.flush()
