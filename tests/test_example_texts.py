"""What the people of the example write, held against what the tables print: every number in a discussion is recomputed.

A discussion that quotes a number which nothing here computes fails; so does one whose number the data do not give.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from statistics import fmean, stdev

import pytest
from scipy import stats

from reportgen import workflow
from reportgen.acceptance.records import Evaluation
from reportgen.project.records import Project

EXAMPLE = Path(__file__).resolve().parents[1] / "example_project"

# Identifiers and other texts with digits that are not results: removed before numbers are looked for.
NOT_NUMBERS = (
    r"\b(?:VP|TM|TR|TMV|BR|DI|INV|DEV|RL|LT|MR|PL|PV|SW|UX|SB|RTA)-[0-9A-Z-]*[0-9A-Z]",  # records of the program
    r"\b1\d\d[FA]\d-\d\d\b",  # specimens
    r"\b(?:6F|guidance of 2010)\b",  # the sheath, and a date
    r"\b(?:6 mm by 18 mm|6 mm|9 mm)\b(?= (?:lot|stents|are|is)|;|,)",  # sizes of the matrix
)
# Numbers of a discussion that no result gives, each with the reason why it may stand there.
ALLOWED = {
    "VP-103": ("balloons of 6 mm", "those of 9 mm"),  # sizes
    "VP-105": ("within 0.30 N",),  # what the bridging study BR-007 concluded: the record `bridging` says the same
    "VP-109": ("in the feasibility build (0.5)",),  # planned, as the justification says
    "VP-111": ("at 80x",),  # magnification of the method
    "VP-112": ("of 10 µm and larger", "class of 25 µm and larger", "from 50 µm"),  # size classes
}  # fmt: skip


class Found:
    """Numbers of the example by short names, as a reader would work them out from the tables of results."""

    def __init__(self, analysis: workflow.Analysis) -> None:
        self.analysis = analysis
        self.evaluations: dict[str, Evaluation] = {
            evaluation.key: evaluation for result in analysis.results for evaluation in result.evaluations
        }
        table = analysis.reading.measurements.table
        self.operators = {
            (str(file).split("/")[1], str(specimen)): str(operator)
            for file, specimen, operator in zip(table["file"], table["specimen"], table["operator"], strict=True)
        }

    def of(self, key: str) -> Evaluation:
        return self.evaluations[key]

    def starting(self, start: str) -> list[Evaluation]:
        return [evaluation for key, evaluation in self.evaluations.items() if key.startswith(start)]

    def mean(self, key: str) -> float:
        return _known(self.of(key).mean)

    def lots(self, key: str) -> dict[str, float]:
        """Means by lot, of one evaluation or of all whose key starts so."""
        values: dict[str, list[float]] = {}
        for evaluation in self.starting(key):
            for one in evaluation.values:
                values.setdefault(one.lot, []).append(_known(one.value))
        return {lot: fmean(of_lot) for lot, of_lot in values.items()}

    def by_operator(self, key: str) -> list[list[float]]:
        values: dict[str, list[float]] = {}
        for one in self.of(key).values:
            values.setdefault(self.operators[self.of(key).protocol, one.specimen], []).append(_known(one.value))
        return list(values.values())

    def values(self, key: str, *, mode: str = "", specimens: tuple[str, ...] = ()) -> list[float]:
        return [
            _known(one.value)
            for evaluation in self.starting(key)
            for one in evaluation.values
            if (not mode or one.failure_mode == mode) and (not specimens or one.specimen in specimens)
        ]

    def figure(self, key: str, name: str) -> float:
        return next(one.value for step in self.of(key).steps for one in step.figures if one.name == name)


def _known(value: float | None) -> float:
    assert value is not None
    return value


def _apart(values: Mapping[str, float]) -> float:
    return max(values.values()) - min(values.values())


def k_one_sided(n: int, confidence: float, reliability: float) -> float:
    """Noncentral t, ISO 16269-6:2014, by scipy."""
    return float(stats.nct.ppf(confidence, n - 1, stats.norm.ppf(reliability) * math.sqrt(n)) / math.sqrt(n))


@pytest.fixture(scope="module")
def found() -> Found:
    return Found(workflow.analyse(EXAMPLE))


@pytest.fixture(scope="module")
def project(found: Found) -> Project:
    return found.analysis.project


# Each entry: a piece of the discussion (or of a deviation's effect) with the numbers that the results give.
Told = Callable[[Found], tuple[str, ...]]


def vp_101(found: Found) -> tuple[str, ...]:
    fresh, aged = found.of("VP-101/DI-001/fresh"), found.of("VP-101/DI-001/aged")
    lower = found.mean(fresh.key) - found.mean(aged.key)
    assert 0.45 < lower / _known(fresh.sd) < 0.55
    higher = [one.reduction.maximum_index > _known(one.reduction.index) for one in found.analysis.reading.reduced]
    return (
        f"in {sum(higher)} of the {len(higher)} the later peak is higher",
        f"{lower:.2f} N below that of the fresh ones, about half of one standard deviation",
        f"({fresh.sd:.2f} N fresh, {aged.sd:.2f} N aged)",
    )


def vp_102(found: Found) -> tuple[str, ...]:
    lowest = min(found.values("VP-102"))
    flared, moved = found.values("VP-102", mode="flare"), found.values("VP-102", mode="slip")
    assert min(moved) < min(flared)
    assert max(flared) < max(moved)  # "at forces among those of the others"
    return (
        f"the lowest, at {lowest:.2f} N, by {lowest - 4.20:.2f} N",
        f"In {len(flared)} of the {len(flared) + len(moved)} devices the proximal crown flared",
    )


def vp_103(found: Found) -> tuple[str, ...]:
    corner = found.of("VP-103/DI-003/LM-06-018-fresh")
    means = {evaluation.key: _known(evaluation.mean) for evaluation in found.starting("VP-103")}
    assert max(means, key=lambda key: means[key]) == corner.key
    assert min(m for key, m in means.items() if "LM-06" in key) > max(m for key, m in means.items() if "LM-09" in key)
    more, fewer = sorted(found.by_operator(corner.key), key=len, reverse=True)
    assert (len(more), len(fewer)) == (8, 7)  # in words
    checks = sum(step.name == "run order" for evaluation in found.evaluations.values() for step in evaluation.steps)
    return (
        f"with a mean of {corner.mean:.1f} atm",
        f"(p = {found.figure(corner.key, 'run_order_von_neumann_p'):.3f})",
        f"the seven balloons of one burst {fmean(more) - fmean(fewer):.1f} atm lower on average than the eight",
        f"clears the limit by {_known(corner.lower_bound) - 14:.1f} atm",
        f"among the {checks} checks",
    )


def vp_104(found: Found) -> tuple[str, ...]:
    fresh, aged = found.lots("VP-104/DI-004/fresh"), found.lots("VP-104/DI-004/aged")
    lower = [fresh[lot] - aged[lot] for lot in fresh]
    return (
        f"In {len(found.values('VP-104', mode='shaft'))} of the {len(found.values('VP-104'))} devices the shaft broke",
        f"{_apart(fresh):.1f} N apart when fresh and {_apart(aged):.1f} N when aged",
        f"{min(lower):.1f} N to {max(lower):.1f} N lower in their mean",
    )


def dev_26_07(found: Found) -> tuple[str, ...]:
    deviation = found.analysis.project.protocol("VP-104").deviations[0]
    lot = "VP-104/DI-004/aged-LT-2603"
    short, every = found.values(lot, specimens=deviation.specimens), found.values(lot)
    others = [value for value in every if value not in short]
    assert sorted(short)[-2:] == sorted(every)[-2:]
    assert min(short) == min(every)
    bound = fmean(others) - k_one_sided(len(others), 0.95, 0.99) * stdev(others)
    second, highest = sorted(every)[-2:]
    assert len(others) == 6  # in words
    assert bound > 19.25  # the verdict holds without them
    assert bound > _known(found.of(lot).lower_bound)  # leaving them out would raise it, as the justification says
    return (
        f"{second:.2f} N and {highest:.2f} N are its highest, {min(every):.2f} N is its lowest, "
        f"{min(every) - 19:.2f} N above the limit",
        f"Their mean is {fmean(short):.2f} N, that of the other six {fmean(others):.2f} N",
        f"the bound of the other six is {bound:.1f} N",
        "complete within 15 min at 37 °C",  # of report TR-0872
    )


def vp_105(found: Found) -> tuple[str, ...]:
    aged = "VP-105/DI-005/aged"
    torn, off = found.values(aged, mode="shaft"), found.values(aged, mode="bond")
    assert min(off) > max(torn)
    assert {one.failure_mode for one in found.of("VP-105/DI-005/fresh").values} == {"bond"}
    (slipped,) = found.of("VP-105/DI-005/fresh").set_aside
    assert slipped.specimen == "105F2-07"
    return (
        f"{len(torn)} of {found.of(aged).n} tips tore",
        f"at {min(torn):.2f} N to {max(torn):.2f} N",
        f"held {min(off):.2f} N to {max(off):.2f} N",
        f"still leaves {min(torn) - 5.5:.2f} N to the limit",
        f"its {float(slipped.filed_value.split()[0]):.2f} N would lie below the limit",
    )


def vp_106(found: Found) -> tuple[str, ...]:
    means = found.lots("VP-106")
    room = 2.05 - max(_known(evaluation.upper_bound) for evaluation in found.starting("VP-106"))
    return (
        f"the means are {means['LT-2604']:.3f} mm and {means['LT-2605']:.3f} mm",
        f"leaves {math.floor(room * 1000) / 1000:.3f} mm",
    )


def vp_107(found: Found) -> tuple[str, ...]:
    means = found.lots("VP-107")
    second, third = means["LT-2602"] - means["LT-2601"], means["LT-2603"] - means["LT-2601"]
    return (f"lies {second:.2f} mm and {third:.2f} mm below those of the other two",)


def vp_108(found: Found) -> tuple[str, ...]:
    fresh, aged = found.of("VP-108/DI-008/fresh"), found.of("VP-108/DI-008/aged")
    highest = max(_known(fresh.upper_bound), _known(aged.upper_bound))
    for evaluation in (fresh, aged):
        lots: dict[str, list[float]] = {}
        for one in evaluation.values:
            lots.setdefault(one.lot, []).append(_known(one.value))
        assert stats.f_oneway(*lots.values()).pvalue > 0.05  # "no more than the scatter of single devices explains"
    apart = max(_apart(found.lots(fresh.key)), _apart(found.lots(aged.key)))
    return (
        f"up to {apart:.1f} s apart in their means",
        f"the highest, {highest:.1f} s for the aged devices, clears the limit of 28.0 s less the guard of "
        f"{aged.guard:.1f} s by {28 - aged.guard - highest:.1f} s",
        f"differ by {abs(found.mean(fresh.key) - found.mean(aged.key)):.1f} s",
    )


def vp_109(found: Found) -> tuple[str, ...]:
    recoil, shorter = found.of("VP-109/DI-009"), found.of("VP-109/DI-010")
    return (
        f"shortened by {shorter.maximum:.2f} % or less",
        f"standard deviation of {shorter.sd:.2f} percentage points",
        f"the bound of {math.ceil(_known(shorter.upper_bound) * 1000) / 1000:.3f} % lies above the limit of 5.5 %",
        f"Brown-Forsythe p = {found.figure(recoil.key, 'lots_brown_forsythe_p'):.3f}",
        f"the bound of {math.ceil(_known(recoil.upper_bound) * 1000) / 1000:.3f} % leaves "
        f"{math.floor((4.8 - _known(recoil.upper_bound)) * 10) / 10:.1f} percentage points",
    )


def vp_112(found: Found) -> tuple[str, ...]:
    fine, coarse = found.values("VP-112/DI-014"), found.values("VP-112/DI-015")
    assert max(fine) / 2400 < 0.6
    assert max(coarse) / 240 < 0.6
    mean = {key: found.mean(f"VP-112/{key}") for key in ("DI-014/aged", "DI-014/fresh", "DI-015/aged", "DI-015/fresh")}
    return (
        f"{sum(count > 1000 for count in fine)} of the {len(fine)} more than a thousand",
        f"The largest counts, {max(fine):.0f} and {max(coarse):.0f}, are less than six tenths",
        f"{mean['DI-014/aged']:.0f} against {mean['DI-014/fresh']:.0f} and, in the class of 25 µm and larger, "
        f"{mean['DI-015/aged']:.0f} against {mean['DI-015/fresh']:.0f}",
        f"The count of {found.values('VP-112/DI-015', specimens=('112F2-07',))[0]:.0f} on device 112F2-07",
    )


TOLD: Mapping[str, Told] = {
    "VP-101": vp_101, "VP-102": vp_102, "VP-103": vp_103, "VP-104": vp_104, "VP-105": vp_105, "VP-106": vp_106,
    "VP-107": vp_107, "VP-108": vp_108, "VP-109": vp_109, "VP-112": vp_112,
}  # fmt: skip


def _plain(text: str) -> str:
    return " ".join(text.split())


def _numbers_left(text: str, pieces: tuple[str, ...]) -> list[str]:
    for piece in pieces:
        text = text.replace(piece, " ")
    for pattern in NOT_NUMBERS:
        text = re.sub(pattern, " ", text)
    return re.findall(r".{0,30}\d[\d.,]*.{0,20}", text)


@pytest.mark.parametrize("number", range(101, 115))
def test_each_number_of_a_discussion_is_what_the_results_give(found: Found, project: Project, number: int) -> None:
    protocol = project.protocol(f"VP-{number}")
    text, pieces = _plain(protocol.discussion), TOLD[protocol.id](found) if protocol.id in TOLD else ()
    assert [piece for piece in pieces if piece not in text] == []
    assert _numbers_left(text, (*pieces, *ALLOWED.get(protocol.id, ()))) == []


def test_the_effect_of_the_deviation_is_what_the_results_give(found: Found, project: Project) -> None:
    text, pieces = _plain(project.protocol("VP-104").deviations[0].impact), dev_26_07(found)
    assert [piece for piece in pieces if piece not in text] == []
    assert _numbers_left(text, pieces) == []


def test_an_investigation_quotes_the_reading_that_was_set_aside(found: Found, project: Project) -> None:
    (slipped,) = found.of("VP-105/DI-005/fresh").set_aside
    (investigation,) = project.protocol("VP-105").investigations
    assert f"at {float(slipped.filed_value.split()[0]):.2f} N" in _plain(investigation.cause)
    assert investigation.specimens == (slipped.specimen,)


def planned(n: int, reliability: float, mean: float, sd: float) -> float:
    """How far below the mean a bound at 95 % confidence lies, subtracted from the mean (added for a negative sd)."""
    return mean - k_one_sided(n, 0.95, reliability) * sd


@pytest.mark.parametrize(("protocol", "told", "number", "tolerance"), [
    ("VP-101", "leaves the bound about 0.9 N above the limit", planned(30, 0.99, 6.5, 0.65) - 3.60 - 0.9, 0.05),
    ("VP-101", "up to a standard deviation of 0.72 N", (6.5 - 3.60) / k_one_sided(10, 0.95, 0.99) - 0.72, 0.01),
    ("VP-102", "the bound still clears the limit by about 0.7 N", planned(30, 0.99, 7.4, 0.80) - 4.20 - 0.7, 0.05),
    ("VP-103", "about 4.0 at n = 30", k_one_sided(30, 0.95, 0.999) - 4.0, 0.05),
    ("VP-103", "4.6 at n = 15", k_one_sided(15, 0.95, 0.999) - 4.6, 0.05),
    ("VP-103", "need 2995 balloons", math.ceil(math.log(0.05) / math.log(0.999)) - 2995, 0),
    ("VP-104", "the factor of 3.98", k_one_sided(10, 0.95, 0.99) - 3.98, 0.005),
    ("VP-104", "the bound lies 6.4 N under the mean", 31 - planned(10, 0.99, 31, 1.6) - 6.4, 0.05),
    ("VP-105", "needs 29 devices", math.ceil(math.log(0.05) / math.log(0.90)) - 29, 0),
    ("VP-106", "the factor of 2.91", k_one_sided(10, 0.95, 0.95) - 2.91, 0.005),
    ("VP-109", "is 2.22", k_one_sided(30, 0.95, 0.95) - 2.22, 0.005),
    ("VP-110", "Fifty-nine hubs", math.ceil(math.log(0.05) / math.log(0.95)) - 59, 0),
    ("VP-113", "lies about 0.8 of a turn above the limit", planned(30, 0.95, 9.5, 1.2) - 6.0 - 0.8, 0.05),
    ("VP-114", "Twenty-nine balloons", math.ceil(math.log(0.05) / math.log(0.90)) - 29, 0),
])  # fmt: skip
def test_the_reckoning_behind_a_sample_size_holds(
    project: Project, protocol: str, told: str, number: float, tolerance: float
) -> None:
    """Factors by scipy's noncentral t (ISO 16269-6:2014); sizes without failure by ln(1 - C) / ln(R)."""
    assert told in _plain(project.protocol(protocol).sampling.justification)
    assert abs(number) <= tolerance


def test_the_two_sided_reckoning_holds(project: Project) -> None:
    """Exact two-sided factors, ISO 16269-6:2014, of tests/reference/normal_two_sided_k.csv."""
    with (EXAMPLE.parent / "tests/reference/normal_two_sided_k.csv").open(encoding="utf-8", newline="") as file:
        factors = {(row["n"], row["confidence"], row["coverage"]): float(row["k"]) for row in csv.DictReader(file)}
    pooled, each_lot = factors["30", "0.95", "0.95"], factors["10", "0.95", "0.95"]
    told = _plain(project.protocol("VP-107").sampling.justification)
    assert f"is then about {pooled:.2f}" in told
    assert f"the factor of about {each_lot:.2f}" in told
    assert 2 * pooled * 0.05 == pytest.approx((9.25 - 8.75) / 2, rel=0.05)  # "half as wide as the distance"
    assert 2 * each_lot * 0.05 < 9.25 - 8.75
