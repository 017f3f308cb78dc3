"""What the people of the example write, held against what the tables print: every number in a discussion is recomputed.

A discussion that quotes a number which nothing here computes fails; so does one whose number the data do not give.
"""

from __future__ import annotations

import math
import re
from collections import Counter
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
    r"\b(?:VP|TM|TR|TMV|BR|DI|EQ|INV|DEV|LM|RL|LT|MR|PL|PV|SW|UX|SB|RTA)-[0-9A-Z-]*[0-9A-Z]",  # records of the program
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
    assert min(moved) < min(flared) < max(flared) < max(moved)  # "at forces among those of the others"
    return (
        f"the lowest, at {lowest:.2f} N, by {lowest - 4.20:.2f} N",
        f"In {len(flared)} of the {len(flared) + len(moved)} devices the proximal end flared",
    )


def vp_103(found: Found) -> tuple[str, ...]:
    corner = found.of("VP-103/DI-003/LM-06-018-fresh")
    means = {evaluation.key: _known(evaluation.mean) for evaluation in found.starting("VP-103")}
    assert max(means, key=lambda key: means[key]) == corner.key
    assert min(m for key, m in means.items() if "LM-06" in key) > max(m for key, m in means.items() if "LM-09" in key)
    more, fewer = sorted(found.by_operator(corner.key), key=len, reverse=True)
    assert (len(more), len(fewer)) == (8, 7)  # in words
    of_operators = Counter(found.operators["VP-103", one.specimen] for one in corner.values)
    burst_low = min(of_operators, key=lambda name: of_operators[name])
    higher = []
    for condition in ("fresh", "aged"):
        values: dict[bool, list[float]] = {True: [], False: []}
        for one in found.of(f"VP-103/DI-003/LM-09-058-{condition}").values:
            values[found.operators["VP-103", one.specimen] == burst_low].append(_known(one.value))
        higher.append(f"{fmean(values[True]) - fmean(values[False]):.1f}")
    fresh = {key: mean for key, mean in means.items() if key.endswith("fresh")}
    weakest = min(fresh, key=lambda key: fresh[key])
    lost = fresh[weakest] - found.mean(weakest.replace("fresh", "aged"))  # LM-09-058, or there is none
    others = [_known(found.of(key).lower_bound) for key in fresh if key != weakest]
    checks = sum(step.name == "run order" for evaluation in found.evaluations.values() for step in evaluation.steps)
    return (
        f"with a mean of {corner.mean:.1f} atm",
        f"(p = {found.figure(corner.key, 'run_order_von_neumann_p'):.3f})",
        f"the seven balloons of one burst {fmean(more) - fmean(fewer):.1f} atm lower on average than the eight",
        f"burst {' or '.join(sorted(set(higher)))} atm higher on average, fresh and aged",
        f"is {lost:.1f} atm below that of its fresh ones",
        f"lie {math.floor((min(others) - lost - 14) * 10) / 10:.1f} atm or more above the limit",
        f"clears the limit by {_known(corner.lower_bound) - 14:.1f} atm",
        f"among the {checks} checks",
    )


def vp_104(found: Found) -> tuple[str, ...]:
    fresh, aged = found.lots("VP-104/DI-004/fresh"), found.lots("VP-104/DI-004/aged")
    lower = [fresh[lot] - aged[lot] for lot in fresh]
    nearest, short = found.of("VP-104/DI-004/aged-LT-2602"), found.of("VP-104/DI-004/aged-LT-2603")
    assert nearest == min(found.starting("VP-104"), key=lambda one: _known(one.lower_bound))
    apart = {
        one.key: fmean(found.by_operator(one.key)[0]) - fmean(found.by_operator(one.key)[1])
        for one in found.starting("VP-104")
    }
    assert [len(of_one) for of_one in found.by_operator(nearest.key)] == [5, 5]
    elsewhere = [difference for key, difference in apart.items() if key != nearest.key]
    assert min(elsewhere) < 0 < max(elsewhere)  # "now one and now the other lower"
    off, broken = found.values(nearest.key, mode="bond"), found.values(nearest.key, mode="shaft")
    assert min(broken) == nearest.minimum
    (others,) = {len(found.values(f"VP-104/DI-004/aged-{lot}", mode="bond")) for lot in ("LT-2601", "LT-2603")}
    without = dev_26_07(found)[2].split()[-2]  # the bound that the deviation tells
    return (
        f"in {len(found.values('VP-104', mode='shaft'))} of the {len(found.values('VP-104'))} devices the shaft broke, "
        f"in {len(found.values('VP-104', mode='bond'))} the joint came apart",
        f"In {len(off)} of these ten the joint came apart, against {others} of ten in each of the other two aged lots",
        f"the joints held {min(off):.2f} N or more, and the lowest value of the lot, {nearest.minimum:.2f} N, is",
        f"came out {abs(apart[nearest.key]):.1f} N lower on average",
        f"the two operators lie {math.ceil(max(map(abs, elsewhere)) * 10) / 10:.1f} N apart or less",
        f"The bound of {_known(nearest.lower_bound):.1f} N contains the spread of both operators and clears the limit "
        f"and its guard band by {math.floor((_known(nearest.lower_bound) - 19 - nearest.guard) * 10) / 10:.1f} N",
        "soaked for 24 min instead of 30 min",  # as the deviation says
        f"would be {without} N instead of {_known(short.lower_bound):.1f} N",
        f"{_apart(fresh):.1f} N apart when fresh and {_apart(aged):.1f} N when aged",
        f"{min(lower):.1f} N to {max(lower):.1f} N lower in their mean",
    )


