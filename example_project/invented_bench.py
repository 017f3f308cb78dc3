"""What the invented protocols share: rows of specimens, drawn values, and the ways in which a lab writes them down."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from statistics import NormalDist

import numpy as np
import xlsxwriter

SEED = 20_260_414
FRESH, AGED = "fresh", "aged"
BASE = ("specimen", "lot", "condition", "tested_on", "operator", "equipment", "method_revision", "failure_mode")
FATE = ("excluded", "cause", "note")

Row = dict[str, object]
Draw = Callable[[np.random.Generator, int], np.ndarray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One stretch of bench work: so many specimens of each lot, in one condition, from one day on."""

    lots: tuple[str, ...]
    condition: str
    each: int
    start: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What every row of a protocol shares. `modes` are failure modes with their shares."""

    protocol: str
    operators: tuple[str, ...]
    equipment: str
    revision: str
    modes: tuple[tuple[str, float], ...] = ()


def rng_of(protocol: str) -> np.random.Generator:
    """A generator of its own for each protocol, so that a change to one leaves the others alone."""
    return np.random.default_rng([SEED, int(protocol.removeprefix("VP-"))])


def day(start: date, offset: int) -> date:
    """The working day that lies `offset` working days after `start`."""
    current = start
    while offset > 0:
        current += timedelta(days=1)
        offset -= current.weekday() < 5
    return current


def rows_of(bench: Bench, runs: Iterable[Run], rng: np.random.Generator, *, plain_ids: bool = False) -> list[Row]:
    """The rows without their values: ids, lots, days, operators taking turns within every lot."""
    number = bench.protocol.removeprefix("VP-")
    rows: list[Row] = []
    for run in runs:
        for lot_index, lot in enumerate(run.lots):
            for i in range(run.each):
                row: Row = dict.fromkeys((*BASE, *FATE), "")
                mark = f"{number}{run.condition[0].upper()}{int(lot[-1])}-{i + 1:02d}"
                row["specimen"] = f"{len(rows) + 1:04d}" if plain_ids else mark
                row["lot"], row["condition"] = lot, run.condition
                row["tested_on"] = day(run.start, lot_index).isoformat()
                row["operator"] = bench.operators[i % len(bench.operators)]
                row["equipment"], row["method_revision"] = bench.equipment, bench.revision
                if bench.modes:
                    names, shares = zip(*bench.modes, strict=True)
                    row["failure_mode"] = str(rng.choice(names, p=shares))
                rows.append(row)
    return rows


def settled(values: np.ndarray, *, mean: float, sd: float) -> np.ndarray:
    """Values moved to exactly this mean and standard deviation: the example's verdicts do not hang on luck."""
    return np.asarray(mean + sd * (values - values.mean()) / values.std(ddof=1))


def scores(rng: np.random.Generator, n: int) -> np.ndarray:
    """Normal scores in random order, about two from each of n / 2 equally likely strips: it looks normal."""
    strips = max(n // 2, 1)
    shares = (np.arange(n) * strips // n + rng.uniform(0.06, 0.94, size=n)) / strips
    return rng.permutation([NormalDist().inv_cdf(float(share)) for share in shares])


def normal(mean: float, sd: float) -> Draw:
    return lambda rng, n: settled(scores(rng, n), mean=mean, sd=sd)


def lots_apart(means: Sequence[float], sd: float) -> Draw:
    """Lots one after another with means of their own and one scatter."""

    def draw(rng: np.random.Generator, n: int) -> np.ndarray:
        each = n // len(means)
        return np.concatenate([normal(mean, sd)(rng, each) for mean in means])

    return draw


def fill(rows: Sequence[Row], column: str, values: Iterable[float], *, decimals: int) -> None:
    for row, value in zip(rows, values, strict=True):
        row[column] = f"{value:.{decimals}f}"


def where(rows: Sequence[Row], **equal: str) -> list[Row]:
    return [row for row in rows if all(row[name] == wanted for name, wanted in equal.items())]


def write_csv(path: Path, rows: Sequence[Row], columns: Sequence[str]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=list(columns), extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def write_workbook(
    path: Path, rows: Sequence[Row], columns: Sequence[str], *, sheet: str, title: Sequence[str] = ()
) -> None:
    """A hand-kept spreadsheet: some lines above the table, numbers as numbers, ids as text, a second sheet of notes."""
    path.parent.mkdir(parents=True, exist_ok=True)
    book = xlsxwriter.Workbook(str(path))
    book.set_properties({"created": datetime(2026, 1, 1), "author": "invented", "comments": "invented example data"})
    bold = book.add_format({"bold": True})
    table = book.add_worksheet(sheet)
    for i, line in enumerate(title):
        table.write_string(i, 0, line)
    top = len(title) + 1 if title else 0
    for j, column in enumerate(columns):
        table.write_string(top, j, column, bold)
        for i, row in enumerate(rows, start=top + 1):
            text = str(row[column])
            if "[" in column and text:
                table.write_number(i, j, float(text))
            else:
                table.write_string(i, j, text)
    table.set_column(0, len(columns) - 1, 16)
    notes = book.add_worksheet("Notes")
    notes.write_string(0, 0, "Invented example data. Filled in at the bench, checked against the notebook.")
    book.close()


def write_pull(path: Path, rng: np.random.Generator, *, peak_n: float) -> None:
    """One pull at 100 mm/min, 60 readings a second, 12 mm.

    Slack, a toe, a rise that softens toward the first dislodgement, a fall, and a hump while the end of the stent rides
    over the balloon shoulder: in most pulls that hump is higher than the first peak, and must not be taken for it.
    """
    seconds = np.arange(0, 7.25, 1 / 60)
    x = seconds * 100 / 60
    slack, stiffness, toe = rng.uniform(0.35, 0.75), rng.uniform(3.4, 4.6), 0.25
    taut = slack + toe / 2 + peak_n / stiffness
    lifted = np.clip(x - slack, 0, None)
    share = stiffness * np.where(lifted < toe, lifted**2 / (2 * toe), lifted - toe / 2) / peak_n
    rise = peak_n * (1.12 * share - 0.12 * np.clip(share, 0, 1) ** 6)
    drop, width = rng.uniform(0.9, 1.6), rng.uniform(0.30, 0.50)
    hump = (rng.uniform(-0.7, 2.2) + drop) * np.exp(-(((x - rng.uniform(6.2, 7.8)) / rng.uniform(1.3, 1.9)) ** 2))
    stick = 0.08 * np.sin(2 * np.pi * x / rng.uniform(0.45, 0.7)) * np.clip(x - taut - 0.6, 0, 1)
    wear = np.clip(x - 8.5, 0, None) * rng.uniform(0.5, 0.9)
    after = np.maximum(peak_n - drop + hump + stick - wear, 0.4)
    fallen = (1 - np.cos(np.pi * np.clip((x - taut) / width, 0, 1))) / 2
    force = np.where(x <= taut, rise, peak_n + fallen * (after - peak_n)) + rng.normal(scale=0.006, size=x.size)
    force = np.round(force / 0.005) * 0.005
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = ["time [s],displacement [mm],force [N]"]
    lines += [f"{t:.3f},{d:.4f},{f:.3f}" for t, d, f in zip(seconds, x, force, strict=True)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
