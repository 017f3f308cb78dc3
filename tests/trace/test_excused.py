"""Near the edge of a rule: what looks like its hole and is none, being excused, in agreement, or on the safe side."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from reportgen.project.records import (
    CyclesRun,
    DesignInput,
    Photograph,
    Quantity,
    Revision,
)
from reportgen.trace.rules.statements import said_limits
from tests.trace.broken_ways import DEVIATION, DI1, DI2, VP1, VP2, Break, both, path, rows
from tests.trace.reviewers_ways import (
    CHART,
    bridged,
    burst,
    cycles,
    earlier,
    edition,
    labelled,
    other_bytes,
    recorded,
    set_aside,
    summary,
    use,
    verdict_rests,
)
from tests.trace.sound_project import sound

RAISED = (
    Revision(revision="A", on=date(2026, 5, 4), author="J. Invented", change="First issue"),
    Revision(revision="B", on=date(2026, 6, 1), author="J. Invented", change="Row 9 corrected, DEV-7"),
)
FULL_CLAIM = both(
    path(f"{DI1}/confidence", 0.95), path(f"{DI1}/reliability", 0.999), path(f"{DI1}/assurance_reason", "rated burst")
)
EXCUSED: dict[str, Break] = {
    "fewer sterilization cycles with a justification": both(
        cycles((1, 2, 2, 2)), path("lots/L-0101+fresh/justification", "no polymer in the joint")
    ),
    "as many cycles of use as allowed": use(10, CyclesRun(use="inflations", n=10)),
    "fewer cycles of use with a justification": use(10, CyclesRun(use="inflations", n=3, justification="rigid hub")),
    "a label claim at the limit": labelled(burst("10 N", kind="value")),
    "a label claim at the limit in another unit": labelled(burst("1000 cN", kind="value")),
    "a rated burst claim with the level of the guidance": both(FULL_CLAIM, labelled(burst("10 N"))),
    "a chart that ends at rated burst": both(
        FULL_CLAIM,
        labelled(burst("10 N"), CHART.model_copy(update={"up_to": Quantity.model_validate("10 N")})),
    ),
    "a chart above rated burst with a design input that shows it": both(
        FULL_CLAIM,
        labelled(
            burst("9 N"),
            CHART.model_copy(update={"up_to": Quantity.model_validate("10 N"), "design_inputs": ("DI-001",)}),
        ),
    ),
    "reported statistics that agree to their last digit": summary(
        lot="L-0101", n="10", mean="18.05", sd="1.1", minimum="16.22", maximum="19.86"
    ),
    "reported statistics in another unit": summary(lot="L-0101", unit="kN", mean="0.01805", maximum="0.01986"),
    "a setting within its tolerance": recorded("pull rate", pull_rate="195 mm/min"),
    "a range of a setting within its tolerance": recorded("pull rate", pull_rate="195 to 205 mm/min; log 6 of 3 days"),
    "a range in another unit of its kind": recorded("pull rate", pull_rate="3.3 mm/s to 3.4 mm/s"),
    "a setting in another unit of its kind": recorded("pull rate", pull_rate="3.4 mm/s"),
    "all photographs there": both(
        path(f"{VP1}/photographs_of", ("setup", "failed specimens")),
        path(f"{VP1}/photographs", (Photograph(file="IMG-1", setup=True),)),
    ),
    "an outlier by its looks, with what happened": set_aside("outlier: the plug was not pushed home"),
    "a decisive exclusion that the discussion names": both(
        verdict_rests, path(f"{VP1}/discussion", "PF99 slipped in the grip; counted all the same it would fail.")
    ),
    "a superseded edition with a reason": edition(superseded_by="rev 3", edition_reason="the test is the same"),
    "an edition that is withdrawn after submission": edition(withdrawn_on=date(2027, 1, 1)),
    "a bridging study that covers the tests": bridged(),
    "a ratio that was applied": bridged(concluded_ratio=1.2, factor=1.2),
    "a factor stricter than the ratio": bridged(concluded_ratio=0.9),
    "unchanged since the earlier package": earlier(),
    "changed data under a raised revision": both(
        other_bytes, path(f"{VP1}/report/revision", "B"), path(f"{VP1}/report/history", RAISED)
    ),
    "changed records under a raised revision": both(
        earlier(changed=("design input DI-001",)),
        path("settings/document/revision", "B"), path("settings/document/history", RAISED),
    ),
    "changed records since a draft": earlier(changed=("design input DI-001",), draft=True),
    "a report that had not been issued": lambda s: replace(
        other_bytes(s), earlier=replace(other_bytes(s).earlier, reports={"VP-01": ("A", False)})  # type: ignore[type-var]
    ),
    "few values with a reason for their distribution": path(f"{VP1}/analysis_plan/justification", "Earlier lots"),
}  # fmt: skip


@pytest.mark.parametrize("broken", EXCUSED.values(), ids=list(EXCUSED))
def test_what_is_excused_is_not_found(broken: Break) -> None:
    assert [(found.rule, found.message) for found in broken(sound()).findings()] == []


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("Holds 10 N or more.", {"lower": [10.0]}),
        ("Shall be at least 10 N.", {"lower": [10.0]}),
        ("At least 0.01 kN.", {"lower": [10.0]}),
        ("Not less than 10 N and not more than 15 N.", {"lower": [10.0], "upper": [15.0]}),
        ("Comes off between 3 N and 15 N.", {"lower": [3.0], "upper": [15.0]}),
        ("Comes off between 3 and 15 N.", {"lower": [3.0], "upper": [15.0]}),
        ("The force shall not exceed 15 N.", {"upper": [15.0]}),
        ("A force of ≥ 10 N, pulled for at least 30 s.", {"lower": [10.0]}),
        ("After at least 10 inflations it withstands the force of use.", {"lower": [10.0]}),
        ("Withstands 10 N.", {}),
        ("A 9 mm joint holds 12 N.", {}),
    ],
)
def test_words_of_a_statement_become_limits_by_fixed_phrases_alone(
    statement: str, said: dict[str, list[float]]
) -> None:
    record = DesignInput.model_validate(
        {"id": "D", "statement": statement, "characteristic": "c", "kind": "variable", "unit": "N", "lower_limit": "10"}
    )
    assert said_limits(record) == said


def test_a_failed_specimen_needs_its_photograph_and_its_photograph_is_enough() -> None:
    failed = rows({"specimen": "LF03", "lot": "L-0101"}, conforming=0.0, failure_mode="drop")
    asked = both(failed, path(f"{VP2}/photographs_of", ("failed specimens",)))
    assert "photograph-missing" in {found.rule for found in asked(sound()).findings()}
    shown = both(asked, path(f"{VP2}/photographs", (Photograph(file="IMG-2", specimens=("LF03",)),)))
    assert "photograph-missing" not in {found.rule for found in shown(sound()).findings()}


def test_a_deviation_that_names_the_setting_excuses_it() -> None:
    named = DEVIATION.model_copy(update={"description": "The pull rate was set to 250 mm/min on the second day"})
    broken = both(recorded("pull rate", pull_rate="250 mm/min"), path(f"{VP1}/deviations", (named,)))
    assert broken(sound()).findings() == ()


def test_a_two_sided_ratio_is_too_easy_on_one_side_whatever_the_factor() -> None:
    """Both limits scale with the ratio; any other factor loosens one of them."""
    for factor in (1.1, 1.3):
        broken = both(
            path(f"{DI1}/limit_method", "TM-02"), path(f"{DI2}/limit_method", "TM-02"),
            bridged(concluded_ratio=1.2, factor=factor),
        )  # fmt: skip
        found = [one for one in broken(sound()).findings() if one.rule == "bridging-ratio-not-applied"]
        assert "DI-002" in {id for one in found for id in one.records}, factor


@pytest.mark.parametrize(
    "filed", ["195 to 212 mm/min", "188 to 205 mm/min", "195 to 200 to 205 mm/min", "to 205 mm/min"]
)
def test_a_range_of_a_setting_is_within_its_tolerance_with_both_ends(filed: str) -> None:
    found = recorded("pull rate", pull_rate=filed)(sound()).findings()
    assert [finding.rule for finding in found] == ["setting-outside-method"]