def dev_26_07(found: Found) -> tuple[str, ...]:
    deviation = found.analysis.project.protocol("VP-104").deviations[0]
    lot = "VP-104/DI-004/aged-LT-2603"
    short, every = found.values(lot, specimens=deviation.specimens), found.values(lot)
    assert deviation.specimens == ("104A3-03", "104A3-04", "104A3-05", "104A3-06")  # named in the discussion
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
    assert {one.lot for one in found.of(aged).values if one.failure_mode == "shaft"} == set(found.lots(aged))
    assert {one.failure_mode for one in found.of("VP-105/DI-005/fresh").values} == {"bond"}
    (slipped,) = found.of("VP-105/DI-005/fresh").set_aside
    assert slipped.specimen == "105F2-07"
    return (
        f"{len(torn)} of {found.of(aged).n} tips, some of every lot, tore",
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
    lots: dict[str, list[float]] = {}
    for one in recoil.values:
        lots.setdefault(one.lot, []).append(_known(one.value))
    assert max(lots, key=lambda lot: stdev(lots[lot])) == "LT-2603"
    alone = max(fmean(values) + k_one_sided(10, 0.95, 0.95) * stdev(values) for values in lots.values())
    assert alone < 4.76  # "still within the limit": of every lot
    return (
        f"shortened by {shorter.maximum:.2f} % or less",
        f"standard deviation of {shorter.sd:.2f} percentage points",
        f"the bound of {math.ceil(_known(shorter.upper_bound) * 1000) / 1000:.3f} % lies above the limit of 5.5 %",
        f"Brown-Forsythe p = {found.figure(recoil.key, 'lots_brown_forsythe_p'):.3f}",
        f"the bound of {math.ceil(_known(recoil.upper_bound) * 1000) / 1000:.3f} % leaves "
        f"{math.floor((4.76 - _known(recoil.upper_bound)) * 10) / 10:.1f} percentage points",
        f"a bound of {math.ceil(alone * 1000) / 1000:.3f} % by themselves, still within the limit of 4.76 %",
    )


def vp_112(found: Found) -> tuple[str, ...]:
    fine, coarse = found.values("VP-112/DI-014"), found.values("VP-112/DI-015")
    assert max(fine) / 2400 < 0.6
    assert max(coarse) / 240 < 0.6
    validation = found.analysis.project.method("TM-081").validation
    figures = validation.figures if validation else {}
    largest = max(found.of("VP-112/DI-014/aged").values, key=lambda one: _known(one.value))
    assert (largest.specimen, largest.value) == ("112A3-15", max(fine))  # the other one looked at
    mean = {key: found.mean(f"VP-112/{key}") for key in ("DI-014/aged", "DI-014/fresh", "DI-015/aged", "DI-015/fresh")}
    return (
        f"{sum(count > 1000 for count in fine)} of the {len(fine)} more than a thousand",
        f"The largest counts, {max(fine):.0f} and {max(coarse):.0f}, are less than six tenths",
        f"{mean['DI-014/aged']:.0f} against {mean['DI-014/fresh']:.0f} and, in the class of 25 µm and larger, "
        f"{mean['DI-015/aged']:.0f} against {mean['DI-015/fresh']:.0f}",
        f"{figures['mean blank of 10 µm and larger, particles']:.0f} particles of 10 µm",
        f"{figures['mean blank of 25 µm and larger, particles']:.0f} of 25 µm and larger",
        f"The count of {found.values('VP-112/DI-015', specimens=('112F2-07',))[0]:.0f} on device 112F2-07",
    )


TOLD: Mapping[str, Told] = {
    "VP-101": vp_101, "VP-102": vp_102, "VP-103": vp_103, "VP-104": vp_104, "VP-105": vp_105, "VP-106": vp_106,
    "VP-107": vp_107, "VP-108": vp_108, "VP-109": vp_109, "VP-112": vp_112,
}  # fmt: skip


def plain(text: str) -> str:
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
    text, pieces = plain(protocol.discussion), TOLD[protocol.id](found) if protocol.id in TOLD else ()
    assert [piece for piece in pieces if piece not in text] == []
    assert _numbers_left(text, (*pieces, *ALLOWED.get(protocol.id, ()))) == []


def test_the_effect_of_the_deviation_is_what_the_results_give(found: Found, project: Project) -> None:
    text, pieces = plain(project.protocol("VP-104").deviations[0].impact), dev_26_07(found)
    assert [piece for piece in pieces if piece not in text] == []
    assert _numbers_left(text, pieces) == []


def test_an_investigation_quotes_the_reading_that_was_set_aside(found: Found, project: Project) -> None:
    (slipped,) = found.of("VP-105/DI-005/fresh").set_aside
    (investigation,) = project.protocol("VP-105").investigations
    assert f"at {float(slipped.filed_value.split()[0]):.2f} N" in plain(investigation.cause)
    assert investigation.specimens == (slipped.specimen,)
