"""What changed since an earlier package: issued documents change by a revision that says why."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.project.records import DocumentControl, Protocol, ReportControl
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import EarlierPackage, Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import counted, listed


def _revised(control: DocumentControl | ReportControl, before: str) -> bool:
    """Whether a document has another revision than before, with an entry in its history that says why."""
    told = any(entry.revision == control.revision for entry in control.history)
    return control.revision != before and told


@rule("data-changed-without-revision", severity=Severity.BLOCKER)
def data_changed(evidence: Evidence) -> Iterator[Hole]:
    """Result files that are not those of an earlier package, under a report that was issued and not revised since.

    Why: two reports of one number and revision with different data; nobody can tell which of them was reviewed.
    Source: ISO/IEC 17025:2017, 7.8.8 (amended reports say what changed and why) and 7.11; 21 CFR 11.10.
    Asked only with an earlier package (`check --since`, `build --earlier`); a dated report is taken as issued.
    """
    if evidence.earlier is None:
        return
    for protocol in evidence.project.protocols:
        revision, issued = evidence.earlier.reports.get(protocol.id, ("", False))
        changed = _files_changed(evidence, protocol, evidence.earlier)
        named = [file for file in changed if any(file in d.description for d in protocol.deviations)]
        if issued and changed and len(named) < len(changed) and not _revised(protocol.report, revision):
            yield Hole(
                records=(protocol.id, protocol.report.number, *changed),
                place=protocol.report.at("revision"),
                message=f"Report {protocol.report.number} was issued as revision {revision}; since then "
                f"{counted(len(changed), 'data file')} of {protocol.id} changed ({listed(changed)}), and no later "
                "revision says why.",
                remedy="Restore the data if the change is a mistake. Otherwise raise report.revision and add an entry "
                "to report.history that says what changed and why.",
            )


def _files_changed(evidence: Evidence, protocol: Protocol, earlier: EarlierPackage) -> list[str]:
    """Files of a protocol with other bytes than in the earlier package, new ones and missing ones among them."""
    now = {source.path: source.sha256 for source in (*evidence.reading.sources, *evidence.project.sources)}
    files = {file.file for file in protocol.results}
    files |= {reduced.trace.place.file for reduced in evidence.reading.reduced if reduced.trace.protocol == protocol.id}
    return [file for file in sorted(files) if now.get(file, "") != earlier.inputs.get(file, "")]


@rule("records-changed-without-revision", severity=Severity.MAJOR)
def records_changed(evidence: Evidence) -> Iterator[Hole]:
    """Records of the argument that changed since the section was issued, while it kept its revision.

    Why: a limit, a method or a lot that changes under an unchanged document number is a change that nobody reviewed.
    Source: ISO 13485:2016, 4.2.4 and 7.3.9; ISO/IEC 17025:2017, 7.8.8.
    Asked only with an earlier package that was no draft (`check --since`, `build --earlier`).
    """
    earlier, document = evidence.earlier, evidence.project.settings.document
    if earlier is None or earlier.draft or not earlier.changed or _revised(document, earlier.document_revision):
        return
    yield Hole(
        records=(document.number, *earlier.changed),
        place=document.at("revision"),
        message=f"Document {document.number} was issued as revision {earlier.document_revision}; since then "
        f"{counted(len(earlier.changed), 'record')} changed ({listed(earlier.changed)}), and no later revision says "
        "why.",
        remedy="Raise document.revision and add an entry to document.history that says what changed and why, or "
        "restore the records.",
    )
