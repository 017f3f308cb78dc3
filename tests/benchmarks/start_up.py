"""How soon the program answers `--help`, as ratios in one run: python tests/benchmarks/start_up.py

Baselines: a process that imports every library and module of the program, and one that does nothing.
Goals: at most 1/10 of the first, at most 8 times the second.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

EVERYTHING = (
    "import numpy, scipy.stats, pandas, pyarrow, pydantic, ruamel.yaml, openpyxl, xlsxwriter, docx, matplotlib.figure,"
    " matplotlib.backends.backend_agg, jinja2, markdown_it, rich, typer, joblib, python_calamine;"
    " import reportgen.workflow, reportgen.compose.package, reportgen.render.deliver, reportgen.cli.main"
)
CASES = {
    "nothing": ["-c", "pass"],
    "--help": ["-c", "import sys; sys.argv = ['reportgen', '--help']; from reportgen.cli.main import run; run()"],
    "everything imported": ["-c", EVERYTHING],
}
ROUNDS = 9


def seconds(arguments: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def main() -> None:
    for arguments in CASES.values():
        seconds(arguments)  # byte code is compiled once
    taken = {name: [] for name in CASES}
    for _ in range(ROUNDS):
        for name, arguments in CASES.items():
            taken[name].append(seconds(arguments))
    median = {name: statistics.median(values) for name, values in taken.items()}
    print(f"--help / nothing:             {median['--help'] / median['nothing']:.1f} (goal: at most 8)")
    print(f"everything imported / --help: {median['everything imported'] / median['--help']:.1f} (goal: at least 10)")


if __name__ == "__main__":
    main()
