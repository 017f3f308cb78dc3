"""Writes the invented results of this example: lot results, spreadsheets and force-displacement records.

Everything is drawn from a generator with a fixed seed; nothing is measured. Run it from anywhere:

    python example_project/generate.py [FOLDER]

FOLDER is where `results/` goes; without it, the folder of this file. The same numpy and xlsxwriter give the same bytes.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import numpy as np
from invented_bench import (
    AGED,
    BASE,
    FATE,
    FRESH,
    Bench,
    Row,
    Run,
    fill,
    lots_apart,
    normal,
    rng_of,
    rows_of,
    scores,
    settled,
    where,
    write_csv,
    write_pull,
    write_workbook,
)

LOTS = ("LT-2601", "LT-2602", "LT-2603")
PSI_PER_ATM = 14.69594878
N_PER_LBF = 4.4482216152605


def securement_reverse(out: Path) -> None:
    """VP-101: the lab files the pulls; their values are the tool's to find, by the rule of the method."""
    bench = Bench(
        protocol="VP-101",
        operators=("K. Muir", "D. Strand"),
        equipment="TF-03;LC-07;PG-06;WB-02;SW-08",
        revision="04",
        modes=(("slip", 1.0),),
    )
    rng = rng_of(bench.protocol)
    fresh = Run(lots=LOTS, condition=FRESH, each=10, start=date(2026, 4, 14))
    aged = Run(lots=LOTS, condition=AGED, each=10, start=date(2026, 7, 7))
    rows = rows_of(bench, (fresh, aged), rng)
    peaks = np.concatenate([normal(6.52, 0.60)(rng, 30), normal(6.21, 0.62)(rng, 30)])
    for row, peak in zip(rows, peaks, strict=True):
        row["trace"] = f"results/VP-101/traces/{row['specimen']}.csv"
        write_pull(out / str(row["trace"]), rng, peak_n=float(peak))
    columns = (*BASE, *FATE, "trace")
    write_csv(out / "results/VP-101/securement_reverse.csv", rows, columns)


def securement_forward(out: Path) -> None:
    bench = Bench(
        protocol="VP-102",
        operators=("K. Muir", "E. Brough"),
        equipment="TF-03;LC-07;RM-01;WB-02;SW-08;RT-05",
        revision="02",
        modes=(("slip", 0.8), ("flare", 0.2)),
    )
    rng = rng_of(bench.protocol)
    fresh = Run(lots=LOTS, condition=FRESH, each=10, start=date(2026, 4, 20))
    aged = Run(lots=LOTS, condition=AGED, each=10, start=date(2026, 7, 13))
    rows = rows_of(bench, (fresh, aged), rng)
    column = "securement_forward [N]"
    fill(rows, column, [*normal(7.42, 0.78)(rng, 30), *normal(7.05, 0.74)(rng, 30)], decimals=2)
    write_csv(out / "results/VP-102/securement_forward.csv", rows, (*BASE, *FATE, column))


def balloon_burst(out: Path) -> None:
    """VP-103: an export of the burst stand, with a header block, semicolons, decimal commas, Latin-1 and psi."""
    bench = Bench(
        protocol="VP-103",
        operators=("D. Strand", "E. Brough"),
        equipment="PT-02;WB-02;SW-08",
        revision="02",
        modes=(("longitudinal", 0.85), ("pinhole", 0.15)),
    )
    rng = rng_of(bench.protocol)
    fresh = Run(lots=LOTS, condition=FRESH, each=10, start=date(2026, 4, 27))
    corners = Run(lots=("LT-2604", "LT-2605", "LT-2606"), condition=FRESH, each=15, start=date(2026, 5, 4))
    aged = Run(lots=LOTS, condition=AGED, each=10, start=date(2026, 7, 15))
    rows = rows_of(bench, (fresh, corners, aged), rng)
    pressures = [
        *normal(18.62, 0.61)(rng, 30),
        *lots_apart((20.41, 19.78, 18.93), 0.58)(rng, 45),
        *normal(18.44, 0.66)(rng, 30),
    ]
    fill(rows, "psi", [round(2 * PSI_PER_ATM * atm) / 2 for atm in pressures], decimals=1)
    heads = {
        "specimen": "Prüfling", "lot": "Los", "condition": "Zustand", "tested_on": "Datum", "operator": "Prüfer",
        "equipment": "Messmittel", "method_revision": "Rev.", "failure_mode": "Versagensart", "psi": "Berstdruck",
    }  # fmt: skip
    lines = [
        "Berstprüfstand BP-2 (erfundene Daten)",
        "Auftrag;VP-103",
        "Medium;Wasser, 37 °C",
        "Anstieg;1 atm in 5 s",
        "Druckeinheit;psi",
        f"Anzahl Prüflinge;{len(rows)}",
        "",
        ";".join(heads.values()),
    ]
    for row in rows:
        cells = [str(row[name]).replace(";", " , ") if name == "equipment" else str(row[name]) for name in heads]
        lines.append(";".join([*cells[:-1], cells[-1].replace(".", ",")]))
    path = out / "results/VP-103/burst_export.csv"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(("\r\n".join(lines) + "\r\n").encode("latin-1"))


