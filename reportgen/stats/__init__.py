"""Acceptance statistics as pure functions of numbers: no files, no project, no clock; importable on its own."""

from reportgen.stats.lots import (
    bartlett,
    brown_forsythe,
    games_howell,
    k_sample_anderson_darling,
    kruskal_wallis,
    levene,
    one_way_anova,
    welch_anova,
)
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
from reportgen.stats.outliers import (
    ManyOutliers,
    generalized_esd,
    grubbs,
    grubbs_critical_value,
    maximum_normed_residual,
)

__all__ = [
    "ManyOutliers",
    "ResolutionCheck",
    "anderson_darling",
    "bartlett",
    "brown_forsythe",
    "cmh17_significance_level",
    "games_howell",
    "generalized_esd",
    "grubbs",
    "grubbs_critical_value",
    "k_sample_anderson_darling",
    "kruskal_wallis",
    "kurtosis",
    "levene",
    "lilliefors",
    "maximum_normed_residual",
    "one_way_anova",
    "resolution_check",
    "shapiro_wilk",
    "skewness",
    "welch_anova",
]
