"""Reducing 1,000 records of 5,000 points against merely parsing them, and against the csv module with a loop.

Run: python tests/benchmarks/trace_reading.py [number of records]. Prints ratios of one run, and fails when a goal is
missed: on both cores, as the product works, at most 1.3 times bare parsing with pyarrow, at least 4 times faster than
csv module and loop; the search for the drop at most a tenth of parsing.
"""

from __future__ import annotations

import csv
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as arrow_csv

from reportgen.both_cores import shared_out
from reportgen.lab.grid import FileBytes, Shelf
from reportgen.lab.records import ReducedTrace
from reportgen.lab.reduce import reduced
from reportgen.lab.rule import Settings
from reportgen.lab.traces import TraceReading, read_traces
from reportgen.problems import Place
from reportgen.project.records import TraceFiles
from reportgen.stats import first_drop

POINTS = 5_000
HEADER = b"Specimen;P-1\r\nRate;254,0;mm/min\r\n\r\nTime;Extension;Load\r\n(s);(mm);(N)\r\n"
SETTINGS = Settings(
    rule="first_drop",
    absolute_drop_n=0.5,
    relative_drop=0.1,
    window_mm=None,
    baseline_span_mm=None,
    baseline_n=0.0,
    toe_force_n=None,
    smoothing_points=1,
    minimum_travel_mm=None,
    sensitivity=0.05,
    rate_mm_per_min=254.0,
    rate_tolerance=12.7,
)


def write_records(folder: Path, count: int) -> list[Path]:
    rng = np.random.default_rng(20260302)
    time_s = np.arange(POINTS) * 0.002
    travel = time_s * 254.0 / 60.0
    paths = []
    for number in range(count):
        force = np.where(travel < 12.0, travel * 1.5, travel * 0.9) + rng.normal(0.0, 0.02, POINTS)
        columns = zip(time_s, travel, force, strict=True)
        body = "".join(f"{t:.5f};{d:.5f};{f:.5f}\r\n".replace(".", ",") for t, d, f in columns)
        path = folder / f"record_{number:04d}.csv"
        path.write_bytes(HEADER + body.encode("ascii"))
        paths.append(path)
    return paths


def bare_parsing(paths: list[Path]) -> None:
    for path in paths:
        arrow_csv.read_csv(
            pa.BufferReader(path.read_bytes()),
            read_options=arrow_csv.ReadOptions(skip_rows=5, column_names=["t", "d", "f"], use_threads=False),
            parse_options=arrow_csv.ParseOptions(delimiter=";"),
            convert_options=arrow_csv.ConvertOptions(
                column_types={"t": pa.float64(), "d": pa.float64(), "f": pa.float64()}, decimal_point=","
            ),
        )


def csv_and_loop(paths: list[Path]) -> None:
    for path in paths:
        with path.open(encoding="latin-1", newline="") as file:
            rows = csv.reader(file, delimiter=";")
            for _ in range(5):
                next(rows)
            highest, dropped = 0.0, False
            for row in rows:
                float(row[0].replace(",", ".")), float(row[1].replace(",", "."))
                force = float(row[2].replace(",", "."))
                if not dropped:
                    highest = max(highest, force)
                    dropped = highest - force >= max(0.5, 0.1 * highest)


def ours(paths: list[Path], *, rule_only: bool = False) -> list[ReducedTrace]:
    """As the product does it, eight files at a time: fingerprint, reading, the rule, and all checks of a record."""
    declared = TraceFiles(files="{specimen}", design_input="DI")
    shelf = Shelf(str(paths[0].parent))
    pulls = []
    for begin in range(0, len(paths), 8):
        sources = [shelf.read(path.name, named_at=Place("benchmark")) for path in paths[begin : begin + 8]]
        for reading in read_traces([source for source in sources if isinstance(source, FileBytes)], declared):
            assert isinstance(reading, TraceReading), reading
            record = reading.records[0]
            if rule_only:
                first_drop(
                    record.displacement_mm, record.force_n, absolute_drop_n=0.5, relative_drop=0.1, window_mm=None
                )
                continue
            pull = reduced(
                record, SETTINGS, protocol="VP", specimen="P", sha256="", capacity_n=100.0, resolution_n=0.01
            )
            assert isinstance(pull, ReducedTrace), pull
            pulls.append(pull)
    return pulls


def search_alone(count: int) -> None:
    travel = np.arange(POINTS) * 0.002 * 254.0 / 60.0
    force = np.where(travel < 12.0, travel * 1.5, travel * 0.9)
    for _ in range(count):
        first_drop(travel, force, absolute_drop_n=0.5, relative_drop=0.1, window_mm=None)


def seconds(
    *works: Callable[[], object], repeats: int = 5, clock: Callable[[], float] = time.process_time
) -> list[float]:
    """The best of each, taken in turns, as the machine is now faster and now slower.

    Processor time, unless said otherwise: other work on the machine lengthens it less than time on the clock.
    """
    best = [float("inf")] * len(works)
    for _ in range(repeats):
        for position, work in enumerate(works):
            start = clock()
            work()
            best[position] = min(best[position], clock() - start)
    return best


def on_both_cores(paths: list[Path]) -> None:
    """As the product shares the work out: a few files at a time to two processes, and the answers sent back."""
    batches = [paths[begin : begin + 8] for begin in range(0, len(paths), 8)]
    assert len([pull for answers in shared_out(ours, batches) for pull in answers]) == len(paths)


def main(count: int) -> int:
    with tempfile.TemporaryDirectory() as folder:
        paths = write_records(Path(folder), count)
        ours(paths[:3])
        parsing, reducing, by_rule = seconds(
            lambda: bare_parsing(paths), lambda: ours(paths), lambda: ours(paths, rule_only=True)
        )
        alone, shared = seconds(lambda: bare_parsing(paths), lambda: on_both_cores(paths), clock=time.perf_counter)
        few = max(count // 20, 1)
        (loop,) = seconds(lambda: csv_and_loop(paths[:few]), repeats=2, clock=time.perf_counter)
        loop *= count / few
        (search,) = seconds(lambda: search_alone(count))
        tracemalloc.start()
        for begin in range(0, count, 8):
            ours(paths[begin : begin + 8])
        peak = tracemalloc.get_traced_memory()[1] / 1e6
    goals = (
        ("reducing with all checks on both cores, by the clock / bare parsing", shared / alone, "at most", 1.3),
        ("csv module and loop / reducing on both cores", loop / shared, "at least", 4.0),
        ("search for the drop / parsing", search / parsing, "at most", 0.1),
    )
    print(f"of that, fingerprint, reading and first drop alone / bare parsing: {by_rule / parsing:.2f}")
    print(f"all of that and all checks, on one core / bare parsing: {reducing / parsing:.2f}")
    met = True
    for name, ratio, bound, goal in goals:
        good = ratio <= goal if bound == "at most" else ratio >= goal
        met = met and good
        print(f"{name}: {ratio:.2f} ({bound} {goal}){'' if good else '  MISSED'}")
    print(f"memory while reducing, one record after another: {peak:.1f} MB at most")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000))
