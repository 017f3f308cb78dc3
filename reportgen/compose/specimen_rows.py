"""One specimen as a row of a data sheet: what was filed, and beside it, live, what the figures make of it.

The filed part is plain values: the value or outcome, the side of a censored value, and whether the specimen counts.
The live part follows it by formulas with the names of columns (`{value}` is this row's cell in the column 'value').
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from reportgen import rounding
from reportgen.acceptance.records import Evaluation, Outcome, SetAside, SpecimenValue
from reportgen.compose.live_formulas import half_even
from reportgen.compose.records import Formatted, Formula, SheetValue
from reportgen.problems import Place
from reportgen.project.records import AnalysisPlan, LotRule, RoundingMethod
from reportgen.stats.normality import anderson_darling_terms

Row = dict[str, SheetValue]
COUNTS, LEFT_OUT = "yes", "no"
CENSORED = {"above": "at least", "below": "at most"}
CONFORMS, FAILS, OPEN = "yes", "no", "open"
# the sizes at which the Anderson-Darling check is made anew: below the least the plan goes by another check, and each
# rank costs a look at all values
LEAST_CHECKED, MOST_CHECKED = 8, 2000
_ON_NORMAL_SCALE = frozenset({"normal", "lognormal"})


@dataclass(frozen=True, kw_only=True)
class Judging:
    """How the specimens of one evaluation are judged, and how far worksheet functions can follow a change of them.

    `cells` names the cells of `n`, `lower_limit`, `upper_limit` and `decimals` as formulas of a data sheet write them.
    """

    evaluation: Evaluation
    plan: AnalysisPlan
    cells: Mapping[str, str]

    @property
    def is_rounded(self) -> bool:
        return self.plan.rounding is RoundingMethod.ROUNDING

    @property
    def by_attribute(self) -> bool:
        return self.evaluation.approach_used == "attribute"

    @cached_property
    def is_measured(self) -> bool:
        if not self.evaluation.values:
            return self.evaluation.kind == "variable"
        return any(value.value is not None for value in self.evaluation.values)

    @cached_property
    def is_censored(self) -> bool:
        return any(value.censored for value in self.evaluation.values)

    @cached_property
    def rebuilt_as(self) -> str:
        """The approach by which worksheet functions rebuild the bound from the values; '' where they cannot."""
        e, plan = self.evaluation, self.plan
        approach, _, censored = e.approach_used.partition(", ")
        if e.confidence is None or not self.is_measured:
            return ""
        if approach == "distribution_free":
            return approach
        if approach in _ON_NORMAL_SCALE and not censored:
            return approach
        is_rejected = any(step.name == "distribution" and step.outcome is Outcome.FAILED for step in e.steps)
        if not approach and is_rejected and plan.fallback is None and plan.lots is not LotRule.BETWEEN_LOT:
            return plan.approach.value if plan.approach.value in _ON_NORMAL_SCALE else ""
        return ""

    @property
    def is_checked(self) -> bool:
        """Whether the plan asks of these values to agree with the normal distribution."""
        return self.rebuilt_as in _ON_NORMAL_SCALE and self.plan.normality_alpha is not None

    @cached_property
    def is_frozen(self) -> bool:
        """Whether a change may turn a check that worksheet functions cannot make anew."""
        e, plan = self.evaluation, self.plan
        if plan.lots is LotRule.POOL_IF_COMPATIBLE:
            compared = any(step.name == "lots" and step.outcome is not Outcome.PASSED for step in e.steps)
            if compared or len(e.lots) > 1:
                return True
        if e.approach_used.partition(", ")[0] not in {"", plan.approach.value}:
            return True
        return self.is_checked and not LEAST_CHECKED <= e.n <= MOST_CHECKED

    @property
    def has_terms(self) -> bool:
        return self.is_checked and not self.is_frozen

    @cached_property
    def terms(self) -> tuple[float, ...]:
        """The parts of the Anderson-Darling statistic, one for each value; none where it cannot be computed."""
        numbers = [value.value for value in self.evaluation.values if value.value is not None]
        if self.rebuilt_as == "lognormal":
            if min(numbers) <= 0:
                return ()
            numbers = [math.log(number) for number in numbers]
        return anderson_darling_terms(numbers) if min(numbers) < max(numbers) else ()

    def compared(self, value: float) -> float:
        if not self.is_rounded:
            return value
        return float(rounding.parsed(rounding.nearest(value, self.evaluation.limit_decimals)))

    def conformance(self, value: SpecimenValue) -> str:
        """The same answer as the formula of the column 'Conforms' gives."""
        if value.value is None:
            return CONFORMS if value.conforming else FAILS
        compared, lower, upper = self.compared(value.value), self.evaluation.lower_limit, self.evaluation.upper_limit
        is_low = lower is not None and compared < lower
        is_high = upper is not None and compared > upper
        if (is_low and value.censored != "above") or (is_high and value.censored != "below"):
            return FAILS
        if value.censored == "above" and (is_low or upper is not None):
            return OPEN
        if value.censored == "below" and (is_high or lower is not None):
            return OPEN
        return CONFORMS


def specimen_rows(judging: Judging) -> list[Row]:
    """Those that count, in the program's order, and after them those that were left out."""
    values = judging.evaluation.values
    terms: tuple[float | None, ...] = judging.terms if judging.has_terms else ()
    terms = terms or (None,) * len(values)
    counting = [_counting_row(judging, value, term) for value, term in zip(values, terms, strict=True)]
    return counting + [_set_aside_row(judging, entry) for entry in judging.evaluation.set_aside]


