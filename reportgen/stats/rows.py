"""Many samples at once: those of one size form a matrix, whose rows are worked out together."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from reportgen.stats.arguments import FloatArray

_NUMBERS_AT_ONCE = 32_768  # their arrays then stay in the processor's cache


def in_rows(samples: Sequence[FloatArray], statistic: Callable[[FloatArray], FloatArray]) -> list[tuple[float, int]]:
    """What `statistic` makes of each sample, and the size of the sample, in the order given.

    Args:
        samples: settled, one-dimensional. statistic: takes shape (m, n), a sample in each row, and gives shape (m,).
            The numbers of one row must not depend on the others, so that one sample alone gets the same.
    """
    by_size: dict[int, list[int]] = {}
    for position, sample in enumerate(samples):
        by_size.setdefault(sample.size, []).append(position)
    found = [(0.0, 0)] * len(samples)
    for n, positions in by_size.items():
        step = max(_NUMBERS_AT_ONCE // n, 1)
        for start in range(0, len(positions), step):
            part = positions[start : start + step]
            values = statistic(np.stack([samples[position] for position in part])).tolist()
            for position, value in zip(part, values, strict=True):
                found[position] = (value, n)
    return found
