"""The sheet 'Calculations': every figure as a live formula over the data sheets, beside what the program computed."""

from __future__ import annotations

from collections.abc import Mapping

from reportgen.compose.calculation_layout import FIRST_ROW, NAMES, PAGE_BREAKS, TITLE, CalculationRows, columns
from reportgen.compose.calculation_rows import row_cells
from reportgen.compose.data_sheets import Block, judging_of
from reportgen.compose.factors_sheet import Factors
from reportgen.compose.live_formulas import NO_BOUND, RECOMPUTE
from reportgen.compose.records import Sheet, SheetTable
from reportgen.project.records import Project

# in lines that fit on the first of the printed pages
_NOTES = (
    "Figures in italics are live formulas over the data sheets; k and ranks come from the sheet 'Factors by n'.",
    "Numbers are unrounded, shown to the nearest digit; documents print bounds rounded to the side that claims less.",
    "Beside k stands Natrella's approximation (one-sided) or Howe's (two-sided), NIST/SEMATECH e-Handbook 7.2.6.3:",
    "it checks k and is some per cent off below n = 10; nothing is judged by it.",
    f"Bounds of other methods (Weibull, Box-Cox, lot-to-lot, censored fits) read '{RECOMPUTE}' after a change.",
    "Checks of distribution, lots and outliers are not made anew: run the program after a change. A specimen outside",
    f"its limit is 'not met'; a bound that does not clear, or '{NO_BOUND}', is 'not demonstrated'.",
)


def calculations_sheet(
    project: Project, where: CalculationRows, factors: Factors, blocks: Mapping[str, Block]
) -> Sheet:
    """One row per evaluation; `blocks` says where the specimens of each one stand."""
    protocols = {protocol.id: protocol for protocol in project.protocols}
    found = []
    for evaluation in where.evaluations:
        protocol = protocols[evaluation.protocol]
        found.append(
            row_cells(
                judging_of(protocol, evaluation, where),
                protocol.analysis_plan,
                factors,
                blocks.get(evaluation.key),
                where.row_cells(evaluation.key),
            )
        )
    rows = tuple(tuple(cells.get(name) for name in NAMES) for cells in found)
    return Sheet(
        title=TITLE,
        heading="Calculations",
        notes=_NOTES,
        tables=(SheetTable(name="Calculations", first_row=FIRST_ROW, columns=columns(), rows=rows),),
        page_breaks=PAGE_BREAKS,
    )
