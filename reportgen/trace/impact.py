"""Which evaluations, verdicts, clauses and documents hang on a record or a data file that changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reportgen.acceptance.records import DesignInputResult, Evaluation
from reportgen.project.records import Project
from reportgen.trace.records import Audit


@dataclass(frozen=True, slots=True, kw_only=True)
class Touched:
    """What hangs on one changed thing. `name` is a path, or kind and id as the manifest names records."""

    name: str
    evaluations: tuple[str, ...]
    verdicts: tuple[tuple[str, str], ...]
    clauses: tuple[str, ...]
    documents: tuple[str, ...]


def touched_by(
    names: Iterable[str], project: Project, results: tuple[DesignInputResult, ...], audit: Audit
) -> tuple[Touched, ...]:
    """One entry for each changed name, in the order given.

    Raises: nothing for a name that is no longer on file: what hung on it shows in what replaced it.
    """
    return tuple(_touched(name, project, results, audit) for name in names)


def _touched(name: str, project: Project, results: tuple[DesignInputResult, ...], audit: Audit) -> Touched:
    evaluations = [e for result in results for e in result.evaluations if _hangs_on(name, e, project)]
    inputs = {e.design_input for e in evaluations} | _inputs_named(name, project)
    protocols = {e.protocol for e in evaluations}
    clauses = {
        str(clause)
        for link in project.requirements_map.links
        if link.design_input in inputs and (not protocols or link.protocol in protocols)
        for clause in link.clauses
    }
    known = {f"{entry.map}:{entry.clause}" for entry in audit.coverage}
    return Touched(
        name=name,
        evaluations=tuple(e.key for e in evaluations),
        verdicts=tuple((r.design_input, r.verdict.value) for r in results if r.design_input in inputs),
        clauses=tuple(sorted(clauses & known if known else clauses)),
        documents=(
            *(("bench_testing_section.docx",) if inputs else ()),
            *(f"reports/{protocol}.docx" for protocol in sorted(protocols)),
        ),
    )


def _hangs_on(name: str, evaluation: Evaluation, project: Project) -> bool:
    kind, _, id = name.partition(" ")
    if name.startswith("design input "):
        return evaluation.design_input == name.removeprefix("design input ")
    if kind == "protocol":
        return evaluation.protocol == id
    if kind == "method":
        record = project.design_input(evaluation.design_input)
        return evaluation.method == id or record.limit_method == id
    if kind == "lot":
        lot, _, condition = id.rpartition(" (")
        return any(v.lot == lot and v.condition == condition.rstrip(")") for v in evaluation.values)
    if kind == "equipment":
        method = next((method for method in project.methods if method.id == evaluation.method), None)
        return method is not None and id in method.equipment
    if kind == "risk":
        return id in project.design_input(evaluation.design_input).risk
    if name == "assurance levels":
        return True
    files = {value.place.file for value in evaluation.values} | {entry.place.file for entry in evaluation.set_aside}
    return name in files


def _inputs_named(name: str, project: Project) -> set[str]:
    """Design inputs that a changed record concerns although nothing was evaluated yet."""
    if name.startswith("design input "):
        return {name.removeprefix("design input ")} & {record.id for record in project.design_inputs}
    if name.startswith("user need "):
        return {record.id for record in project.design_inputs if name.removeprefix("user need ") in record.user_need}
    if name.startswith("protocol "):
        return {v for p in project.protocols if p.id == name.removeprefix("protocol ") for v in p.verifies}
    return set()
