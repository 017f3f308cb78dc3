"""One evaluation as a row of live formulas.

Formulas are written with the names of columns (`{n}` is this row's cell in the column n) and of the block's ranges
(`{each_used}` is the column 'used' of the evaluation's specimens), so that no formula goes astray when one moves.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reportgen import rounding
from reportgen.compose.data_sheets import Block
from reportgen.compose.factors_sheet import Factors
from reportgen.compose.live_formulas import (
    NO_APPROXIMATION,
    NO_BOUND,
    RECOMPUTE,
    anderson_darling_p,
    half_even,
    one_sided_approximation,
    two_sided_approximation,
)
from reportgen.compose.records import Formatted, Formula, Hyperlink, SheetValue
from reportgen.compose.specimen_rows import CENSORED, FAILS, LEAST_CHECKED, LEFT_OUT, OPEN, Judging, number_format
from reportgen.stats.approximations import howe_two_sided_factor, natrella_one_sided_factor
from reportgen.stats.normality import anderson_darling_p_value
from reportgen.stats.order_statistics import order_statistic_largest_order

Cells = dict[str, SheetValue]
_IN_PLACE, _MOVED = "yes", "no"
_AS_FILED, _CHANGED = "no", "yes"


def row_cells(judging: Judging, factors: Factors, block: Block | None, cells: Mapping[str, str]) -> Cells:
    """The row by column names; a name that is absent is a blank cell.

    Args:
        block: where the specimens stand, None without any. cells: this row's cell in each column, by its name.
    """
    return _Row(judging, factors, block, cells).values()


class _Row:
    def __init__(self, judging: Judging, factors: Factors, block: Block | None, cells: Mapping[str, str]):
        self.judging, self.evaluation, self.plan, self.factors = judging, judging.evaluation, judging.plan, factors
        self.block = block
        self.approach = judging.rebuilt_as if block else ""
        ranges = {} if block is None else {f"each_{name}": block.cells(name) for name in block.letters}
        top = {} if block is None else {"first_row": f"ROW({block.first_cell})"}
        self._cells = {**cells, **ranges, **top}

    def values(self) -> Cells:
        found = self._facts() | self._counts() | self._statistics() | self._check() | self._factor() | self._bounds()
        found |= self._verdicts()
        return {name: self._formatted(name, value) for name, value in found.items()}

    def _formula(self, pattern: str, cached: float | str | bool | None) -> Formula:
        return Formula(text=pattern.format_map(self._cells), cached="" if cached is None else cached)

    def _facts(self) -> Cells:
        e, key = self.evaluation, self.evaluation.key
        found: Cells = {
            "key": key
            if self.block is None
            else Hyperlink(text=key, sheet=self.block.sheet, cell=f"A{self.block.first}"),
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
            "decimals": e.limit_decimals if self.judging.is_rounded else None,
            "allowed": self.plan.allowed_failures if self.judging.by_attribute else None,
            "counts": "no" if e.standing else "yes",
            "how": self._how(),
        }
        if self.block is not None:
            # sorted or pasted over, the rows of a block may belong to another evaluation
            whole = f'IF(SUMPRODUCT(--({{each_key}}={{key}}))=ROWS({{each_key}}),"{_IN_PLACE}","{_MOVED}")'
            found["in_place"] = self._formula(whole, _IN_PLACE)
            found["changed"] = self._formula(f'IF({self._is_unchanged()},"{_AS_FILED}","{_CHANGED}")', _AS_FILED)
        return found

    def _counts(self) -> Cells:
        e, n_aside = self.evaluation, len(self.evaluation.set_aside)
        found: Cells = {
            "planned": e.n_planned,
            "n": 0,
            "set_aside": 0,
            "share": self._formula("IF({planned}=0,0,{n}/{planned})", e.n / e.n_planned if e.n_planned else 0.0),
            # what a deviation accounts for: the rest of the plan that neither has a result nor waits for one
            "excused": max(0, e.n_planned - e.n - n_aside - e.n_missing),
            "outstanding": self._formula("MAX(0,{planned}-{n}-{set_aside}-{excused})", e.n_missing),
        }
        if self.block is None:
            return found
        # a word that is neither pass nor fail has no answer, and is no result
        counted = "COUNT({each_used})" if self.judging.is_measured else 'SUMPRODUCT(--({each_conforms}<>""))'
        aside = f'SUMPRODUCT(--(LEFT({{each_counts}},{len(LEFT_OUT)})="{LEFT_OUT}"))'
        return found | {"n": self._formula(counted, e.n), "set_aside": self._formula(aside, n_aside)}

    def _statistics(self) -> Cells:
        e = self.evaluation
        if self.block is None or not self.judging.is_measured:
            return {}
        functions = (("minimum", "MIN", 1), ("maximum", "MAX", 1), ("mean", "AVERAGE", 1), ("sd", "STDEV.S", 2))
        return {
            name: self._formula(f'IF({{n}}<{least},"",{function}({{each_used}}))', getattr(e, name))
            for name, function, least in functions
            if not (self.judging.by_attribute and name in {"mean", "sd"})
        }

    def _check(self) -> Cells:
        """Agreement with the normal distribution, made anew from the values or their logarithms."""
        if not self.judging.has_terms:
            return {}
        n, terms = self.evaluation.n, self.judging.terms
        statistic: float | str = "no spread"
        p: float | str = "no spread"
        if terms:
            statistic = (-n - sum(terms) / n) * (1 + 0.75 / n + 2.25 / n**2)
            p = anderson_darling_p_value(statistic)
        complete = "AND({n}>2,COUNT({each_term})={n})"
        adjusted = "(-{n}-SUM({each_term})/{n})*(1+0.75/{n}+2.25/{n}^2)"
        return {
            "alpha": self.plan.normality_alpha,
            "a2": self._formula(f'IF({complete},{adjusted},"no spread")', statistic),
            "p": self._formula(
                f'IF({{n}}<{LEAST_CHECKED},"{RECOMPUTE}",IF(ISNUMBER({{a2}}),{anderson_darling_p("{a2}")},{{a2}}))', p
            ),
        }

    def _factor(self) -> Cells:
        e = self.evaluation
        if not self.approach or e.confidence is None or e.reliability is None or e.side is None:
            return {"k": e.k}
        name = "rank" if self.approach == "distribution_free" else "k"
        arguments = [self._cells[column] for column in ("confidence", "reliability", "side", "n")]
        looked_up = self.factors.lookup(name, arguments)
        if name == "rank":
            order = order_statistic_largest_order(e.n, confidence=e.confidence, coverage=e.reliability, side=e.side)
            return {"rank": self._formula(looked_up, order if e.n > 1 else NO_BOUND)}
        near: float | None = None
        k: float | str = NO_BOUND
        if e.n > 1:
            approximation = howe_two_sided_factor if e.side == "both" else natrella_one_sided_factor
            near = approximation(e.n, confidence=e.confidence, coverage=e.reliability)
            k = self.factors.k(e.confidence, e.reliability, e.side, e.n)
        written = two_sided_approximation if e.side == "both" else one_sided_approximation
        off = 'IF(COUNT({k},{k_check})=2,{k_check}/{k}-1,"")'
        return {
            "k": self._formula(looked_up, k),
            "k_check": self._formula(
                written("{n}", "{confidence}", "{reliability}"), NO_APPROXIMATION if near is None else near
            ),
            "k_off": self._formula(off, near / k - 1.0 if near is not None and not isinstance(k, str) else ""),
        }

    def _bounds(self) -> Cells:
        e = self.evaluation
        if self.block is None or not self.judging.is_measured or e.confidence is None:
            return {}
        if self.judging.by_attribute:
            return {}
        found: Cells = {}
        sides = []
        if e.lower_limit is not None:
            found["lower_bound"] = self._bound(e.lower_bound, side="lower")
            sides.append(("{lower_bound}", "{lower_bound}-({lower_limit}+N({guard}))"))
        if e.upper_limit is not None:
            found["upper_bound"] = self._bound(e.upper_bound, side="upper")
            sides.append(("{upper_bound}", "({upper_limit}-N({guard}))-{upper_bound}"))
        bounds, margins = (",".join(part) for part in zip(*sides, strict=True))
        # without a bound the margin says what the bound says
        pattern = f"IF(COUNT({bounds})={len(sides)},MIN({margins}),{sides[0][0]})"
        return found | {"margin": self._formula(pattern, NO_BOUND if e.margin is None else e.margin)}

    def _bound(self, bound: float | None, *, side: str) -> Formula:
        """Live; where a check or the approach is beyond worksheet functions, only as long as nothing has changed."""
        cached = NO_BOUND if bound is None else bound
        as_filed = f'"{NO_BOUND}"' if bound is None else repr(bound)
        rebuilt = self._rebuilt(side) if self.approach else as_filed
        if not self.approach or self.judging.is_frozen:
            return self._formula(f'IF({{changed}}="{_AS_FILED}",{rebuilt},"{RECOMPUTE}")', cached)
        if self.judging.has_terms:
            # without agreement the plan goes on to its fallback, or ends
            rejected = NO_BOUND if self.plan.fallback is None else RECOMPUTE
            rebuilt = f'IF(IF(ISNUMBER({{p}}),{{p}}<{{alpha}},FALSE),"{rejected}",{rebuilt})'
            rebuilt = f'IF({{p}}="{RECOMPUTE}","{RECOMPUTE}",{rebuilt})'
        return self._formula(rebuilt, cached)

    def _rebuilt(self, side: str) -> str:
        """The bound from the values; 'no bound' where the sample is one that the approach cannot hold."""
        sign = "-" if side == "lower" else "+"
        if self.approach == "distribution_free":
            function = "SMALL" if side == "lower" else "LARGE"
            return f'IF(ISNUMBER({{rank}}),IF({{rank}}=0,"{NO_BOUND}",{function}({{each_used}},{{rank}})),{{rank}})'
        if self.approach == "normal":
            holds, rebuilt = "{sd}>0", f"{{mean}}{sign}{{k}}*{{sd}}"
        else:
            logs = "{each_logarithm}"
            holds = f"IF(COUNT({logs})={{n}},STDEV.S({logs})>0,FALSE)"
            rebuilt = f"EXP(AVERAGE({logs}){sign}{{k}}*STDEV.S({logs}))"
        return f'IF(ISNUMBER({{k}}),IF({holds},{rebuilt},"{NO_BOUND}"),{{k}})'

    def _is_unchanged(self) -> str:
        """A test that the specimens are those the program judged, in their order: sums that a change would move."""
        e, judging = self.evaluation, self.judging
        place = "(ROW({each_conforms})-{first_row}+1)"
        tests = [f"{{n}}={e.n}", f"{{set_aside}}={len(e.set_aside)}"]
        if judging.is_measured:
            numbers = [value.value or 0.0 for value in e.values]
            weighed = sum(at * number for at, number in enumerate(numbers, start=1))
            rounding_error = 1e-12 * max(map(abs, numbers), default=0.0) * len(numbers)
            tests += [
                f"ABS(SUM({{each_used}})-{sum(numbers)!r})<={rounding_error!r}",
                f"ABS(SUMPRODUCT({{each_used}},{place})-{weighed!r})<={rounding_error * len(numbers)!r}",
            ]
        answers = [judging.conformance(value) for value in e.values]
        for answer in (FAILS, OPEN) if judging.is_censored else (FAILS,):
            at = sum(at for at, found in enumerate(answers, start=1) if found == answer)
            tests.append(f'SUMPRODUCT(({{each_conforms}}="{answer}")*{place})={at}')
        if judging.is_censored:
            for kind, word in CENSORED.items():
                at = sum(at for at, value in enumerate(e.values, start=1) if value.censored == kind)
                tests.append(f'SUMPRODUCT(({{each_censored}}="{word}")*{place})={at}')
        return f"AND({','.join(tests)})"

    def _verdicts(self) -> Cells:
        e = self.evaluation
        found: Cells = {"program": e.verdict.value, "outside": 0}
        if self.block is None:
            return found | {
                "verdict": "not tested",
                "agrees": self._formula('IF({verdict}={program},"yes","NO")', "yes"),
            }
        answers = [self.judging.conformance(value) for value in e.values]
        failing, unclear = answers.count(FAILS), answers.count(OPEN)
        count = 'COUNTIF({{each_conforms}},"{}")'.format
        if self.judging.by_attribute:
            # a value that may hide a failure does not count as conforming
            found["outside"] = self._formula(f"{count(FAILS)}+{count(OPEN)}", failing + unclear)
            if e.achieved_reliability is not None:
                shown = "IF({outside}>={n},0,BETA.INV(1-{confidence},{n}-{outside},{outside}+1))"
                found["shown"] = self._formula(shown, e.achieved_reliability)
        else:
            found["outside"] = self._formula(count(FAILS), failing)
            if self.judging.is_censored:
                found["unclear"] = self._formula(count(OPEN), unclear)
        found["verdict"] = self._formula(self._verdict(), e.verdict.value)
        found["agrees"] = self._formula('IF({verdict}={program},"yes","NO")', "yes")
        return found

    def _verdict(self) -> str:
        """The same order of questions as the program asks them (see DEVELOPERS.md)."""
        asked = [
            ("{n}=0", "not tested"),
            (f'{{in_place}}="{_MOVED}"', RECOMPUTE),
            ('{counts}="no"', "not demonstrated"),
        ]
        if self.evaluation.confidence is None:
            return _first_of(asked, otherwise="not demonstrated")
        waiting = ("{outstanding}+N({unclear})>0", "not demonstrated")
        if self.judging.by_attribute:
            judged = [("{outside}>{allowed}", "not met"), waiting, ("{shown}>={reliability}", "met")]
            return _first_of([*asked, *judged], otherwise="not demonstrated")
        stale, clears = f'OR({{lower_bound}}="{RECOMPUTE}",{{upper_bound}}="{RECOMPUTE}")', self._clears()
        if self.plan.every_specimen_conforms:
            asked.append(("{outside}>0", "not met"))
        else:
            asked += [
                (f"AND({{outside}}>0,{stale})", RECOMPUTE),
                (f"AND({{outside}}>0,NOT({clears}))", "not met"),
            ]
        return _first_of([*asked, waiting, (stale, RECOMPUTE), (clears, "met")], otherwise="not demonstrated")

    def _clears(self) -> str:
        parts = []
        for limit, bound, test in (
            ("lower_limit", "{lower_bound}", ">=({lower_limit}+N({guard}))"),
            ("upper_limit", "{upper_bound}", "<=({upper_limit}-N({guard}))"),
        ):
            if getattr(self.evaluation, limit) is not None:
                compared = half_even(bound, "{decimals}") if self.judging.is_rounded else bound
                parts.append(f"IF(ISNUMBER({bound}),{compared}{test},FALSE)")
        return f"AND({','.join(parts)})"

    def _how(self) -> str:
        e = self.evaluation
        if not e.interval_method:
            return e.reason
        if self.judging.by_attribute or (self.approach and not self.judging.is_frozen):
            return e.interval_method
        return f"{e.interval_method} (does not follow a change)"

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
        limit = {"lower_bound": e.lower_limit, "upper_bound": e.upper_limit, "margin": 0.0}.get(name)
        if isinstance(number, str):
            return None if limit is None else e.bound_decimals
        if name in {"lower_limit", "upper_limit"}:
            return _places(rounding.limit(number, e.limit_decimals))
        if limit is None:
            return None
        # never displayed on the other side of its limit than it is
        return _places(rounding.reading(number, e.bound_decimals, lower=limit, upper=limit))


def _first_of(cases: Sequence[tuple[str, str]], *, otherwise: str) -> str:
    """The answer to the first test that holds."""
    formula = f'"{otherwise}"'
    for test, answer in reversed(cases):
        formula = f'IF({test},"{answer}",{formula})'
    return formula


def _places(text: str) -> int:
    """How many decimals a printed number has."""
    return len(text.partition(".")[2])
