"""One method against another on comparable specimens, and what follows for a limit, by rules declared before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from reportgen.acceptance.records import Study, StudyValue
from reportgen.rounding import p_value, significant
from reportgen.stats import (
    brown_forsythe,
    difference_of_means,
    equivalence,
    games_howell,
    ratio_of_means,
    standardized_effect,
    variance_ratio,
    welch_anova,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeRules:
    """Declared before the comparison; both must hold for a limit to carry over.

    margin: the largest difference of means that does not matter, in the unit of the values. largest_sd_ratio: by how
    much the spreads may differ either way.
    """

    confidence: float
    alpha: float
    margin: float
    largest_sd_ratio: float


def bridge(
    groups: Mapping[str, Sequence[float]],
    *,
    reference: str,
    rules: BridgeRules,
    limit: float | None,
    unit: str,
    setup: Mapping[str, Sequence[float]] | None,
    study: str,
) -> Study:
    """Every method against the reference, the method on which the limit was set. Raises: ValueError in words."""
    samples = {name: np.array(values, dtype=float) for name, values in groups.items()}
    if reference not in samples:
        raise ValueError(f"reference must be one of {sorted(samples)!r}; got {reference!r}")
    others = [name for name in samples if name != reference]
    if not others:
        raise ValueError("there must be two methods or more; got one")
    findings: list[str] = []
    sections = [("Methods", _summary(samples, unit)), ("All methods together", _together(list(samples.values())))]
    carried = True
    snippets = []
    for name in others:
        values, sentences, carries = _pair(samples[reference], samples[name], reference, name, rules, limit, unit)
        sections.append((f"{name} against {reference}", values))
        findings += sentences
        carried = carried and carries
        snippets.append(_snippet(study, reference, carries, sentences[-1]))
    if len(samples) > 2:
        sections.append(("Every pair", _pairs(list(samples), list(samples.values()), rules, unit)))
    if setup is not None:
        sections.append(("Set-up time", _setup(setup, reference, rules)))
    return Study(
        kind="bridge",
        title="Comparison of test methods",
        unit=unit,
        sections=tuple(sections),
        findings=tuple(findings),
        holds=carried,
        snippet="bridging:\n" + "".join(snippets),
        groups=tuple((name, tuple(float(value) for value in sample)) for name, sample in samples.items()),
        confidence=rules.confidence,
        number=study,
    )


def _summary(samples: Mapping[str, np.ndarray], unit: str) -> tuple[StudyValue, ...]:
    return tuple(
        StudyValue(name=f"{name}_{part}", label=f"{name}: {label}", value=value, unit=unit if part != "n" else "")
        for name, sample in samples.items()
        for part, label, value in (
            ("n", "specimens", float(sample.size)),
            ("mean", "mean", float(sample.mean())),
            ("sd", "standard deviation", float(sample.std(ddof=1)) if sample.size > 1 else None),
            ("minimum", "minimum", float(sample.min())),
            ("maximum", "maximum", float(sample.max())),
        )
    )


def _together(samples: list[np.ndarray]) -> tuple[StudyValue, ...]:
    means, spreads = welch_anova(samples), brown_forsythe(samples)
    return (
        StudyValue(name="welch_p", label="p of equal means (Welch)", value=means.p_value),
        StudyValue(name="brown_forsythe_p", label="p of equal spreads (Brown-Forsythe)", value=spreads.p_value),
    )


def _pair(
    a: np.ndarray, b: np.ndarray, reference: str, name: str, rules: BridgeRules, limit: float | None, unit: str
) -> tuple[tuple[StudyValue, ...], list[str], bool]:
    """Numbers, sentences (the consequence for a limit last) and whether a limit carries over."""
    offset = difference_of_means(b, a, confidence=rules.confidence)
    ratio = ratio_of_means(b, a, confidence=rules.confidence)
    spread = variance_ratio(b, a, confidence=rules.confidence)
    effect = standardized_effect(b, a, confidence=rules.confidence)
    same = equivalence(b, a, margin=rules.margin, alpha=rules.alpha)
    sd_low, sd_high = (None if end is None else end**0.5 for end in (spread.lower, spread.upper))
    values = (
        _of("offset", "difference of means", offset.estimate, offset.lower, offset.upper, unit),
        _of("ratio", "ratio of means", ratio.estimate, ratio.lower, ratio.upper),
        _of("sd_ratio", "ratio of standard deviations", spread.estimate**0.5, sd_low, sd_high),
        _of("effect", "difference in pooled standard deviations", effect.estimate, effect.lower, effect.upper),
        _of("equivalence_p", "p of the two one-sided tests", same.p_value, None, None),
    )
    is_equivalent = same.p_value <= rules.alpha
    most = rules.largest_sd_ratio
    alike_spread = sd_low is not None and sd_high is not None and 1.0 / most <= sd_low and sd_high <= most
    which = "higher" if offset.estimate > 0 else "lower"
    sentences = [
        f"{name} reads {significant(abs(offset.estimate), 3)} {unit} {which} than {reference} (interval of the"
        f" difference {_ends(offset.lower, offset.upper)}); within ± {rules.margin:g} {unit} equivalence is"
        f" {'shown' if is_equivalent else 'not shown'} ({_p_told(same.p_value)}).",
        f"The spread of {name} is {spread.estimate**0.5:.3g} times that of {reference}"
        f" (interval {_ends(sd_low, sd_high)}); a factor of {most:g} either way is declared:"
        f" {'held' if alike_spread else 'not held'}.",
        _consequence(is_equivalent and alike_spread, reference, name, limit, ratio.lower, ratio.upper, unit),
    ]
    return values, sentences, is_equivalent and alike_spread


def _consequence(
    carries: bool,
    reference: str,
    name: str,
    limit: float | None,
    low: float | None,
    high: float | None,
    unit: str,
) -> str:
    at = "" if limit is None else f" of {limit:g} {unit}"
    if carries:
        return f"By the declared rules a limit{at} set on {reference} carries over to {name} unchanged."
    corresponds = ""
    if limit is not None and low is not None and high is not None:
        corresponds = (
            f" In the ratio of the means it would lie between {limit * low:.3g} and {limit * high:.3g} {unit} on"
            f" {name}; that describes these specimens and is no limit: derive one from the clinical basis."
        )
    refused = f"No transfer is supported: a limit{at} set on {reference} must not be applied to results of {name}."
    return refused + corresponds


def _pairs(names: list[str], samples: list[np.ndarray], rules: BridgeRules, unit: str) -> tuple[StudyValue, ...]:
    return tuple(
        _of(
            f"pair_{names[pair.first]}_{names[pair.second]}",
            f"{names[pair.first]} less {names[pair.second]} (Games-Howell, {_p_told(pair.p_value)})",
            pair.difference,
            pair.lower,
            pair.upper,
            unit,
        )
        for pair in games_howell(samples, confidence=rules.confidence)
    )


def _setup(setup: Mapping[str, Sequence[float]], reference: str, rules: BridgeRules) -> tuple[StudyValue, ...]:
    base = np.array(setup[reference], dtype=float)
    found = []
    for name, times in setup.items():
        if name == reference:
            continue
        compared = difference_of_means(np.array(times, dtype=float), base, confidence=rules.confidence)
        label = f"{name} less {reference}, set-up per specimen"
        found.append(_of(f"setup_{name}", label, compared.estimate, compared.lower, compared.upper))
    return tuple(found)


def _of(
    name: str, label: str, value: float | None, lower: float | None, upper: float | None, unit: str = ""
) -> StudyValue:
    return StudyValue(name=name, label=label, value=value, lower=lower, upper=upper, unit=unit)


def _ends(lower: float | None, upper: float | None) -> str:
    low, high = ("open" if end is None else significant(end, 3) for end in (lower, upper))
    return f"{low} to {high}"


def _p_told(value: float) -> str:
    text = p_value(value)
    return f"p {text}" if text.startswith("<") else f"p = {text}"


def _snippet(study: str, reference: str, carries: bool, conclusion: str) -> str:
    """YAML for a protocol's `bridging`, the factor left out: a limit that carries over does so unchanged."""
    quoted = conclusion.replace('"', "'")
    return (
        f"  - study: {study or 'name the study here'}\n"
        f"    limit_method: {reference}\n"
        f"    supports_transfer: {'true' if carries else 'false'}\n"
        f'    conclusion: "{quoted}"\n'
    )


def assignment(specimens: Sequence[str], methods: Sequence[str], *, seed: int) -> tuple[tuple[str, str], ...]:
    """Specimens assigned to methods at random, as evenly as their numbers allow; the seed repeats it.

    Raises: ValueError for fewer than two methods, or a specimen listed twice.
    """
    if len(set(methods)) < 2:
        raise ValueError(f"methods must name two or more; got {list(methods)!r}")
    doubled = sorted({name for name in specimens if list(specimens).count(name) > 1})
    if doubled:
        raise ValueError(f"specimens must be listed once each; got {doubled[0]!r} more than once")
    order = np.random.default_rng(seed).permutation(len(specimens))
    chosen = {int(at): methods[place % len(methods)] for place, at in enumerate(order)}
    return tuple((name, chosen[at]) for at, name in enumerate(specimens))
