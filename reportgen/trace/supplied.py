"""The words with which a map's entry says that the tool itself, or the project's records, answer it (`answered_by`).

Each word stands for one thing that is printed in the documents; its test names the records that lack it. An entry is
answered by its words when nothing is lacking. To add a word: one line in `WORDS`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from reportgen.acceptance.records import Verdict
from reportgen.project.records import Protocol, Purpose, Record
from reportgen.trace.evidence import Evidence

Lacking = Callable[[Evidence], Iterable[str]]


@dataclass(frozen=True, slots=True)
class Word:
    """What a reader finds in the documents under this word, and which records lack it.

    `of_results`: only tests with results can have it. A test that is still to come is no fault of the others' reports;
    the clauses that it answers by its verdict stay open.
    """

    meaning: str
    lacking: Lacking
    of_results: bool = False


def _each(group: str, key: str) -> Lacking:
    """Every record of the group has the field (a path with dots) filled."""

    def lacking(evidence: Evidence) -> list[str]:
        records = _records(evidence, group)
        return [name for name, record in records if not _filled(record, key)] or ([] if records else [f"any {group}"])

    return lacking


def _filled(record: Record, key: str) -> bool:
    value: object = record
    for part in key.split("."):
        value = getattr(value, part)
    return value is not None and value != () and value != ""


def _records(evidence: Evidence, group: str) -> list[tuple[str, Record]]:
    project = evidence.project
    if group == "lot":
        used = {key for protocol in project.protocols for key in evidence.lots_used(protocol)}
        return [(f"lot {record.lot}", record) for key, record in evidence.lots.items() if key in used]
    groups: dict[str, tuple[Record, ...]] = {
        "protocol": project.protocols,
        "protocol with results": with_results(evidence),
        "design input": project.design_inputs,
        "method": tuple(r for r in project.methods if any(p.method == r.id for p in project.protocols)),
        "equipment": project.equipment,
    }
    return [(str(getattr(record, "id", "")), record) for record in groups[group]]


def _device(key: str) -> Lacking:
    return lambda evidence: [] if _filled(evidence.project.settings, key) else [key]


def _always(evidence: Evidence) -> list[str]:
    """Printed in every package, whatever it holds."""
    return [] if evidence.project.protocols else ["any protocol"]


def _not_run(evidence: Evidence) -> list[str]:
    """Each test that a map with this word names has an answer, or the reason why it was not run."""
    mapping = evidence.project.requirements_map
    named = {str(ref) for link in mapping.links for ref in link.clauses}
    named |= {str(ref) for method in evidence.project.methods for ref in method.clauses}
    named |= {str(document.clause) for document in mapping.evidence_elsewhere}
    named |= {str(entry.clause) for entry in mapping.not_applicable if entry.reason}
    return [
        f"'{entry.topic}'"
        for map in evidence.project.maps
        if map.id in mapping.maps and any("map.not_applicable" in entry.answered_by for entry in map.entries)
        for entry in map.entries
        if entry.kind == "test" and not entry.answered_by and f"{map.id}:{entry.clause}" not in named
    ]


def with_results(evidence: Evidence) -> tuple[Protocol, ...]:
    return tuple(protocol for protocol in evidence.project.protocols if evidence.has_results(protocol))


def _results(evidence: Evidence) -> list[str]:
    """Every verification protocol with results has results that were evaluated."""
    return [
        protocol.id
        for protocol in with_results(evidence)
        if protocol.purpose is Purpose.VERIFICATION
        and not any(evaluation.n for evaluation in evidence.evaluations_of.get(protocol.id, ()))
    ] or _raw_data(evidence)


def _raw_data(evidence: Evidence) -> list[str]:
    return [] if with_results(evidence) else ["any protocol with results"]


def _recorded(column: str) -> Lacking:
    """Every result of every protocol has the column filled."""

    def lacking(evidence: Evidence) -> list[str]:
        bare = [
            protocol.id
            for protocol in evidence.project.protocols
            if any(not getattr(batch, column) for batch in evidence.tested(protocol))
        ]
        return bare or _raw_data(evidence)

    return lacking


def _calibration(evidence: Evidence) -> list[str]:
    used = {id for method in evidence.project.methods for id in method.equipment}
    return [id for id in sorted(used) if id not in evidence.calibrations]


def _conditioning(evidence: Evidence) -> list[str]:
    """Protocols of methods that ask for preconditioning and record no conditioning."""
    return [
        protocol.id
        for protocol in evidence.project.protocols
        if evidence.methods[protocol.method].preconditioning and not protocol.conditioning
    ] or _raw_data(evidence)


def _laboratory(evidence: Evidence) -> list[str]:
    return [protocol.id for protocol in evidence.project.protocols if protocol.laboratory is None]


def _limits(evidence: Evidence) -> list[str]:
    return [
        record.id
        for record in evidence.project.design_inputs
        if record.kind.value == "variable" and record.lower_limit is None and record.upper_limit is None
    ]


def _met(evidence: Evidence) -> list[str]:
    """Design inputs whose verdict is another than met."""
    verdicts = {result.design_input: result.verdict for result in evidence.results}
    return [r.id for r in evidence.project.design_inputs if verdicts.get(r.id) is not Verdict.MET]


def _limit_method(evidence: Evidence) -> list[str]:
    unstated = [r.id for r in evidence.project.design_inputs if r.kind.value == "variable" and r.limit_method is None]
    # a method that is named, but is not the one of the results, is no comparison of like with like
    unlike = {
        record.id
        for _, record, evaluation in evidence.evaluations()
        if any(one.rule == "limit-set-on-another-method" for one in evaluation.standing)
    }
    return list(dict.fromkeys((*unstated, *(r.id for r in evidence.project.design_inputs if r.id in unlike))))


def _equivalence(evidence: Evidence) -> list[str]:
    return [
        name
        for name, record in _records(evidence, "lot")
        if not getattr(record, "production_equivalent", False) and not getattr(record, "justification", "")
    ]


def _reduction(evidence: Evidence) -> list[str]:
    """Methods of protocols that read force-displacement records and say no rule to reduce them."""
    return [p.method for p in evidence.project.protocols if p.traces and evidence.methods[p.method].reduction is None]


def _worst_case(evidence: Evidence) -> list[str]:
    device = evidence.project.settings.device
    return [] if device.worst_case_rationale or len(device.models) == 1 else ["device.worst_case_rationale"]


def _standards(evidence: Evidence) -> list[str]:
    return [] if evidence.project.requirements_map.standards else ["any use of a standard"]


WORDS: dict[str, Word] = {
    "analysis_plan": Word("the declared analysis plan, with the day of its declaration", _always),
    "decision_rule": Word("the decision rule of the plan", _always),
    "rounding": Word("the rounding method of the plan (ASTM E29)", _always),
    "design_input.limit": Word("the limits of each design input", _limits),
    "design_input.limit_basis": Word("where each limit comes from", _each("design input", "limit_basis")),
    "design_input.limit_method": Word(
        "the method each limit was set with, which the tests use or which is bridged to theirs", _limit_method
    ),
    "design_input.met": Word("the verdict on each design input, all of them met", _met),
    "device.description": Word("the device tested", _device("device.description")),
    "device.models": Word("the models and their sizes", _device("device.models")),
    "device.worst_case_rationale": Word("why the tested sizes cover the others", _worst_case),
    "document.control": Word("document number, revision and title in every header", _always),
    "document.history": Word("the history of the document", _device("document.history")),
    "equipment.calibration": Word("calibration periods of the equipment that methods list", _calibration),
    "evaluation.interval": Word("tolerance bounds, with factor and claim", _results, of_results=True),
    "evaluation.statistics": Word("n, mean, standard deviation, minimum and maximum", _results, of_results=True),
    "evaluation.steps": Word("each check of the plan with its outcome", _results, of_results=True),
    "evaluation.summary": Word("the results table of each test", _results, of_results=True),
    "laboratory": Word("name and address of the laboratory", _laboratory),
    "lot.design_revision": Word("the design revision of each lot", _each("lot", "design_revision")),
    "lot.id": Word("the lots tested", _each("lot", "lot")),
    "lot.justification": Word("why a lot unlike production may stand for it", _equivalence),
    "lot.production_equivalent": Word("whether lots were made as in production", _equivalence),
    "lot.sterilized": Word("sterilization of each lot", _each("lot", "sterilized")),
    "map.not_applicable": Word("clauses that do not apply, with reasons", _not_run),
    "method.clauses": Word("the clauses that each method follows", _each("method", "clauses")),
    "method.equipment": Word("the equipment of each method", _each("method", "equipment")),
    "method.fixture": Word("the fixture of each method", _each("method", "fixture.description")),
    "method.measurand": Word("what each method measures", _each("method", "measurand")),
    "method.parameters": Word("the fixed settings of each method", _each("method", "parameters")),
    "method.preconditioning": Word("preconditioning asked for, and done", _conditioning, of_results=True),
    "method.reduction": Word("how a force-displacement record becomes a value", _reduction),
    "method.revision": Word("the revision of each method", _each("method", "revision")),
    "method.title": Word("the title of each method", _each("method", "title")),
    "method.validation": Word("validation of each method", _each("method", "validation")),
    "package.manifest": Word("the manifest: fingerprints of all inputs and outputs", _always),
    "protocol.approved_on": Word("approval date of each protocol", _each("protocol", "approved_on")),
    "protocol.conditioning": Word("conditioning of the specimens, or that there was none", _conditioning),
    "protocol.criteria": Word("acceptance criteria of each protocol", _always),
    "protocol.discussion": Word(
        "a discussion of each test's results", _each("protocol with results", "discussion"), of_results=True
    ),
    "protocol.id": Word("the id of each protocol", _each("protocol", "id")),
    "protocol.objective": Word("the objective of each test", _each("protocol", "objective")),
    "protocol.revision": Word("the revision of each protocol", _each("protocol", "revision")),
    "protocol.title": Word("the title of each test", _each("protocol", "title")),
    "protocol.verifies": Word("the design inputs each test verifies", _each("protocol", "verifies")),
    "report.approvals": Word("the approval block of the document", _device("document.approvals")),
    "report.deviations": Word("deviations of each test, or that there were none", _always),
    "report.exclusions": Word("specimens set aside, with cause", _always),
    "report.failure_modes": Word("how each specimen ended", _recorded("failure_mode"), of_results=True),
    "report.history": Word("the history of each report", _each("protocol", "report.history")),
    "report.investigations": Word("investigations of failures, or that there were none", _always),
    "report.location": Word("where each complete report is, or is to be", _each("protocol", "report.location")),
    "report.number": Word("number and revision of each report", _each("protocol", "report.number")),
    "report.on": Word("the date of each report", _each("protocol with results", "report.on"), of_results=True),
    "report.raw_data": Word("every single value with file and row", _raw_data, of_results=True),
    "risk.links": Word("the risk behind each design input", _each("design input", "risk")),
    "sampling.groups": Word("number of specimens by lot and condition", _each("protocol", "sampling.groups")),
    "sampling.justification": Word("why the number is enough", _each("protocol", "sampling.justification")),
    "sampling.selection": Word("how specimens were selected", _each("protocol", "sampling.selection")),
    "section.summary_table": Word("the summary table of the section", _always),
    "sources.fingerprints": Word("SHA-256 of every file read", _always),
    "specimen.id": Word("the id of each specimen", _raw_data, of_results=True),
    "standards.use": Word("how each standard is used", _standards),
    "submission.claim": Word("the claim of the submission", _device("submission.claim")),
    "trace.links": Word("the traceability matrix, both ways", _always),
    "verdict": Word("a verdict with its reason for each design input", _always),
}