def shaft_bond(out: Path) -> None:
    bench = Bench(
        protocol="VP-104",
        operators=("K. Muir", "D. Strand"),
        equipment="TF-03;LC-09;PG-06;WB-02;SW-08;RT-05",
        revision="03",
        modes=(("bond", 0.35), ("shaft", 0.65)),
    )
    rng = rng_of(bench.protocol)
    fresh = Run(lots=LOTS, condition=FRESH, each=10, start=date(2026, 5, 6))
    aged = Run(lots=LOTS, condition=AGED, each=10, start=date(2026, 7, 20))
    rows = rows_of(bench, (fresh, aged), rng)
    forces = [*lots_apart((31.6, 30.4, 32.1), 1.55)(rng, 30), *lots_apart((30.3, 29.4, 30.9), 1.60)(rng, 30)]
    column = "shaft_bond_tensile [lbf]"
    fill(rows, column, np.array(forces) / N_PER_LBF, decimals=3)
    for specimen in ("104A3-03", "104A3-04", "104A3-05", "104A3-06"):
        where(rows, specimen=specimen)[0]["note"] = "soaked 24 min, DEV-26-07"
    write_csv(out / "results/VP-104/shaft_bond.csv", rows, (*BASE, *FATE, column))


def tip_tensile(out: Path) -> None:
    """VP-105: fresh tips lognormal; aged tips break in two ways; one grip slip is set aside with its cause."""
    bench = Bench(
        protocol="VP-105",
        operators=("D. Strand", "E. Brough"),
        equipment="TF-03;LC-07;PG-06;WB-02;SW-08;RT-05",
        revision="03",
    )
    rng = rng_of(bench.protocol)
    fresh = Run(lots=LOTS, condition=FRESH, each=11, start=date(2026, 4, 22))
    aged = Run(lots=LOTS, condition=AGED, each=11, start=date(2026, 7, 27))
    rows = rows_of(bench, (fresh, aged), rng)
    column = "tip_tensile [N]"
    young, old = where(rows, condition=FRESH), where(rows, condition=AGED)
    fill(young, column, np.exp(normal(np.log(9.4), 0.115)(rng, 33)), decimals=2)
    for row in young:
        row["failure_mode"] = "bond"
    torn = rng.permutation(33) < 17
    values = np.where(torn, rng.normal(6.85, 0.22, size=33), rng.normal(9.30, 0.30, size=33))
    fill(old, column, values, decimals=2)
    for row, is_torn in zip(old, torn, strict=True):
        row["failure_mode"] = "shaft" if is_torn else "bond"
    slipped = where(rows, specimen="105F2-07")[0]
    slipped |= {
        column: "4.10",
        "failure_mode": "grip-slip",
        "excluded": "yes",
        "cause": "Grip slip: talc on the upper grip face, INV-26-03",
    }
    title = ("VP-105 tip tensile (invented data)", "Machine TF-03, load cell LC-07, flat pneumatic grips")
    path = out / "results/VP-105/tip_tensile.xlsx"
    write_workbook(path, rows, (*BASE, *FATE, column), sheet="Results", title=title)


