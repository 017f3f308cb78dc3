"""Acceptance statistics as pure functions of numbers: no files, no project, no clock; importable on its own."""

from reportgen.stats.normality import (
    ResolutionCheck,
    anderson_darling,
    cmh17_significance_level,
    kurtosis,
    lilliefors,
    resolution_check,
    shapiro_wilk,
    skewness,
)

__all__ = [
    "ResolutionCheck",
    "anderson_darling",
    "cmh17_significance_level",
    "kurtosis",
    "lilliefors",
    "resolution_check",
    "shapiro_wilk",
    "skewness",
]
