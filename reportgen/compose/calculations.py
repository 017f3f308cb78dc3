"""The sheet 'Calculations': every figure as a live formula over the data sheets, beside what the program computed.

Columns are named once, in order; formulas refer to them by name (`{n}` is this row's cell in the column n), so that a
column can move without a formula going astray. Functions are named as in English spreadsheets.
"""

from __future__ import annotations

from collections.abc import Mapping

from reportgen.acceptance.records import Evaluation
from reportgen.compose.data_sheets import CENSORED, LOGARITHM, OUTCOME, VALUE, Block, number_format
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Formatted, Formula, Hyperlink, Sheet, SheetColumn, SheetTable, SheetValue
from reportgen.project.records import AnalysisPlan, RoundingMethod
from reportgen.stats.approximations import howe_two_sided_factor, natrella_one_sided_factor

TITLE = "Calculations"
FIRST_ROW = 7

# name, heading, number format ("stat" follows the evaluation's decimals), width
_COLUMNS = (
    ("key", "Evaluation", "", 26.0),
    ("design_input", "Design input", "", 12.0),
    ("approach", "Approach used", "", 17.0),
    ("unit", "Unit", "", 8.0),
    ("planned", "Planned", "0", 9.0),
    ("n", "n", "0", 7.0),
    ("share", "Tested", "0 %", 9.0),
    ("mean", "Mean", "0.0000", 11.0),
    ("sd", "Standard deviation", "0.0000", 11.0),
    ("minimum", "Minimum", "0.0000", 11.0),
    ("maximum", "Maximum", "0.0000", 11.0),
    ("confidence", "Confidence", "0.0###", 11.0),
    ("reliability", "Reliability", "0.0###", 11.0),
    ("k", "k (exact, by the program)", "0.0000", 12.0),
    ("k_check", "k by a published approximation", "0.0000", 14.0),
    ("lower_limit", "Lower limit", "General", 10.0),
    ("upper_limit", "Upper limit", "General", 10.0),
    ("guard", "Guard band", "General", 9.0),
    ("decimals", "Rounded to decimals", "0", 10.0),
    ("lower_bound", "Lower bound", "0.0000", 11.0),
    ("upper_bound", "Upper bound", "0.0000", 11.0),
    ("margin", "Margin", "0.0000", 11.0),
    ("outside", "Outside or failing", "0", 10.0),
    ("allowed", "Allowed", "0", 9.0),
    ("shown", "Proportion shown (attribute)", "0.00000", 13.0),
    ("outstanding", "Outstanding", "0", 11.0),
    ("counts", "Evidence counts", "", 10.0),
    ("verdict", "Verdict by formula", "", 18.0),
    ("program", "Verdict of the program", "", 18.0),
    ("agrees", "Agree", "", 8.0),
    ("how", "How the bound comes about", "", 52.0),
)
_LETTERS = {name: chr(65 + at) if at < 26 else "A" + chr(65 + at - 26) for at, (name, *_) in enumerate(_COLUMNS)}
# approaches whose bound a worksheet function can rebuild from the values and k
_REBUILT = {"normal", "lognormal", "distribution_free"}


def column_letter(name: str) -> str:
    """The letter of a column of this sheet. Raises: KeyError for a name it does not have."""
    return _LETTERS[name]