def crossing_profile(out: Path) -> None:
    """VP-106: two readings of each device, at 0° and after turning by 90°; the device counts once."""
    bench = Bench(protocol="VP-106", operators=("E. Brough", "K. Muir"), equipment="LM-01;WB-02;RT-05", revision="02")
    rng = rng_of(bench.protocol)
    lots = (*LOTS, "LT-2604", "LT-2605", "LT-2606")
    rows = rows_of(bench, (Run(lots=lots, condition=FRESH, each=10, start=date(2026, 4, 15)),), rng)
    larger = lots_apart((1.962, 1.958, 1.965, 1.816, 1.821, 1.957), 0.012)(rng, 60)
    column = "crossing_profile [mm]"
    readings: list[Row] = []
    for row, value in zip(rows, larger, strict=True):
        smaller = value - abs(rng.normal(scale=0.006)) - 0.001
        first, second = (value, smaller) if rng.random() < 0.5 else (smaller, value)
        readings.append({**row, column: f"{first:.3f}", "note": "0°"})
        readings.append({**row, column: f"{second:.3f}", "note": "90°"})
    columns = (*(name for name in BASE if name != "failure_mode"), *FATE, column)
    write_csv(out / "results/VP-106/crossing_profile.csv", readings, columns)


def deployed_diameter(out: Path) -> None:
    bench = Bench(
        protocol="VP-107",
        operators=("E. Brough", "D. Strand"),
        equipment="VM-02;PT-02;WB-02;SW-08;RT-05",
        revision="01",
        modes=(("even", 1.0),),
    )
    rng = rng_of(bench.protocol)
    rows = rows_of(bench, (Run(lots=LOTS, condition=FRESH, each=10, start=date(2026, 5, 11)),), rng)
    column = "deployed_diameter [mm]"
    fill(rows, column, lots_apart((8.962, 9.034, 9.021), 0.043)(rng, 30), decimals=3)
    write_csv(out / "results/VP-107/deployed_diameter.csv", rows, (*BASE, *FATE, column))


def deflation_time(out: Path) -> None:
    """VP-108: fresh results as a text file, aged ones as a workbook, as two people of the bench keep them."""
    bench = Bench(
        protocol="VP-108", operators=("K. Muir", "E. Brough"), equipment="DT-04;PT-02;WB-02;SW-08", revision="02"
    )
    rng = rng_of(bench.protocol)
    column = "deflation_time [s]"
    columns = (*BASE, *FATE, column)
    fresh = rows_of(bench, (Run(lots=LOTS, condition=FRESH, each=10, start=date(2026, 5, 13)),), rng)
    fill(fresh, column, lots_apart((14.72, 15.31, 14.98), 0.82)(rng, 30), decimals=2)
    aged = rows_of(bench, (Run(lots=LOTS, condition=AGED, each=10, start=date(2026, 7, 29)),), rng)
    fill(aged, column, lots_apart((14.90, 15.44, 15.02), 0.86)(rng, 30), decimals=2)
    for row in (*fresh, *aged):
        row["failure_mode"] = "flat"
    write_csv(out / "results/VP-108/deflation_fresh.csv", fresh, columns)
    write_workbook(out / "results/VP-108/deflation_aged.xlsx", aged, columns, sheet="Deflation")


def recoil_and_foreshortening(out: Path) -> None:
    """VP-109: recoil is met; every stent keeps the foreshortening limit, but they scatter too much for the claim."""
    bench = Bench(
        protocol="VP-109",
        operators=("D. Strand", "K. Muir"),
        equipment="VM-02;PT-02;WB-02;SW-08",
        revision="01",
        modes=(("even", 1.0),),
    )
    rng = rng_of(bench.protocol)
    rows = rows_of(bench, (Run(lots=LOTS, condition=FRESH, each=10, start=date(2026, 5, 18)),), rng)
    fill(rows, "recoil [%]", normal(2.92, 0.44)(rng, 30), decimals=2)
    # short tails: the shoulders of the balloon stop a stent from lying farther off
    held = settled(np.tanh(scores(rng, 30) / 1.5), mean=3.90, sd=0.78)
    fill(rows, "foreshortening [%]", held, decimals=2)
    columns = (*BASE, *FATE, "recoil [%]", "foreshortening [%]")
    write_workbook(out / "results/VP-109/recoil_foreshortening.xlsx", rows, columns, sheet="Stents")


