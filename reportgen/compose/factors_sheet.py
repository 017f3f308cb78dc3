"""The sheet 'Factors by n': k and rank for the sample sizes around each one tested, for formulas to look up.

No worksheet function has k, so it stands here as a value beside its arguments. With its neighbours beside it, a bound
follows when a specimen is left out or added; beyond them the workbook says that it needs recomputing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reportgen.compose.live_formulas import NO_BOUND, RECOMPUTE
from reportgen.compose.records import Sheet, SheetColumn, SheetTable
from reportgen.compose.specimen_rows import Judging
from reportgen.stats import one_sided_factor, two_sided_factor
from reportgen.stats.order_statistics import order_statistic_largest_order
from reportgen.stats.records import Side

TITLE = "Factors by n"
FIRST_ROW = 6
NEIGHBOURS = 5  # sample sizes on either side of each one tested
_SMALLEST_N = 2
_LETTERS = {"confidence": "A", "reliability": "B", "side": "C", "n": "D", "k": "E", "rank": "F"}
_Claim = tuple[float, float, Side]


class Factors:
    """k and rank by claim and n, and the formula that finds them."""

    def __init__(self, judgings: Iterable[Judging]) -> None:
        sizes: dict[_Claim, set[int]] = {}
        for judging in judgings:
            one = judging.evaluation
            if judging.rebuilt_as and one.confidence and one.reliability and one.side:
                near = range(max(_SMALLEST_N, one.n - NEIGHBOURS), one.n + NEIGHBOURS + 1)
                sizes.setdefault((one.confidence, one.reliability, one.side), set()).update(near)
        self._rows = tuple(row for claim in sorted(sizes) for row in _rows(claim, sorted(sizes[claim])))
        self._k = {row[:4]: row[4] for row in self._rows}

    def k(self, confidence: float, reliability: float, side: Side, n: int) -> float:
        """Raises: KeyError for a claim or size that no evaluation is near to."""
        return self._k[confidence, reliability, side, n]

    def lookup(self, name: str, cells: Sequence[str]) -> str:
        """A formula for k or rank at the confidence, reliability, side and n that stand in `cells`."""
        pairs = ",".join(
            f"{self._cells(column)},{cell}"
            for column, cell in zip(("confidence", "reliability", "side", "n"), cells, strict=True)
        )
        n = cells[-1]
        found = f'IF(COUNTIFS({pairs})=0,"{RECOMPUTE}",SUMIFS({self._cells(name)},{pairs}))'
        return f'IF({n}<{_SMALLEST_N},"{NO_BOUND}",{found})'

    def sheet(self) -> Sheet:
        columns = (
            SheetColumn(title="Confidence", number_format="0.0###", width=12),
            SheetColumn(title="Reliability", number_format="0.0###", width=12),
            SheetColumn(title="Side bounded", width=14),
            SheetColumn(title="n", number_format="0", width=8),
            SheetColumn(title="k (normal, exact)", number_format="0.000000", width=14),
            SheetColumn(title="Rank from each bounded end", number_format="0", width=18),
        )
        return Sheet(
            title=TITLE,
            heading="Tolerance factors and ranks by sample size",
            notes=(
                f"For each claim: n as tested, and {NEIGHBOURS} sizes on either side, so that bounds follow when a"
                " specimen is left out or added.",
                "k is the exact factor of the normal interval. The rank says which value from each bounded end is the",
                "distribution-free bound: 1 is the outermost value, 0 says that n is too small for any.",
            ),
            tables=(SheetTable(name="Factors", first_row=FIRST_ROW, columns=columns, rows=self._rows),),
            landscape=False,
        )

    def _cells(self, name: str) -> str:
        letter = _LETTERS[name]
        return f"'{TITLE}'!${letter}${FIRST_ROW + 1}:${letter}${FIRST_ROW + max(len(self._rows), 1)}"


def _rows(claim: _Claim, sizes: Iterable[int]) -> list[tuple[float, float, Side, int, float, int]]:
    confidence, reliability, side = claim
    factor = two_sided_factor if side == "both" else one_sided_factor
    return [
        (
            confidence,
            reliability,
            side,
            n,
            factor(n, confidence=confidence, coverage=reliability),
            order_statistic_largest_order(n, confidence=confidence, coverage=reliability, side=side),
        )
        for n in sizes
    ]