def calculations_sheet(dossier: Dossier, blocks: Mapping[str, Block]) -> tuple[Sheet, dict[str, int]]:
    """The sheet, and the row of each evaluation by its key."""
    plans = {protocol.id: protocol.analysis_plan for protocol in dossier.project.protocols}
    evaluations, extra = dossier.evaluations(), dossier.project.settings.print_rounding.extra_decimals
    rows_of = {evaluation.key: FIRST_ROW + at for at, evaluation in enumerate(evaluations, start=1)}
    rows = tuple(
        _Row(evaluation, plans[evaluation.protocol], blocks.get(evaluation.key), rows_of[evaluation.key], extra).cells()
        for evaluation in evaluations
    )
    columns = tuple(
        SheetColumn(
            title=title,
            number_format="" if style == "General" else style,
            width=width,
            wrap=name == "how",
            verdict=name in {"verdict", "program"},
        )
        for name, title, style, width in _COLUMNS
    )
    sheet = Sheet(
        title=TITLE,
        heading="Calculations",
        notes=(
            "Figures in italics are live formulas over the data sheets. k is a value: no worksheet function has it; its"
            " arguments stand beside it.",
            "The approximation beside k is Natrella's (one-sided) or Howe's (two-sided), NIST e-Handbook 7.2.6.3: it"
            " should be near k, within a few per cent for n of 10 or more.",
            "Bounds of other methods (Weibull, Box-Cox, lot-to-lot, censored) are values of the program; the last"
            " column says so.",
            "Verdicts: a specimen outside its limit is 'not met'; a bound that does not clear is 'not demonstrated'.",
        ),
        tables=(SheetTable(name="Calculations", first_row=FIRST_ROW, columns=columns, rows=rows),),
    )
    return sheet, rows_of


