"""The sheet 'Calculations': every figure as a live formula over the data sheets, beside what the program computed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reportgen.compose.calculation_layout import (
    FIRST_ROW,
    NAMES,
    PAGE_BREAKS,
    REPEATED_COLUMNS,
    TITLE,
    CalculationRows,
    columns,
)
from reportgen.compose.calculation_rows import row_cells
from reportgen.compose.data_sheets import Block
from reportgen.compose.factors_sheet import Factors
from reportgen.compose.live_formulas import RECOMPUTE
from reportgen.compose.records import Sheet, SheetTable
from reportgen.compose.specimen_rows import LEAST_CHECKED, Judging

# in lines that fit on the first of the printed pages
_NOTES = (
    "Figures in italics are live formulas over the data sheets; k and ranks come from the sheet 'Factors by n'.",
    "Numbers are unrounded, shown to the nearest digit; documents print bounds rounded to the side that claims less.",
    "Beside k stands Natrella's approximation (one-sided) or Howe's (two-sided), NIST/SEMATECH e-Handbook 7.2.6.3:",
    "it checks k and is some percent off below n = 10; nothing is judged by it.",
    f"Bound and verdict read '{RECOMPUTE}' after a change that no worksheet function follows: of bounds by Weibull,",
    f"Box-Cox, lot-to-lot or censored fits; after a fallback; of lots pooled if alike; of normality below"
    f" n = {LEAST_CHECKED}.",
)


def calculations_sheet(
    judgings: Sequence[Judging], where: CalculationRows, factors: Factors, blocks: Mapping[str, Block]
) -> Sheet:
    """One row per evaluation; `blocks` says where the specimens of each one stand."""
    keys = [judging.evaluation.key for judging in judgings]
    found = [
        row_cells(judging, factors, blocks.get(key), where.row_cells(key))
        for key, judging in zip(keys, judgings, strict=True)
    ]
    rows = tuple(tuple(cells.get(name) for name in NAMES) for cells in found)
    return Sheet(
        title=TITLE,
        heading="Calculations",
        notes=_NOTES,
        tables=(SheetTable(name="Calculations", first_row=FIRST_ROW, columns=columns(), rows=rows),),
        page_breaks=PAGE_BREAKS,
        repeated_columns=REPEATED_COLUMNS,
    )
