"""What several causes at once are worth beyond fewer of them.

Beside every hypothesis others may be wrong that the readings do not show: with nothing wrong, with a likely
cause, with two. Whatever is read, all have about the same of that, so it is counted for none: a cause stands
for itself, whether or not something lies beside it that shows nothing, and two at once for what they explain
together and neither does alone. Else the odds of a cause would hang on which of its hundreds of idle partners
were fitted.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenpour.causes.problem import Array
from evenpour.causes.tried import Tried

#: Of what fewer explain, the least that counts for the set: so far may the fit of one be off that explains no
#: more than fewer of it do.
LEAST = 0.1


def beyond_one(alone: Array, log_prior: Array, tried: Sequence[Tried], weight: Array) -> Array:
    """Log weight of every set of causes without what fewer of them explain while the rest is idle, (S, ...).

    Args:
        alone: Log weight of every hypothesis, (H, ...).
        log_prior: Of every hypothesis, (H,).
        tried: The sets.
        weight: Their log weight, (S, ...).
    """
    known: dict[tuple[int, ...], tuple[Array, float]] = {
        (h,): (its, float(prior)) for h, (its, prior) in enumerate(zip(alone, log_prior, strict=True))
    }
    known |= {one.which: (its, one.log_prior) for one, its in zip(tried, weight, strict=True)}
    found = np.array(weight)
    for n, one in enumerate(tried):
        fewer = [known[less] for less in one.fewer if less in known]
        if fewer:
            idle = np.maximum.reduce([its + (one.log_prior - prior) for its, prior in fewer])
            more = np.maximum(weight[n] - idle, np.log1p(LEAST))
            beyond = idle + more + np.log(-np.expm1(-more))  # log(set - idle), and LEAST of idle at least
            found[n] = np.minimum(beyond, weight[n])
    return found
