"""Work on many cars in blocks that fit the processor's cache, on two threads."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np

BLOCK = 4000  # cars: fewer and Python's own time shows, more and their arrays leave the cache
THREADS = 2


def in_blocks(work: Callable[[slice], None], count: int, size: int = BLOCK) -> None:
    """Have *work* done on slices that cover *count* rows, each of at most *size*; both threads get as much.

    What *work* raises is raised here.
    """
    if count <= size // THREADS:
        work(slice(0, count))
        return
    parts = THREADS * -(-count // (THREADS * size))
    cuts = np.linspace(0, count, parts + 1).astype(int).tolist()
    with ThreadPoolExecutor(THREADS) as pool:
        for _ in pool.map(lambda ends: work(slice(*ends)), itertools.pairwise(cuts)):
            pass
