"""The search for the first drop beside the parsing of the same trace, a plain loop and a bare running maximum.

Run: python tests/benchmarks/trace_reduction_search.py
Quote the ratios; times depend on the machine and on what else it does. Not a test: nothing here can fail a build.
"""

from __future__ import annotations

import io
import timeit
from collections.abc import Callable

import numpy as np
import pyarrow.csv

from reportgen.stats import first_drop

POINTS = 5_000


def trace() -> tuple[np.ndarray, np.ndarray]:
    """A pull with noise that lets go at 12 mm of 25 and rises higher afterwards."""
    displacement = np.linspace(0.0, 25.0, POINTS)
    force = np.where(displacement < 12, displacement, displacement * 0.8)
    return displacement, force + np.random.default_rng(7).normal(0.0, 0.02, POINTS)


def loop(displacement: list[float], force: list[float]) -> tuple[float, float]:
    highest, at = force[0], 0
    for position, value in enumerate(force):
        if value > highest:
            highest, at = value, position
        elif highest - value >= 0.5 and highest - value >= 0.1 * highest:
            break
    return highest, displacement[at]


def shortest(call: Callable[[], object], *, number: int) -> float:
    """Microseconds of the fastest of seven rounds: the others were disturbed."""
    return min(timeit.repeat(call, number=number, repeat=7)) / number * 1e6


def main() -> None:
    displacement, force = trace()
    text = io.StringIO()
    np.savetxt(text, np.column_stack((displacement, force)), fmt="%.5f", delimiter=",", header="mm,N", comments="")
    data = text.getvalue().encode()
    plain = displacement.tolist(), force.tolist()

    def search(window: tuple[float, float] | None) -> object:
        return first_drop(displacement, force, absolute_drop_n=0.5, relative_drop=0.1, window_mm=window)

    bare = shortest(lambda: np.maximum.accumulate(force), number=500)
    parsing = shortest(lambda: pyarrow.csv.read_csv(io.BytesIO(data)), number=50)
    print(
        f"{POINTS} points, {len(data)} bytes; microseconds, then share of parsing and multiple of the running maximum"
    )
    for name, microseconds in [
        ("parse with pyarrow", parsing),
        ("running maximum alone", bare),
        ("first_drop, whole trace", shortest(lambda: search(None), number=500)),
        ("first_drop, window of 15 mm", shortest(lambda: search((0.0, 15.0)), number=500)),
        ("plain loop, stops at the drop", shortest(lambda: loop(*plain), number=50)),
    ]:
        print(f"{name:32}{microseconds:9.1f}{microseconds / parsing:9.1%}{microseconds / bare:9.1f} x")


if __name__ == "__main__":
    main()
