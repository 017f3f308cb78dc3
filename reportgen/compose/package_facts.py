"""What the manifest holds besides the outputs: versions, inputs, records, verdicts, values and findings, as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportgen.compose.bound import is_sentence
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Document
from reportgen.project.records import Project, Record
from reportgen.trace.records import Finding


def package_facts(dossier: Dossier) -> dict[str, object]:
    """JSON values only, unrounded: what `compare` and `reconcile` read back."""
    document = dossier.project.settings.document
    inputs = {one.path: one for one in (*dossier.project.sources, *dossier.reading.sources)}
    return {
        "version": dossier.facts.version,
        "date": dossier.facts.date,
        "versions": dict(dossier.facts.tool_versions),
        "document": {"number": document.number, "revision": document.revision, "title": document.title},
        "draft": bool(dossier.blockers()),
        "inputs": [
            {"path": path, "bytes": inputs[path].size, "sha256": inputs[path].sha256} for path in sorted(inputs)
        ],
        "records": records_on_file(dossier.project),
        "verdicts": {one.design_input: one.verdict.value for one in dossier.results},
        "values": {
            entry.key: {"text": entry.text, "value": entry.value, "unit": entry.unit}
            for entry in dossier.bound.values()
        },
        "findings": [_finding(finding) for finding in dossier.audit.findings],
    }


def bound_sentences(documents: Sequence[Document]) -> dict[str, dict[str, str]]:
    """By document, the sentences that are bound as a whole: `reconcile` tells by them what was reworded by somebody."""
    found = {
        document.file_name: {entry.key: entry.text for entry in document.bound if is_sentence(entry.key)}
        for document in documents
    }
    return {name: told for name, told in found.items() if told}


def records_on_file(project: Project) -> dict[str, dict[str, Any]]:
    """Every record that a verdict may hang on, by kind and id, with the fields that were given."""
    found: dict[str, dict[str, Any]] = {}
    for kind, records in (
        ("user need", project.user_needs),
        ("risk", project.risks),
        ("design input", project.design_inputs),
        ("equipment", project.equipment),
        ("method", project.methods),
        ("protocol", project.protocols),
    ):
        found |= {f"{kind} {record.id}": _given(record) for record in records}
    found |= {f"lot {lot.lot} ({lot.condition})": _given(lot) for lot in project.lots}
    found["assurance levels"] = _given(project.settings.assurance_levels)
    return found


def _given(record: Record) -> dict[str, Any]:
    return record.model_dump(mode="json", exclude_defaults=True)


def _finding(finding: Finding) -> dict[str, object]:
    waiver = finding.waiver
    return {
        "rule": finding.rule,
        "severity": finding.severity.value,
        "records": list(finding.records),
        "place": "" if finding.place is None else str(finding.place),
        "message": finding.message,
        "remedy": finding.remedy,
        "waived": None if waiver is None else {"reason": waiver.reason, "by": waiver.by, "on": waiver.on},
    }