def luer_leak(out: Path) -> None:
    """VP-110: ids with leading zeros."""
    bench = Bench(
        protocol="VP-110",
        operators=("E. Brough", "D. Strand"),
        equipment="LK-01;TD-04;DT-04;RT-05",
        revision="01",
        modes=(("tight", 1.0),),
    )
    rng = rng_of(bench.protocol)
    rows = rows_of(bench, (Run(lots=LOTS, condition=FRESH, each=20, start=date(2026, 5, 20)),), rng, plain_ids=True)
    for row in rows:
        row["luer_leak"] = "pass"
    write_csv(out / "results/VP-110/luer_leak.csv", rows, (*BASE, *FATE, "luer_leak"))


def stent_inspection(out: Path) -> None:
    bench = Bench(
        protocol="VP-111",
        operators=("K. Muir", "E. Brough"),
        equipment="SM-05;PT-02;WB-02;SW-08;RT-05",
        revision="01",
        modes=(("whole", 1.0),),
    )
    rng = rng_of(bench.protocol)
    rows = rows_of(bench, (Run(lots=LOTS, condition=FRESH, each=20, start=date(2026, 5, 26)),), rng)
    for row in rows:
        row["stent_integrity"] = row["marker_seating"] = "pass"
    for specimen in ("111F1-14", "111F3-02"):
        where(rows, specimen=specimen)[0]["note"] = "polishing mark, looked at again at 80x: no crack"
    columns = (*BASE, *FATE, "stent_integrity", "marker_seating")
    write_workbook(out / "results/VP-111/inspection.xlsx", rows, columns, sheet="Inspection")


def particulates(out: Path) -> None:
    """VP-112: another laboratory's file in long shape, one count a row."""
    bench = Bench(
        protocol="VP-112",
        operators=("R. Quill", "T. Voss"),
        equipment="PC-03;PT-05;WB-11;SW-12",
        revision="02",
        modes=(("counted", 1.0),),
    )
    rng = rng_of(bench.protocol)
    fresh = Run(lots=LOTS, condition=FRESH, each=20, start=date(2026, 5, 5))
    aged = Run(lots=LOTS, condition=AGED, each=20, start=date(2026, 8, 4))
    rows = rows_of(bench, (fresh, aged), rng)
    readings: list[Row] = []
    for row in rows:
        fine = float(np.exp(np.clip(rng.normal(6.15, 0.50), None, 7.45)))
        coarse = fine * float(np.exp(rng.normal(-2.6, 0.22)))
        for characteristic, count in (("particles_10um", fine), ("particles_25um", coarse)):
            readings.append({**row, "characteristic": characteristic, "value": f"{count:.0f}", "unit": "count"})
    columns = (*BASE, *FATE, "characteristic", "value", "unit")
    write_csv(out / "results/VP-112/particles_long.csv", readings, columns)


def torque(out: Path) -> None:
    """VP-113: testing is running; twelve of thirty planned devices have a value."""
    bench = Bench(protocol="VP-113", operators=("K. Muir", "D. Strand"), equipment="TQ-01;WB-02;SW-08", revision="01")
    rng = rng_of(bench.protocol)
    rows = rows_of(bench, (Run(lots=LOTS, condition=FRESH, each=10, start=date(2026, 9, 28)),), rng)
    column = "torque_turns [turn]"
    tested, waiting = rows[:12], rows[12:]
    fill(tested, column, normal(9.35, 1.38)(rng, 12), decimals=2)
    for row in tested:
        row["failure_mode"] = "break" if rng.random() < 0.6 else "kink"
    for row in waiting:
        row |= {"tested_on": "", "operator": "", "equipment": "", "method_revision": "", column: ""}
    write_csv(out / "results/VP-113/torque.csv", rows, (*BASE, *FATE, column))


PROTOCOLS: tuple[Callable[[Path], None], ...] = (
    securement_reverse,
    securement_forward,
    balloon_burst,
    shaft_bond,
    tip_tensile,
    crossing_profile,
    deployed_diameter,
    deflation_time,
    recoil_and_foreshortening,
    luer_leak,
    stent_inspection,
    particulates,
    torque,
)


def main(arguments: Sequence[str]) -> None:
    out = Path(arguments[0]) if arguments else Path(__file__).resolve().parent
    for write in PROTOCOLS:
        write(out)


if __name__ == "__main__":
    main(sys.argv[1:])
