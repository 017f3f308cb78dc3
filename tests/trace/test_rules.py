"""Every rule finds its hole, in just the project that has it, and nothing else."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from reportgen.lab.records import Quality, ReducedTrace, Trace, TraceRemark
from reportgen.problems import Place
from reportgen.stats import Reduction
from reportgen.trace.audit import registered_rules
from reportgen.trace.records import Finding
from tests.trace import broken_ways, reviewers_ways
from tests.trace.broken_ways import Way
from tests.trace.sound_project import Sound, sound

RULES = {rule.name: rule for rule in registered_rules()}
WAYS = broken_ways.WAYS | reviewers_ways.WAYS


def test_the_sound_project_has_no_finding() -> None:
    assert sound().findings() == ()


def test_every_rule_has_a_broken_project() -> None:
    assert set(RULES) == {*WAYS, *(kind.value for kind in Quality)}


@pytest.mark.parametrize("name", list(RULES))
def test_every_rule_says_what_why_and_where_from(name: str) -> None:
    why = RULES[name].why
    assert "Why: " in why
    assert "Source: " in why
    assert name == name.lower()
    assert " " not in name


@pytest.mark.parametrize(("name", "way"), WAYS.items(), ids=list(WAYS))
def test_a_broken_project_gives_exactly_the_finding(name: str, way: Way) -> None:
    findings = way.broken(sound()).findings()
    assert Counter(finding.rule for finding in findings) == Counter((name, *way.also)), _told(findings)
    for finding in findings:
        _reads_well(finding)
    own = [finding for finding in findings if finding.rule == name]
    for text in way.says:
        assert any(text in finding.message or text in finding.records for finding in own), (text, _told(tuple(own)))


def _told(findings: tuple[Finding, ...]) -> str:
    return "\n".join(f"{finding.rule}: {finding.place}: {finding.message}" for finding in findings)


def _reads_well(finding: Finding) -> None:
    """Sentences a stranger can act upon: whole, without leftover syntax, with a place in a file that exists."""
    for text in (finding.message, finding.remedy):
        first = text.split()[0]
        assert text[0].isupper() or any(sign in first for sign in "'\"/._0123456789"), text
        assert text.endswith((".", "?")), text
        assert ".." not in text.replace("...", ""), text
        assert "None" not in text
        assert "  " not in text
        assert "{" not in text
    if finding.place is not None:
        assert finding.place.file not in ("", "?"), finding


@pytest.mark.parametrize("kind", list(Quality), ids=lambda kind: kind.value)
def test_a_remark_on_a_trace_becomes_a_finding(kind: Quality) -> None:
    remark = TraceRemark(
        kind=kind, number=1.0, unit="N", message="The record says so.", place=Place("t/PF01.csv", row=3)
    )
    base = sound()
    broken = Sound(
        project=base.project,
        table=base.table,
        lab=base.lab,
        reduced=(_reduced("PF01", remark), _reduced("PF02", remark)),
    )
    (finding,) = broken.findings()
    assert finding.rule == kind.value
    assert finding.records == ("VP-01", "PF01", "PF02")
    assert finding.place == Place("t/PF01.csv", row=3)
    assert "The record says so." in finding.message
    _reads_well(finding)


def _reduced(specimen: str, remark: TraceRemark) -> ReducedTrace:
    line = np.array([0.0, 1.0, 2.0])
    trace = Trace("VP-01", specimen, line, line, None, Place("t/PF01.csv"), "0" * 64)
    reduction = object.__new__(Reduction)
    return ReducedTrace(
        trace=trace,
        reduction=reduction,
        baseline_n=0.0,
        slack_mm=0.0,
        smoothing_effect_n=0.0,
        stiffness_n_per_mm=None,
        work_to_drop_mj=0.0,
        pull_rate_mm_per_min=None,
        remarks=(remark,),
    )


@pytest.mark.parametrize(("region", "asks"), [
    ("US", True), ("United States", True), ("U.S.A. and EU", True), ("EU", False), ("Australia", False),
])  # fmt: skip
def test_a_recognition_number_is_asked_for_where_the_section_goes_to_the_united_states(region: str, asks: bool) -> None:
    """Recognition of standards is of 21 U.S.C. 360d(c); another region does not ask for its number."""
    rule = "declaration-without-recognition-number"
    broken = WAYS[rule].broken(sound()).with_("settings/submission/region", region)
    assert any(finding.rule == rule for finding in broken.findings()) is asks
