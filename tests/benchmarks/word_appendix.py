"""A raw-data appendix in Word beside cells filled one by one, in one run. Prints ratios; exit 1 when one is missed.

Run: python tests/benchmarks/word_appendix.py (on Linux: memory is read from /proc)
Goals: 10,000 rows of 8 columns at least 15 times faster than filling `row.cells`, at most 80 MB on top of what the
program held before, and 10,000 rows at most 6 times as long as 2,000.
"""

from __future__ import annotations

import dataclasses
import io
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(REPOSITORY))

from reportgen.compose.records import DataTable, Document  # noqa: E402
from reportgen.render.word import word_bytes  # noqa: E402
from tests.render.sample_document import raw_data, sample_document  # noqa: E402

MOST_EXTRA_MB, LEAST_SPEED, MOST_GROWTH = 80.0, 15.0, 6.0


def appendix(table: DataTable) -> Document:
    return dataclasses.replace(sample_document(), blocks=(table,), bound=())


def filled_by_cells(table: DataTable) -> bytes:
    """The plain way with python-docx: cells of one row at a time (cell by cell is slower still)."""
    import docx

    document = docx.Document()
    drawn = document.add_table(rows=len(table.rows), cols=len(table.columns))
    for line, row in zip(drawn.rows, table.rows, strict=True):
        for cell, text in zip(line.cells, row, strict=True):
            cell.text = text
    buffer = io.BytesIO()
    document.save(buffer)
    return buffer.getvalue()


def seconds(work: Callable[[], object], *, times: int) -> float:
    """The best of several runs: the one that the rest of the machine disturbed least."""
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def extra_mb(rows: int) -> float:
    """Peak memory of drawing on top of the data, in a process of its own."""
    ran = subprocess.run(
        [sys.executable, __file__, "--memory", str(rows)], cwd=REPOSITORY, capture_output=True, text=True, check=True
    )
    return float(ran.stdout)


def print_memory(rows: int) -> None:
    word_bytes(appendix(raw_data(10)), house=None)  # what is imported once is not counted
    document = appendix(raw_data(rows))
    # The kernel's own peak, reset first: getrusage would tell the peak of the parent where that was higher.
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    before = memory_kb("VmRSS")
    word_bytes(document, house=None)
    print((memory_kb("VmHWM") - before) / 1024)


def memory_kb(name: str) -> int:
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(f"{name}:"))


def main() -> int:
    small, large = raw_data(2_000), raw_data(10_000)
    ours_small = seconds(lambda: word_bytes(appendix(small), house=None), times=5)
    ours = seconds(lambda: word_bytes(appendix(large), house=None), times=5)
    by_cells = seconds(lambda: filled_by_cells(large), times=1)
    extra = extra_mb(10_000)
    speed, growth = by_cells / ours, ours / ours_small
    print(f"seconds: {ours:.3f} ours, {by_cells:.3f} by cells")
    print(f"faster than row.cells:      {speed:6.1f} x   (goal: at least {LEAST_SPEED:g})")
    print(f"10,000 against 2,000 rows:  {growth:6.1f} x   (goal: at most {MOST_GROWTH:g})")
    print(f"extra memory:               {extra:6.1f} MB  (goal: at most {MOST_EXTRA_MB:g})")
    return int(speed < LEAST_SPEED or growth > MOST_GROWTH or extra > MOST_EXTRA_MB)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--memory"]:
        print_memory(int(sys.argv[2]))
    else:
        sys.exit(main())
