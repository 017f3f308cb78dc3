"""One specimen as a row of a data sheet: what was filed, and beside it, live, what the figures make of it.

The filed part is plain values: the value or outcome, the side of a censored value, and whether the specimen counts.
The live part follows it by formulas with the names of columns (`{value}` is this row's cell in the column 'value').
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from reportgen import rounding
from reportgen.acceptance.records import Evaluation, SetAside, SpecimenValue
from reportgen.compose.live_formulas import half_even
from reportgen.compose.records import Formatted, Formula, SheetValue
from reportgen.problems import Place

Row = dict[str, SheetValue]
COUNTS, LEFT_OUT = "yes", "no"
CENSORED = {"above": "at least", "below": "at most"}
CONFORMS, FAILS, OPEN = "yes", "no", "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judging:
    """How the specimens of one evaluation are judged.

    `is_rounded`: values are rounded to the limit's last place before they are compared. `cells` names the cells of
    `lower_limit`, `upper_limit` and `decimals` as formulas of a data sheet write them.
    """

    evaluation: Evaluation
    is_rounded: bool
    cells: Mapping[str, str]

    @property
    def is_measured(self) -> bool:
        if not self.evaluation.values:
            return self.evaluation.kind == "variable"
        return any(value.value is not None for value in self.evaluation.values)

    @property
    def has_logarithms(self) -> bool:
        return self.evaluation.approach_used == "lognormal"

    @property
    def is_censored(self) -> bool:
        return any(value.censored for value in self.evaluation.values)

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


def counting_row(judging: Judging, value: SpecimenValue) -> Row:
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
    return row | _live(judging, value)


def set_aside_row(judging: Judging, entry: SetAside) -> Row:
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
        **_live(judging, None),
    }


def _live(judging: Judging, value: SpecimenValue | None) -> Row:
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
    if judging.has_logarithms:
        is_positive = number is not None and number > 0
        row["logarithm"] = Formula(text=_LOGARITHM, cached=math.log(number) if number and is_positive else "")
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