def _counting_row(judging: Judging, value: SpecimenValue, term: float | None) -> Row:
    e = judging.evaluation
    row: Row = {
        "key": e.key,
        "specimen": value.specimen,
        "lot": value.lot,
        "model": value.model,
        "condition": value.condition,
        "censored": CENSORED.get(value.censored, ""),
        "counts": COUNTS,
        "failure_mode": value.failure_mode,
        **_origin(value.place),
    }
    if value.value is not None:
        row["value"] = Formatted(value=value.value, number_format=number_format(e.data_decimals))
        row["unit"] = e.unit
    else:
        row["outcome"] = "pass" if value.conforming else "fail"
    return row | _live(judging, value, term)


def _set_aside_row(judging: Judging, entry: SetAside) -> Row:
    e = judging.evaluation
    filed = f" (filed: {entry.filed_value})" if entry.filed_value else ""
    return {
        "key": e.key,
        "specimen": entry.specimen,
        "lot": entry.lot,
        "condition": entry.condition,
        **({"value": None, "unit": e.unit} if judging.is_measured else {"outcome": ""}),
        "counts": f"{LEFT_OUT}: {entry.cause or 'no cause recorded'}{filed}",
        "failure_mode": entry.failure_mode,
        **_origin(entry.place),
        **_live(judging, None, None),
    }


def _live(judging: Judging, value: SpecimenValue | None, term: float | None) -> Row:
    """Formulas still with the names of columns in them; a specimen that does not count has '' in each."""
    conforms = "" if value is None else judging.conformance(value)
    if not judging.is_measured:
        return {"conforms": Formula(text=_OUTCOME_CONFORMS, cached=conforms)}
    number = None if value is None else value.value
    decimals = number_format(judging.evaluation.data_decimals)
    row: Row = {
        "used": Formatted(
            value=Formula(text=_USED, cached="" if number is None else number),
            number_format=decimals,
        ),
        "conforms": Formula(text=_conforms(judging), cached=conforms),
    }
    scale = "used"
    if judging.rebuilt_as == "lognormal":
        scale = "logarithm"
        row[scale] = Formula(text=_LOGARITHM, cached=math.log(number) if number and number > 0 else "")
    if judging.has_terms:
        row["term"] = Formula(text=_term(scale, judging.cells["n"]), cached="" if term is None else term)
    if judging.is_rounded:
        rounded = Formula(
            text=f'IF(ISNUMBER({{used}}),{half_even("{used}", judging.cells["decimals"])},"")',
            cached="" if number is None else judging.compared(number),
        )
        row["rounded"] = Formatted(value=rounded, number_format=number_format(judging.evaluation.limit_decimals))
    return row


_USED = f'IF(AND({{counts}}="{COUNTS}",ISNUMBER({{value}})),{{value}},"")'
_LOGARITHM = 'IF(ISNUMBER({used}),IF({used}>0,LN({used}),""),"")'
_OUTCOME_CONFORMS = (
    f'IF({{counts}}<>"{COUNTS}","",IF({{outcome}}="pass","{CONFORMS}",IF({{outcome}}="fail","{FAILS}","")))'
)


def _term(scale: str, n: str) -> str:
    """This value's part of the Anderson-Darling statistic: its rank weighs the logarithms of both tails."""
    x, each = f"{{{scale}}}", f"{{each_{scale}}}"
    z = f"STANDARDIZE({x},AVERAGE({each}),STDEV.S({each}))"
    rank = f"RANK.AVG({x},{each},1)"
    below, above = (f"LN(MAX(NORM.S.DIST({sign}{z},TRUE),1E-300))" for sign in ("", "-"))
    part = f"(2*{rank}-1)*{below}+(2*({n}-{rank})+1)*{above}"
    # a sample without spread has no such statistic
    return f'IF(ISNUMBER({x}),IFERROR({part},""),"")'


def _conforms(judging: Judging) -> str:
    """Certainly outside, open, or conforming: at the limit conforms; a censored value is sure of one side only."""
    e, cells = judging.evaluation, judging.cells
    compared = "{rounded}" if judging.is_rounded else "{used}"
    outside, unclear = [], []
    limits = (
        (e.lower_limit, f"{compared}<{cells['lower_limit']}", "above", "below"),
        (e.upper_limit, f"{compared}>{cells['upper_limit']}", "below", "above"),
    )
    for limit, beyond, spared, hidden in limits:
        if limit is None:
            continue
        if not judging.is_censored:
            outside.append(beyond)
            continue
        outside.append(f'AND({beyond},{{censored}}<>"{CENSORED[spared]}")')
        # stopped beyond the limit without being sure, or stopped where the limit may still be passed
        unclear += [f'AND({beyond},{{censored}}="{CENSORED[spared]}")', f'{{censored}}="{CENSORED[hidden]}"']
    inside = f'IF(OR({",".join(unclear)}),"{OPEN}","{CONFORMS}")' if unclear else f'"{CONFORMS}"'
    return f'IF(ISNUMBER({{used}}),IF(OR({",".join(outside)}),"{FAILS}",{inside}),"")'


def number_format(decimals: int) -> str:
    """A spreadsheet format with so many decimals."""
    return "0" if decimals <= 0 else "0." + "0" * decimals


def _origin(place: Place) -> Row:
    return {"file": place.file, "sheet": place.sheet or "", "row": place.row}
