"""One evaluation as a row of live formulas.

Formulas are written with the names of columns (`{n}` is this row's cell in the column n), so that a column can move
without a formula going astray.
"""

from __future__ import annotations

from collections.abc import Mapping

from reportgen import rounding
from reportgen.acceptance.records import Evaluation
from reportgen.compose.data_sheets import Block, number_format
from reportgen.compose.live_formulas import half_even, one_sided_approximation, two_sided_approximation
from reportgen.compose.records import Formatted, Formula, Hyperlink, SheetValue
from reportgen.project.records import AnalysisPlan, RoundingMethod
from reportgen.stats.approximations import howe_two_sided_factor, natrella_one_sided_factor
from reportgen.stats.order_statistics import order_statistic_largest_order

Cells = dict[str, SheetValue]
OTHER_N = "for another n"


def row_cells(evaluation: Evaluation, plan: AnalysisPlan, block: Block | None, cells: Mapping[str, str]) -> Cells:
    """The row by column names; a name that is absent is a blank cell.

    Args:
        block: where the values stand, None without any. cells: this row's cell in each column, by the column's name.
    """
    return _Row(evaluation, plan, block, cells).values()


class _Row:
    def __init__(self, evaluation: Evaluation, plan: AnalysisPlan, block: Block | None, cells: Mapping[str, str]):
        self.evaluation, self.plan, self.block, self._cells = evaluation, plan, block, cells
        self.by_attribute = evaluation.approach_used == "attribute"
        self.approach, _, self.censored = evaluation.approach_used.partition(", ")
        self.rounds = plan.rounding is RoundingMethod.ROUNDING
        self.is_measured = block is not None and any(value.value is not None for value in evaluation.values)

    def values(self) -> Cells:
        found = self._facts() | self._counts() | self._statistics() | self._factor() | self._bounds() | self._verdicts()
        return {name: self._formatted(name, value) for name, value in found.items()}

    def _formula(self, pattern: str, cached: float | str | bool) -> Formula:
        return Formula(text=pattern.format(**self._cells), cached=cached)

    def _range(self, column: str) -> str:
        if self.block is None:
            raise ValueError(f"evaluation {self.evaluation.key!r} has no block of values")
        return self.block.cells(column)

    def _facts(self) -> Cells:
        e = self.evaluation
        key: SheetValue = e.key
        if self.block is not None:
            key = Hyperlink(text=e.key, sheet=self.block.sheet, cell=f"A{self.block.first}")
        return {
            "key": key,
            "design_input": e.design_input,
            "protocol": e.protocol,
            "approach": (e.approach_used or f"{e.approach} (declared)").replace("_", " "),
            "unit": e.unit,
            "confidence": e.confidence,
            "reliability": e.reliability,
            "side": e.side or "",
            "lower_limit": e.lower_limit,
            "upper_limit": e.upper_limit,
            "guard": e.guard or None,
            "decimals": e.limit_decimals if self.rounds else None,
            "allowed": self.plan.allowed_failures if self.by_attribute else None,
            "counts": "no" if e.standing else "yes",
            "how": self._how(),
        }

    def _counts(self) -> Cells:
        e, n_aside = self.evaluation, len(self.evaluation.set_aside)
        set_aside: SheetValue = n_aside
        aside = None if self.block is None else self.block.aside_cells("counts")
        if aside:
            set_aside = self._formula(f'SUMPRODUCT(--(LEFT({aside},3)="no:"))', n_aside)
        n: SheetValue = 0
        if self.block is not None:
            counted = f"COUNT({self._range('value')})" if self.is_measured else f"COUNTA({self._range('outcome')})"
            n = self._formula(counted, e.n)
        return {
            "planned": e.n_planned,
            "n": n,
            "share": self._formula("IF({planned}=0,0,{n}/{planned})", e.n / e.n_planned if e.n_planned else 0.0),
            "set_aside": set_aside,
            # what a deviation accounts for: the rest of the plan that neither has a result nor waits for one
            "excused": max(0, e.n_planned - e.n - n_aside - e.n_missing),
            "outstanding": self._formula("MAX(0,{planned}-{n}-{set_aside}-{excused})", e.n_missing),
        }

    def _statistics(self) -> Cells:
        e = self.evaluation
        if not self.is_measured:
            return {}
        values = self._range("value")
        functions = (("MIN", "minimum"), ("MAX", "maximum"), ("AVERAGE", "mean"), ("STDEV.S", "sd"))
        return {
            name: self._formula(f"{function}({values})", cached)
            for function, name in functions
            if (cached := getattr(e, name)) is not None
        }

    def _factor(self) -> Cells:
        e = self.evaluation
        if self.censored or e.confidence is None or e.reliability is None or e.k is None:
            return {"k": e.k, "k_n": e.n if self._follows_values() else None}
        found: Cells = {"k": e.k, "k_n": e.n}
        if self.approach not in {"normal", "lognormal"}:
            return found
        near = (
            howe_two_sided_factor(e.n, confidence=e.confidence, coverage=e.reliability)
            if e.side == "both"
            else natrella_one_sided_factor(e.n, confidence=e.confidence, coverage=e.reliability)
        )
        if near is None:
            return found
        written = two_sided_approximation if e.side == "both" else one_sided_approximation
        found["k_check"] = self._formula(written("{n}", "{confidence}", "{reliability}"), near)
        found["k_off"] = self._formula("{k_check}/{k}-1", near / e.k - 1.0)
        return found

    def _follows_values(self) -> bool:
        """Whether worksheet functions rebuild the bound from the values, with k or a rank."""
        if self.approach == "distribution_free":
            return True
        return self.approach in {"normal", "lognormal"} and not self.censored and self.evaluation.k is not None

    def _bounds(self) -> Cells:
        e = self.evaluation
        found: Cells = {
            "lower_bound": self._bound(e.lower_bound, side="lower"),
            "upper_bound": self._bound(e.upper_bound, side="upper"),
        }
        if e.margin is None:
            return found
        sides, bounds = [], []
        if e.lower_limit is not None and e.lower_bound is not None:
            sides.append("{lower_bound}-({lower_limit}+N({guard}))")
            bounds.append("{lower_bound}")
        if e.upper_limit is not None and e.upper_bound is not None:
            sides.append("({upper_limit}-N({guard}))-{upper_bound}")
            bounds.append("{upper_bound}")
        known = f"COUNT({','.join(bounds)})={len(bounds)}"
        found["margin"] = self._formula(f'IF({known},MIN({",".join(sides)}),"{OTHER_N}")', e.margin)
        return found

    def _bound(self, bound: float | None, *, side: str) -> SheetValue:
        if bound is None or self.block is None or not self._follows_values():
            return bound
        sign = "-" if side == "lower" else "+"
        if self.approach == "normal":
            rebuilt = f"{{mean}}{sign}{{k}}*{{sd}}"
        elif self.approach == "lognormal":
            logs = self._range("logarithm")
            rebuilt = f"EXP(AVERAGE({logs}){sign}{{k}}*STDEV.S({logs}))"
        else:
            function = "SMALL" if side == "lower" else "LARGE"
            rebuilt = f"{function}({self._range('value')},{self._rank()})"
        return self._formula(f'IF({{n}}={{k_n}},{rebuilt},"{OTHER_N}")', bound)

    def _rank(self) -> int:
        """Which value from each bounded end the bound is."""
        e = self.evaluation
        if e.confidence is None or e.reliability is None or e.side is None:
            raise ValueError(f"evaluation {e.key!r} has a bound without a claim")
        return order_statistic_largest_order(e.n, confidence=e.confidence, coverage=e.reliability, side=e.side)

    def _compared(self) -> str:
        values = self._range("value")
        return half_even(values, "{decimals}") if self.rounds else values

    def _is_censored(self) -> bool:
        return any(value.censored for value in self.evaluation.values)

    def _outside(self) -> list[str]:
        """Terms that count the values certainly outside; a censored value counts on the side it is sure of."""
        values, compared = self._range("value"), self._compared()
        terms = []
        for limit, sign, spared in (("lower_limit", "<", "at least"), ("upper_limit", ">", "at most")):
            if getattr(self.evaluation, limit) is not None:
                sure = f'*({self._range("censored")}<>"{spared}")' if self._is_censored() else ""
                terms.append(f"SUMPRODUCT(ISNUMBER({values})*({compared}{sign}{{{limit}}}){sure})")
        return terms

    def _unclear(self) -> list[str]:
        """Terms that count the values of which censoring hides on which side of a limit they are."""
        if not self._is_censored():
            return []
        e, compared, censored = self.evaluation, self._compared(), self._range("censored")
        above = "<={upper_limit}" if e.upper_limit is not None else "<{lower_limit}"
        below = ">={lower_limit}" if e.lower_limit is not None else ">{upper_limit}"
        return [
            f'SUMPRODUCT(({censored}="at least")*({compared}{above}))',
            f'SUMPRODUCT(({censored}="at most")*({compared}{below}))',
        ]

    def _verdicts(self) -> Cells:
        e = self.evaluation
        found: Cells = {"program": e.verdict.value, "outside": 0}
        if self.block is None:
            found["verdict"] = "not tested"
        elif not self.is_measured:
            found["outside"] = self._formula(f'COUNTIF({self._range("outcome")},"fail")', e.failures or 0)
        elif self.by_attribute:
            # a value that may hide a failure does not count as conforming
            found["outside"] = self._formula("+".join(self._outside() + self._unclear()), e.failures or 0)
        else:
            found["outside"] = self._formula("+".join(self._outside()), _figure(e, "outside"))
            if unclear := self._unclear():
                found["unclear"] = self._formula("+".join(unclear), self._count_unclear())
        if self.by_attribute and e.achieved_reliability is not None:
            shown = "IF({outside}>={n},0,BETA.INV(1-{confidence},{n}-{outside},{outside}+1))"
            found["shown"] = self._formula(shown, e.achieved_reliability)
        if "verdict" not in found:
            found["verdict"] = "not demonstrated" if e.confidence is None else self._formula(*self._verdict())
        same = found["verdict"] == e.verdict.value or isinstance(found["verdict"], Formula)
        found["agrees"] = self._formula('IF({verdict}={program},"yes","NO")', "yes" if same else "NO")
        return found

    def _verdict(self) -> tuple[str, str]:
        """The same order of questions as the program asks them (see DEVELOPERS.md)."""
        if self.by_attribute:
            too_many, clears = "{outside}>{allowed}", "{shown}>={reliability}"
        else:
            clears = self._clears()
            too_many = "{outside}>0" if self.plan.every_specimen_conforms else f"AND({{outside}}>0,NOT({clears}))"
        pattern = (
            'IF({n}=0,"not tested",IF({counts}="no","not demonstrated",IF('
            + too_many
            + ',"not met",IF({outstanding}+N({unclear})>0,"not demonstrated",IF('
            + clears
            + ',"met","not demonstrated")))))'
        )
        return pattern, self.evaluation.verdict.value

    def _clears(self) -> str:
        parts = []
        for limit, bound, test in (
            ("lower_limit", "lower_bound", ">=({lower_limit}+N({guard}))"),
            ("upper_limit", "upper_bound", "<=({upper_limit}-N({guard}))"),
        ):
            if getattr(self.evaluation, limit) is not None:
                compared = half_even(f"{{{bound}}}", "{decimals}") if self.rounds else f"{{{bound}}}"
                parts.append(f"IF(ISNUMBER({{{bound}}}),{compared}{test},FALSE)")
        return f"AND({','.join(parts)})"

    def _count_unclear(self) -> int:
        """How many the program found unclear: it keeps no number of them, so they are counted by its rule."""
        e, count = self.evaluation, 0
        for value in e.values:
            if value.value is None or not value.censored:
                continue
            compared = value.value
            if self.rounds:
                compared = float(rounding.parsed(rounding.nearest(compared, e.limit_decimals)))
            if value.censored == "above":
                count += compared <= e.upper_limit if e.upper_limit is not None else compared < (e.lower_limit or 0.0)
            else:
                count += compared >= e.lower_limit if e.lower_limit is not None else compared > (e.upper_limit or 0.0)
        return count

    def _how(self) -> str:
        e = self.evaluation
        if not e.interval_method:
            return e.reason
        if self.by_attribute or self._follows_values():
            return e.interval_method
        return f"value of the program, not rebuilt here: {e.interval_method}"

    def _formatted(self, name: str, value: SheetValue) -> SheetValue:
        """Figures with the decimals that documents print: readings and limits their own, statistics some more."""
        if isinstance(value, bool) or not isinstance(value, float | int | Formula):
            return value
        decimals = self._decimals(name, value.cached if isinstance(value, Formula) else value)
        return value if decimals is None else Formatted(value=value, number_format=number_format(decimals))

    def _decimals(self, name: str, number: float | str | bool) -> int | None:
        e = self.evaluation
        if name in {"minimum", "maximum"}:
            return e.data_decimals
        if name in {"mean", "sd", "guard"}:
            return e.statistic_decimals
        if isinstance(number, str):
            return None
        if name in {"lower_limit", "upper_limit"}:
            return _places(rounding.limit(number, e.limit_decimals))
        limit = {"lower_bound": e.lower_limit, "upper_bound": e.upper_limit, "margin": 0.0}.get(name)
        if limit is None:
            return None
        # never displayed on the other side of its limit than it is
        return _places(rounding.reading(number, e.statistic_decimals, lower=limit, upper=limit))


def _figure(evaluation: Evaluation, name: str) -> float:
    figures = {figure.name: figure.value for step in evaluation.steps for figure in step.figures}
    return figures.get(name, 0.0)


def _places(text: str) -> int:
    """How many decimals a printed number has."""
    return len(text.partition(".")[2])
