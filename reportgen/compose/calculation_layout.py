"""Where the figures of each evaluation stand on the sheet 'Calculations', for every sheet that points there."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping

from reportgen.acceptance.records import Evaluation
from reportgen.compose.live_formulas import worst_verdict
from reportgen.compose.records import SheetColumn

TITLE = "Calculations"
FIRST_ROW = 9

# name, heading, number format (figures of an evaluation bring their own), width
_COUNTS = (
    ("key", "Evaluation", "", 32.0),
    ("unit", "Unit", "", 8.0),
    ("design_input", "Design input", "", 12.0),
    ("protocol", "Protocol", "", 10.0),
    ("approach", "Approach used", "", 17.0),
    ("in_place", "Rows in place", "", 8.0),
    ("planned", "Planned", "0", 8.0),
    ("n", "n", "0", 6.0),
    ("share", "Tested", "0 %", 8.0),
    ("set_aside", "Set aside", "0", 7.0),
    ("excused", "Excused by deviation", "0", 10.0),
    ("outstanding", "Outstanding", "0", 12.0),
)
_STATISTICS = (
    ("mean", "Mean", "", 11.0),
    ("sd", "Standard deviation", "", 10.0),
    ("minimum", "Minimum", "", 11.0),
    ("maximum", "Maximum", "", 11.0),
    ("alpha", "Normality: level", "0.0###", 11.0),
)
_NORMALITY = (
    ("a2", "Anderson-Darling, adjusted", "0.0000", 16.0),
    ("p", "Its p-value", "0.000", 13.0),
    ("changed", "Specimens changed", "", 10.0),
)
_FACTORS = (
    ("confidence", "Confidence", "0.0###", 10.0),
    ("reliability", "Reliability", "0.0###", 9.0),
    ("side", "Side bounded", "", 9.0),
    ("k", "k, exact, for this n", "0.0000", 9.0),
    ("k_check", "k by a published approximation", "0.0000", 14.0),
    ("k_off", "Approximation off by", "0.0 %", 10.0),
    ("rank", "Rank from the end", "0", 8.0),
    ("lower_limit", "Lower limit", "", 9.0),
    ("upper_limit", "Upper limit", "", 9.0),
    ("guard", "Guard band", "", 9.0),
    ("decimals", "Rounded to decimals", "0", 10.0),
)
_BOUNDS = (
    ("lower_bound", "Lower bound", "", 11.0),
    ("upper_bound", "Upper bound", "", 11.0),
    ("margin", "Margin", "", 11.0),
    ("outside", "Outside or failing", "0", 9.0),
    ("unclear", "Conformance open", "0", 13.0),
    ("allowed", "Failures allowed", "0", 9.0),
    ("shown", "Proportion shown (attribute)", "0.00000", 12.0),
)
_JUDGED = (
    ("counts", "Evidence counts", "", 10.0),
    ("verdict", "Verdict by formula", "", 20.0),
    ("program", "Verdict of the program", "", 20.0),
    ("agrees", "Agree", "", 7.0),
    ("how", "How the bound comes about", "", 36.0),
)
# on paper the sheet is cut between these parts, each with the evaluation and its unit before it
_PARTS = ((*_COUNTS, *_STATISTICS), (*_NORMALITY, *_FACTORS), (*_BOUNDS, *_JUDGED))
REPEATED_COLUMNS = 2
PAGE_BREAKS = tuple(itertools.accumulate(len(part) for part in _PARTS[:-1]))
_COLUMNS = tuple(itertools.chain.from_iterable(_PARTS))
NAMES = tuple(name for name, *_ in _COLUMNS)
_LETTERS = {name: chr(65 + at) if at < 26 else "A" + chr(65 + at - 26) for at, name in enumerate(NAMES)}


def columns() -> tuple[SheetColumn, ...]:
    return tuple(
        SheetColumn(
            title=title,
            number_format=style,
            width=width,
            wrap=name in {"key", "how"},
            verdict=name in {"verdict", "program"},
        )
        for name, title, style, width in _COLUMNS
    )


def column_letter(name: str) -> str:
    """The letter of a column of this sheet. Raises: KeyError for a name it does not have."""
    return _LETTERS[name]


class CalculationRows:
    """The row of each evaluation, in the order of the register, and how formulas name the cells in it."""

    def __init__(self, evaluations: Iterable[Evaluation]) -> None:
        self.evaluations = tuple(evaluations)
        self.rows = {one.key: FIRST_ROW + at for at, one in enumerate(self.evaluations, start=1)}

    def row_cells(self, key: str) -> Mapping[str, str]:
        """This row's cell in each column by the column's name, as formulas of the same sheet write it."""
        return {name: f"{letter}{self.rows[key]}" for name, letter in _LETTERS.items()}

    def cell(self, key: str, name: str) -> str:
        """One cell as formulas of other sheets write it."""
        return f"{TITLE}!${_LETTERS[name]}${self.rows[key]}"

    def column_cells(self, name: str, *, first: int | None = None, last: int | None = None) -> str:
        """The cells of a column from row to row (all below the heading), as formulas of other sheets write them."""
        bottom = FIRST_ROW + max(len(self.evaluations), 1)
        letter = _LETTERS[name]
        return f"{TITLE}!${letter}${first or FIRST_ROW + 1}:${letter}${last or bottom}"

    def verdict_formula(self, *, design_input: str, protocol: str = "") -> str:
        """The verdict over the evaluations of one design input, of one protocol where given: both name a cell."""
        chosen = f"({self.column_cells('design_input')}={design_input})"
        if protocol:
            chosen += f"*({self.column_cells('protocol')}={protocol})"
        return worst_verdict(chosen, self.column_cells("verdict"))
