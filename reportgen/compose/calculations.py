"""The sheet 'Calculations': every figure as a live formula over the data sheets, beside what the program computed."""

from __future__ import annotations

from collections.abc import Mapping

from reportgen.acceptance.records import Evaluation
from reportgen.compose.calculation_rows import row_cells
from reportgen.compose.data_sheets import Block
from reportgen.compose.dossier import Dossier
from reportgen.compose.live_formulas import worst_verdict
from reportgen.compose.records import Sheet, SheetColumn, SheetTable

TITLE = "Calculations"
FIRST_ROW = 8

# name, heading, number format (figures of an evaluation bring their own), width
_COLUMNS = (
    ("key", "Evaluation", "", 24.0),
    ("design_input", "Design input", "", 12.0),
    ("protocol", "Protocol", "", 10.0),
    ("approach", "Approach used", "", 17.0),
    ("unit", "Unit", "", 8.0),
    ("planned", "Planned", "0", 9.0),
    ("n", "n", "0", 6.0),
    ("share", "Tested", "0 %", 8.0),
    ("set_aside", "Set aside", "0", 8.0),
    ("excused", "Excused by deviation", "0", 10.0),
    ("outstanding", "Outstanding", "0", 12.0),
    ("mean", "Mean", "", 11.0),
    ("sd", "Standard deviation", "", 11.0),
    ("minimum", "Minimum", "", 11.0),
    ("maximum", "Maximum", "", 11.0),
    ("confidence", "Confidence", "0.0###", 11.0),
    ("reliability", "Reliability", "0.0###", 11.0),
    ("side", "Side bounded", "", 9.0),
    ("k_n", "k or rank is for n", "0", 8.0),
    ("k", "k (exact, by the program)", "0.0000", 12.0),
    ("k_check", "k by a published approximation", "0.0000", 14.0),
    ("k_off", "Approximation off by", "0.0 %", 9.0),
    ("lower_limit", "Lower limit", "", 9.0),
    ("upper_limit", "Upper limit", "", 9.0),
    ("guard", "Guard band", "", 9.0),
    ("decimals", "Rounded to decimals", "0", 10.0),
    ("lower_bound", "Lower bound", "", 11.0),
    ("upper_bound", "Upper bound", "", 11.0),
    ("margin", "Margin", "", 11.0),
    ("outside", "Outside or failing", "0", 9.0),
    ("unclear", "Stopped short of the limit", "0", 10.0),
    ("allowed", "Failures allowed", "0", 9.0),
    ("shown", "Proportion shown (attribute)", "0.00000", 12.0),
    ("counts", "Evidence counts", "", 10.0),
    ("verdict", "Verdict by formula", "", 20.0),
    ("program", "Verdict of the program", "", 20.0),
    ("agrees", "Agree", "", 8.0),
    ("how", "How the bound comes about", "", 48.0),
)
_LETTERS = {name: chr(65 + at) if at < 26 else "A" + chr(65 + at - 26) for at, (name, *_) in enumerate(_COLUMNS)}


def column_letter(name: str) -> str:
    """The letter of a column of this sheet. Raises: KeyError for a name it does not have."""
    return _LETTERS[name]


def rows_of_evaluations(dossier: Dossier) -> dict[str, int]:
    """The row of each evaluation by its key, in the order of the register."""
    return {evaluation.key: FIRST_ROW + at for at, evaluation in enumerate(dossier.evaluations(), start=1)}


def cells_of(evaluations: int, name: str) -> str:
    """The cells of a column below its heading, as formulas of other sheets write them."""
    letter = _LETTERS[name]
    return f"{TITLE}!${letter}${FIRST_ROW + 1}:${letter}${FIRST_ROW + max(evaluations, 1)}"


def verdict_formula(evaluations: int, *, design_input: str, protocol: str = "") -> str:
    """The verdict over the evaluations of one design input, of one protocol where given: both name a cell."""
    chosen = f"({cells_of(evaluations, 'design_input')}={design_input})"
    if protocol:
        chosen += f"*({cells_of(evaluations, 'protocol')}={protocol})"
    return worst_verdict(chosen, cells_of(evaluations, "verdict"))


def calculations_sheet(dossier: Dossier, blocks: Mapping[str, Block]) -> Sheet:
    """One row per evaluation; `blocks` says where the values of each one stand."""
    plans = {protocol.id: protocol.analysis_plan for protocol in dossier.project.protocols}
    rows_of = rows_of_evaluations(dossier)

    def row(evaluation: Evaluation) -> dict[str, str]:
        return {name: f"{letter}{rows_of[evaluation.key]}" for name, letter in _LETTERS.items()}

    found = [
        row_cells(evaluation, plans[evaluation.protocol], blocks.get(evaluation.key), row(evaluation))
        for evaluation in dossier.evaluations()
    ]
    columns = tuple(
        SheetColumn(
            title=title,
            number_format=style,
            width=width,
            wrap=name == "how",
            verdict=name in {"verdict", "program"},
        )
        for name, title, style, width in _COLUMNS
    )
    rows = tuple(tuple(cells.get(name) for name, *_ in _COLUMNS) for cells in found)
    return Sheet(
        title=TITLE,
        heading="Calculations",
        notes=(
            "Figures in italics are live formulas over the data sheets. k is a value, for no worksheet function has it:"
            " it holds for the n, confidence, reliability and side beside it.",
            "The approximation beside k is Natrella's (one-sided) or Howe's (two-sided), NIST/SEMATECH e-Handbook"
            " 7.2.6.3: close for large n, off by some per cent below n = 10. It checks k; nothing is judged by it.",
            "Bounds of other methods (Weibull, Box-Cox, lot-to-lot, fits of censored values) are values of the program"
            " and do not follow a changed value; the last column says so.",
            "Cells hold unrounded numbers. They are displayed to the nearest digit; documents print bounds rounded to"
            " the side that claims less.",
            "A specimen outside its limit is 'not met'; a bound that does not clear is 'not demonstrated'.",
        ),
        tables=(SheetTable(name="Calculations", first_row=FIRST_ROW, columns=columns, rows=rows),),
        pages_wide=3,
    )
