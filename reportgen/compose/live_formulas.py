"""Formulas that more than one sheet is built from: written once, so that no two sheets reckon differently.

Functions are named as in English spreadsheets; every piece is text without a leading '='.
"""

from __future__ import annotations

from collections.abc import Iterable

from reportgen.acceptance.records import Verdict

# what stands in a cell that worksheet functions cannot bring up to date after a change
RECOMPUTE = "needs recomputing"
NO_BOUND = "no bound"
NO_APPROXIMATION = "none"


def half_even(value: str, decimals: str) -> str:
    """ASTM E29 rounding, half to even, of a cell."""
    scaled = f"({value}*10^{decimals})"
    tie = f"ABS(ABS({scaled}-INT({scaled}))-0.5)<1E-9"
    return f"(({tie})*2*ROUND({scaled}/2,0)+(1-({tie}))*ROUND({scaled},0))/10^{decimals}"


def one_sided_approximation(n: str, confidence: str, reliability: str) -> str:
    """Natrella's closed approximation of the one-sided normal factor (NIST e-Handbook 7.2.6.3); 'none' for small n."""
    a = f"(1-NORM.S.INV({confidence})^2/(2*({n}-1)))"
    b = f"(NORM.S.INV({reliability})^2-NORM.S.INV({confidence})^2/{n})"
    factor = f"(NORM.S.INV({reliability})+SQRT(NORM.S.INV({reliability})^2-{a}*{b}))/{a}"
    return f'IFERROR(IF({a}<=0,"{NO_APPROXIMATION}",{factor}),"{NO_APPROXIMATION}")'


def two_sided_approximation(n: str, confidence: str, reliability: str) -> str:
    """Howe's approximation of the two-sided normal factor (NIST e-Handbook 7.2.6.3)."""
    factor = f"NORM.S.INV((1+{reliability})/2)*SQRT(({n}-1)*(1+1/{n})/CHISQ.INV(1-{confidence},{n}-1))"
    return f'IFERROR({factor},"{NO_APPROXIMATION}")'


def anderson_darling_p(adjusted: str) -> str:
    """The p-value of the adjusted Anderson-Darling statistic, by the formula of D'Agostino and Stephens (1986)."""
    pieces = (
        ("<0.2", "1-EXP(-13.436+101.14*{a}-223.73*{a}^2)"),
        ("<0.34", "1-EXP(-8.318+42.796*{a}-59.938*{a}^2)"),
        ("<0.6", "EXP(0.9177-4.279*{a}-1.38*{a}^2)"),
    )
    formula = "EXP(1.2937-5.709*MIN({a},10)+0.0186*MIN({a},10)^2)"
    for test, piece in reversed(pieces):
        formula = f"IF({{a}}{test},{piece},{formula})"
    return formula.format(a=adjusted)


def worst_verdict(chosen: str, verdicts: str) -> str:
    """The verdict over some rows: the worst, and 'not demonstrated' where some are tested and others are not.

    Args:
        chosen: an array that is 1 (or TRUE) in the rows that are meant. verdicts: the range of their verdicts.
    """

    def count(test: str) -> str:
        return f"SUMPRODUCT({chosen}*({verdicts}{test}))"

    failed, unsure = count('="not met"'), count(f'="{RECOMPUTE}"')
    unmet, tested = count('<>"met"'), count('<>"not tested"')
    return (
        f'IF({failed}>0,"not met",IF({unsure}>0,"{RECOMPUTE}",IF({unmet}=0,"met",'
        f'IF({tested}=0,"not tested","not demonstrated"))))'
    )


def worst_of(verdicts: Iterable[Verdict]) -> Verdict:
    """The same answer as the formula gives."""
    found = set(verdicts)
    if Verdict.NOT_MET in found:
        return Verdict.NOT_MET
    return found.pop() if len(found) == 1 else Verdict.NOT_DEMONSTRATED if found else Verdict.NOT_TESTED