class _Row:
    """One evaluation as a row; formulas are written with {names} and settled for this row."""

    def __init__(self, evaluation: Evaluation, plan: AnalysisPlan, block: Block | None, row: int, extra: int) -> None:
        self.evaluation, self.plan, self.block, self.row = evaluation, plan, block, row
        self.by_attribute = evaluation.approach_used == "attribute"
        statistic, reading, limit = (
            number_format(decimals)
            for decimals in (_decimals(evaluation) + extra, evaluation.data_decimals, evaluation.limit_decimals)
        )
        self.formats = {
            **dict.fromkeys(("mean", "sd", "lower_bound", "upper_bound", "margin", "guard"), statistic),
            **dict.fromkeys(("minimum", "maximum"), reading),
            **dict.fromkeys(("lower_limit", "upper_limit"), limit),
        }
        self.has_values = block is not None and any(value.value is not None for value in evaluation.values)

    def cells(self) -> tuple[SheetValue, ...]:
        e = self.evaluation
        key: SheetValue = e.key
        if self.block is not None:
            key = Hyperlink(text=e.key, sheet=self.block.sheet, cell=f"A{self.block.first}")
        found: dict[str, SheetValue] = {
            "key": key,
            "design_input": e.design_input,
            "approach": (e.approach_used or f"{e.approach} (declared)").replace("_", " "),
            "unit": e.unit,
            "planned": e.n_planned,
            "n": self._count(),
            "share": self._formula("IF({planned}=0,0,{n}/{planned})", e.n / e.n_planned if e.n_planned else 0.0),
            "confidence": e.confidence,
            "reliability": e.reliability,
            "k": e.k,
            "k_check": self._k_check(),
            "lower_limit": e.lower_limit,
            "upper_limit": e.upper_limit,
            "guard": e.guard or None,
            "decimals": e.limit_decimals if self.plan.rounding is RoundingMethod.ROUNDING else None,
            "outside": self._outside(),
            "allowed": self.plan.allowed_failures if self.by_attribute else None,
            "shown": self._shown(),
            "outstanding": e.n_missing,
            "counts": "no" if e.standing else "yes",
            "verdict": self._verdict(),
            "program": e.verdict.value,
            "agrees": self._formula('IF({verdict}={program},"yes","NO")', "yes"),
            "how": self._how(),
        }
        found |= self._statistics() | self._bounds()
        return tuple(self._formatted(name, found.get(name)) for name, *_ in _COLUMNS)

    def _formatted(self, name: str, value: SheetValue) -> SheetValue:
        """Statistics with the decimals that documents print; readings and limits with their own."""
        if isinstance(value, bool) or not isinstance(value, float | int | Formula) or name not in self.formats:
            return value
        return Formatted(value=value, number_format=self.formats[name])

    def _formula(self, pattern: str, cached: float | str | bool | None) -> Formula:
        """A formula with this row's cells in place of {names}."""
        cells = {name: f"{letter}{self.row}" for name, letter in _LETTERS.items()}
        return Formula(text=pattern.format(**cells), cached="" if cached is None else cached)

    def _range(self, column: str) -> str:
        if self.block is None:
            raise ValueError(f"evaluation {self.evaluation.key!r} has no block of values")
        return self.block.cells(column)

    def _count(self) -> SheetValue:
        if self.block is None:
            return 0
        counted = f"COUNT({self._range(VALUE)})" if self.has_values else f"COUNTA({self._range(OUTCOME)})"
        return self._formula(counted, self.evaluation.n)

    def _statistics(self) -> dict[str, SheetValue]:
        e = self.evaluation
        if not self.has_values:
            return {}
        values = self._range(VALUE)
        found: dict[str, SheetValue] = {
            "minimum": self._formula(f"MIN({values})", e.minimum),
            "maximum": self._formula(f"MAX({values})", e.maximum),
        }
        if e.mean is not None:
            found["mean"] = self._formula(f"AVERAGE({values})", e.mean)
        if e.sd is not None:
            found["sd"] = self._formula(f"STDEV.S({values})", e.sd)
        return found

    def _bounds(self) -> dict[str, SheetValue]:
        e = self.evaluation
        found: dict[str, SheetValue] = {
            "lower_bound": self._bound(e.lower_bound, sign="-"),
            "upper_bound": self._bound(e.upper_bound, sign="+"),
        }
        if e.margin is not None:
            sides = []
            if e.lower_limit is not None and e.lower_bound is not None:
                sides.append("{lower_bound}-({lower_limit}+N({guard}))")
            if e.upper_limit is not None and e.upper_bound is not None:
                sides.append("({upper_limit}-N({guard}))-{upper_bound}")
            found["margin"] = self._formula(f"MIN({','.join(sides)})", e.margin)
        return found

    def _bound(self, bound: float | None, *, sign: str) -> SheetValue:
        e = self.evaluation
        if bound is None or self.block is None:
            return None
        if e.approach_used == "normal" and e.k is not None:
            return self._formula(f"{{mean}}{sign}{{k}}*{{sd}}", bound)
        if e.approach_used == "lognormal" and e.k is not None:
            logs = self._range(LOGARITHM)
            return self._formula(f"EXP(AVERAGE({logs}){sign}{{k}}*STDEV.S({logs}))", bound)
        if e.approach_used == "distribution_free":
            values = [value.value for value in e.values if value.value is not None]
            function, rank = (
                ("SMALL", 1 + sum(value < bound for value in values))
                if sign == "-"
                else ("LARGE", 1 + sum(value > bound for value in values))
            )
            return self._formula(f"{function}({self._range(VALUE)},{rank})", bound)
        return bound

    def _k_check(self) -> SheetValue:
        e = self.evaluation
        if (
            e.k is None
            or e.approach_used not in {"normal", "lognormal"}
            or e.confidence is None
            or e.reliability is None
        ):
            return None
        if e.side == "both":
            cached = howe_two_sided_factor(e.n, confidence=e.confidence, coverage=e.reliability)
            return self._formula(
                "NORM.S.INV((1+{reliability})/2)*SQRT(({n}-1)*(1+1/{n})/CHISQ.INV(1-{confidence},{n}-1))", cached
            )
        near = natrella_one_sided_factor(e.n, confidence=e.confidence, coverage=e.reliability)
        if near is None:
            return None
        a = "(1-NORM.S.INV({confidence})^2/(2*({n}-1)))"
        b = "(NORM.S.INV({reliability})^2-NORM.S.INV({confidence})^2/{n})"
        return self._formula(f"(NORM.S.INV({{reliability}})+SQRT(NORM.S.INV({{reliability}})^2-{a}*{b}))/{a}", near)

    def _outside(self) -> SheetValue:
        """How many are outside their limit, or fail; a censored value counts on the side it is sure of."""
        if self.block is None:
            return 0
        if not self.has_values:
            return self._formula(f'COUNTIF({self._range(OUTCOME)},"fail")', self.evaluation.failures)
        values, censored = self._range(VALUE), self._range(CENSORED)
        compared = _half_even(values, "{decimals}") if self.plan.rounding is RoundingMethod.ROUNDING else values
        parts = []
        if self.evaluation.lower_limit is not None:
            parts.append(f'SUMPRODUCT(({compared}<{{lower_limit}})*({censored}<>"at least"))')
        if self.evaluation.upper_limit is not None:
            parts.append(f'SUMPRODUCT(({compared}>{{upper_limit}})*({censored}<>"at most"))')
        return self._formula("+".join(parts), _figure(self.evaluation, "outside", "failures"))

    def _shown(self) -> SheetValue:
        e = self.evaluation
        if not self.by_attribute or e.achieved_reliability is None:
            return None
        bound = "IF({outside}>={n},0,BETA.INV(1-{confidence},{n}-{outside},{outside}+1))"
        return self._formula(bound, e.achieved_reliability)

    def _verdict(self) -> SheetValue:
        """The same order of questions as the program asks them (see DEVELOPERS.md)."""
        e = self.evaluation
        if self.block is None:
            return "not tested"
        every = self.plan.every_specimen_conforms
        if self.by_attribute:
            too_many, clears = "{outside}>{allowed}", "{shown}>={reliability}"
        else:
            clears = self._clears()
            too_many = "{outside}>0" if every else f"AND({{outside}}>0,NOT({clears}))"
        if e.confidence is None:
            return "not demonstrated"
        pattern = (
            '=IF({n}=0,"not tested",IF({counts}="no","not demonstrated",IF('
            + too_many
            + ',"not met",IF({outstanding}>0,"not demonstrated",IF('
            + clears
            + ',"met","not demonstrated")))))'
        )
        return self._formula(pattern[1:], e.verdict.value)

    def _clears(self) -> str:
        parts = []
        rounds = self.plan.rounding is RoundingMethod.ROUNDING
        for limit, bound, test in (
            ("lower_limit", "lower_bound", ">=({lower_limit}+N({guard}))"),
            ("upper_limit", "upper_bound", "<=({upper_limit}-N({guard}))"),
        ):
            if getattr(self.evaluation, limit) is not None:
                compared = _half_even(f"{{{bound}}}", "{decimals}") if rounds else f"{{{bound}}}"
                parts.append(f"IF(ISNUMBER({{{bound}}}),{compared}{test},FALSE)")
        return f"AND({','.join(parts)})"

    def _how(self) -> str:
        e = self.evaluation
        if not e.interval_method:
            return e.reason
        if e.approach_used in _REBUILT or self.by_attribute:
            return e.interval_method
        return f"value of the program, not rebuilt here: {e.interval_method}"


def _half_even(value: str, decimals: str) -> str:
    """ASTM E29 rounding, half to even, of a cell or a range as a formula."""
    scaled = f"({value}*10^{decimals})"
    tie = f"ABS(ABS({scaled}-INT({scaled}))-0.5)<1E-9"
    return f"(({tie})*2*ROUND({scaled}/2,0)+(1-({tie}))*ROUND({scaled},0))/10^{decimals}"


def _figure(evaluation: Evaluation, *names: str) -> float:
    figures = {figure.name: figure.value for step in evaluation.steps for figure in step.figures}
    return next((figures[name] for name in names if name in figures), 0.0)


def _decimals(evaluation: Evaluation) -> int:
    """The finer of limit and data."""
    return max(evaluation.data_decimals, evaluation.limit_decimals)
