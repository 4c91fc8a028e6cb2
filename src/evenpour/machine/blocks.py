"""Work on many cars in blocks that fit the processor's cache, on two threads."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache

import numpy as np

BLOCK = 8000  # cars: fewer and Python's own time shows, more and their arrays leave the cache
THREADS = 2
KEPT = 31e6  # bytes; from 32 MB on the C library learns nothing

_here = threading.local()


def in_blocks(work: Callable[[slice], None], count: int, size: int = BLOCK) -> None:
    """Have *work* done on slices that cover *count* rows, each of at most *size*; both threads get as much.

    All who ask share two threads; who asks from one of them has it done there. What *work* raises is raised.
    """
    keep_memory()
    if count <= size // THREADS:
        work(slice(0, count))
        return
    parts = THREADS * -(-count // (THREADS * size))
    cuts = np.linspace(0, count, parts + 1).astype(int).tolist()
    slices = [slice(*ends) for ends in itertools.pairwise(cuts)]
    done = map(work, slices) if getattr(_here, "ours", False) else _pool().map(work, slices)
    for _ in done:
        pass


@cache
def keep_memory() -> None:
    """Have the C library keep the memory that one operation frees for the next.

    glibc gives back what lies free at the end of its heap beyond twice the largest piece it has mapped and
    seen freed, and the kernel clears every page anew when it is asked for again: up to half of the time that
    a block takes. A piece that nobody writes into raises that limit for good, and costs nothing.
    """
    np.empty(int(KEPT), dtype=np.uint8)


@cache
def _pool() -> ThreadPoolExecutor:
    def mark() -> None:
        _here.ours = True

    return ThreadPoolExecutor(THREADS, thread_name_prefix="cars", initializer=mark)
