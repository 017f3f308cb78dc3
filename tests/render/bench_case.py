"""Small projects around one test each, for what the workbook makes of it; all data invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from reportgen import workflow
from reportgen.acceptance.records import Evaluation
from reportgen.compose.dossier import dossier_of
from reportgen.compose.records import BuildFacts
from reportgen.compose.workbook import compose_workbook
from reportgen.render.excel import workbook_bytes
from tests.good_project import PROTOCOL_LEAK, PROTOCOL_PULL, good_files, write_files

FACTS = BuildFacts(version="0", date="2026-05-04", tool_versions=())
_PLAN = """\
  approach: normal
  normality_alpha: 0.05
  lots: each_lot
  evaluate_by: [condition]
  rounding: absolute
  decision_rule: simple
"""
_HEADING = "specimen,lot,condition,tested_on,operator,equipment,method_revision,failure_mode,excluded,cause,"


@dataclass(frozen=True, kw_only=True)
class BenchCase:
    """One test of one lot in one condition.

    `values` are cells of the result file: a number, '>20' or '<3' (ended before), 'pass', 'fail', '' (no result).
    `left_out` gives the cause for specimens that were set aside, by their place from 0. `plan` replaces lines of the
    analysis plan by their key, '' leaves one out; `severity` gives the claim: minor 90/80, serious 95/95.
    """

    values: Sequence[str]
    limits: tuple[str, str] = ("10", "")
    severity: str = "minor"
    plan: dict[str, str] = field(default_factory=dict)
    left_out: dict[int, str] = field(default_factory=dict)
    planned: int | None = None
    lots: Sequence[str] = ()
    standing: bool = True

    def with_value(self, at: int, value: str) -> BenchCase:
        return replace(self, values=[*self.values[:at], value, *self.values[at + 1 :]])

    @property
    def is_attribute(self) -> bool:
        return any(value in {"pass", "fail"} for value in self.values)

    @property
    def design_input(self) -> str:
        return "DI-003" if self.is_attribute else "DI-001"

    @property
    def sheet(self) -> str:
        return "Data VP-02" if self.is_attribute else "Data VP-01"

    def files(self) -> dict[str, str]:
        files = good_files()
        files["risks.csv"] = files["risks.csv"].replace(",serious", f",{self.severity}", 1)
        name = "protocols/vp_02.yaml" if self.is_attribute else "protocols/vp_01.yaml"
        files[name] = self._protocol()
        files["results/vp_02.csv" if self.is_attribute else "results/vp_01.csv"] = self._results()
        lower, upper = self.limits
        if not self.is_attribute:
            files["design_inputs.csv"] = files["design_inputs.csv"].replace(
                "variable,N,10,,", f"variable,N,{lower},{upper},"
            )
        if not self.standing:
            files["design_inputs.csv"] = files["design_inputs.csv"].replace(
                "Simulated use,TM-01", "Simulated use,TM-02"
            )
        lots = set(self.lots) - {"L-0101"}
        files["lots.csv"] += "".join(
            f"{lot},CR-5F-100,100 cm,C,2026-01-20,EO one cycle,fresh,yes,,,,,,\n" for lot in sorted(lots)
        )
        return files

    def _protocol(self) -> str:
        text = PROTOCOL_LEAK if self.is_attribute else PROTOCOL_PULL
        head, rest = text.split("  groups:\n")
        rest = rest[rest.index("  justification") :]
        before, after = rest.split("  approach:", 1)
        after = after[after.index("  decision_rule: simple\n") + len("  decision_rule: simple\n") :]
        plan = dict(line.strip().split(": ", 1) for line in _PLAN.splitlines())
        if self.is_attribute:
            plan["approach"] = "attribute"
        plan = {key: value for key, value in (plan | self.plan).items() if value}
        lots = self._lots()
        groups = "".join(
            f"    - {{lot: {lot}, condition: fresh, n: {lots.count(lot) if self.planned is None else self.planned}}}\n"
            for lot in dict.fromkeys(lots)
        )
        text = (
            f"{head}  groups:\n{groups}{before}" + "".join(f"  {key}: {value}\n" for key, value in plan.items()) + after
        )
        if not self.is_attribute:
            lower, upper = self.limits
            stated = ", ".join(
                f"{name}: {limit}" for name, limit in (("lower_limit", lower), ("upper_limit", upper)) if limit
            )
            criteria = f"criteria:\n  - {{design_input: DI-001, {stated}, unit: N}}\n"
            text = text.replace("verifies: [DI-001, DI-002]", "verifies: [DI-001]")
            text = text[: text.index("criteria:")] + criteria + text[text.index("conditioning:") :]
        layout = '    layout: {above_limit: [">"], below_limit: ["<"]}\n'
        return text.replace(".csv\nreport", f".csv\n{layout}report")

    def _lots(self) -> list[str]:
        return list(self.lots) or ["L-0101"] * max(1, len(self.values))

    def _results(self) -> str:
        lines = [_HEADING + ("hub_leak" if self.is_attribute else "bond_strength [N]")]
        revision, equipment = ("A", "EQ-02") if self.is_attribute else ("B", "EQ-01")
        for at, (value, lot) in enumerate(zip(self.values, self._lots(), strict=False)):
            cause = self.left_out.get(at, "")
            excluded = "yes" if cause else "no"
            lines.append(
                f"S{at:03d},{lot},fresh,2026-03-02,M. Invented,{equipment},{revision},,{excluded},{cause},{value}"
            )
        return "\n".join(lines) + "\n"


def workbook_of(case: BenchCase, folder: Path) -> tuple[bytes, tuple[Evaluation, ...]]:
    """The workbook of the case's project, written to the folder, and what the program made of its own test."""
    return workbook_of_project(write_files(folder, case.files()), case.design_input)


def workbook_of_project(folder: Path, design_input: str) -> tuple[bytes, tuple[Evaluation, ...]]:
    analysis = workflow.analyse(folder)
    dossier = dossier_of(analysis.project, analysis.reading, analysis.results, analysis.audit, facts=FACTS)
    own = next(result for result in analysis.results if result.design_input == design_input)
    return workbook_bytes(compose_workbook(dossier)), own.evaluations
