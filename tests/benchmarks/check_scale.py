"""`check` on a generated project against merely reading its files with pandas and a YAML parser.

Run: python tests/benchmarks/check_scale.py [share]. A share of 1 is 2,000 design inputs, 500 protocols and 100,000
specimens. Goals: at most 3 times the reading, and growth in proportion. Times are those on the wall, as `check` uses
both cores where there are two; the reading is that of one plain loop. Each is the middle one of five, taken in turn.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
from ruamel.yaml import YAML

from reportgen import workflow
from tests.good_project import good_files, write_files

INPUTS_EACH, SPECIMENS_EACH = 4, 200


def write_project(folder: Path, protocols: int) -> Path:
    files = good_files()
    method = files["methods/tm_01.yaml"].replace("destructive: true", "destructive: false")
    template = files["protocols/vp_01.yaml"]
    head = files["results/vp_01.csv"].splitlines()[0].split(",bond_strength")[0]
    made = {
        name: text
        for name, text in files.items()
        if not name.startswith(("protocols/", "results/", "methods/", "design_inputs", "requirements_map.yaml"))
    }
    made["methods/tm_01.yaml"] = method
    rows, links = (
        ["id,statement,characteristic,kind,unit,lower_limit,upper_limit,risk,user_need,limit_basis,limit_method"],
        [],
    )
    rng = np.random.default_rng(1)
    for number in range(protocols):
        name = f"VP-{number:04d}"
        inputs = [f"DI-{number:04d}-{at}" for at in range(INPUTS_EACH)]
        for id in inputs:
            rows.append(f"{id},It holds.,force_{id},variable,N,5,,R-1,UN-1,Simulated use,TM-01")
            links.append(f"  - {{design_input: {id}, protocol: {name}, clauses: ['corrie-bench:1'], section: Force}}")
        start, end = template.index("criteria:"), template.index("conditioning:")
        text = template[:start] + template[end:]
        text = text.replace("id: VP-01\n", f"id: {name}\n").replace(
            "verifies: [DI-001, DI-002]", f"verifies: [{', '.join(inputs)}]"
        )
        text = text.replace("n: 10}", f"n: {SPECIMENS_EACH // 2}}}").replace("results/vp_01.csv", f"results/{name}.csv")
        made[f"protocols/{name}.yaml"] = text.replace("number: TR-01", f"number: TR-{number:04d}")
        lines = [head + "".join(f",force_{id} [N]" for id in inputs)]
        values = rng.normal(20, 1.5, (SPECIMENS_EACH, INPUTS_EACH))
        for at in range(SPECIMENS_EACH):
            condition, day = ("fresh", "2026-03-02") if at < SPECIMENS_EACH // 2 else ("aged", "2026-03-18")
            cells = ",".join(f"{value:.3f}" for value in values[at])
            lines.append(f"{number}-{at:04d},L-0101,{condition},{day},M. Invented,EQ-01,B,bond,no,,,{cells}")
        made[f"results/{name}.csv"] = "\n".join(lines) + "\n"
    made["design_inputs.csv"] = "\n".join(rows) + "\n"
    made["requirements_map.yaml"] = "maps: [corrie-bench]\nlinks:\n" + "\n".join(links) + "\n"
    return write_files(folder, made)


def reading(folder: Path) -> None:
    for path in sorted(folder.rglob("*.csv")):
        pd.read_csv(path)
    yaml = YAML(typ="safe")
    for path in sorted(folder.rglob("*.yaml")):
        yaml.load(path.read_text(encoding="utf-8"))


def seconds(work, folder: Path) -> float:  # type: ignore[no-untyped-def]
    start = time.perf_counter()
    work(folder)
    return time.perf_counter() - start


def main(share: float) -> int:
    ratios = {}
    for part in (share / 4, share):
        with tempfile.TemporaryDirectory() as scratch:
            folder = write_project(Path(scratch), max(int(500 * part), 4))
            for work in (reading, workflow.analyse):
                work(folder)  # imports and the files' first reading are no part of either
            turns = [(seconds(reading, folder), seconds(workflow.analyse, folder)) for _ in range(5)]
            read, checked = (statistics.median(times) for times in zip(*turns, strict=True))
            ratios[part] = (read, checked)
            print(
                f"share {part:g}: reading {read:.2f} s, check {checked:.2f} s, ratio {checked / read:.1f} (at most 3)"
            )
    (_, quarter), (read, whole) = ratios.values()
    print(f"whole / quarter: {whole / quarter:.1f} (4 is in proportion)")
    return 0 if whole / read <= 3 and whole / quarter <= 5 else 1


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0))
