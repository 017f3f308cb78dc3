"""Reports and files: found by number, dated in order, raw data unchanged, and in the section where they belong."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reportgen.acceptance.records import Verdict
from reportgen.project.records import DocumentControl, ReportControl
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import listed

_OUT_OF_SCOPE = re.compile(
    r"biocompatib|cytotox|sensiti[sz]ation study|sterili[sz]ation validation|reprocessing validation|animal study"
    r"|in vivo|clinical (?:study|trial|investigation)|software (?:verification|validation)|usability|human factors",
    re.IGNORECASE,
)
_REVISION = re.compile(r"(\S+?),?\s+rev(?:ision|\.)?\s+([A-Za-z0-9]+)", re.IGNORECASE)
_ALL = re.compile(r"\b(?:all|every|each)\b", re.IGNORECASE)
_PASSED = re.compile(r"\b(?:passed|passes|met|meets|conforms?|conformed|demonstrates?|demonstrated)\b", re.IGNORECASE)
_NEGATED = re.compile(r"\b(?:not|no|none|never|but|except|fails?|failed|misses|missed)\b", re.IGNORECASE)
_SAFE_NAME = re.compile(r"^[A-Za-z0-9 ._-]+$")
LONGEST_NAME = 125
LARGEST_BYTES = 50 * 1024 * 1024


@rule("evidence-file-changed", severity=Severity.BLOCKER)
def changed(evidence: Evidence) -> Iterator[Hole]:
    """A result file whose bytes are not those that were registered.

    Why: raw data that changed after it was handed over is no longer the original record.
    Source: 21 CFR 11.10; ISO/IEC 17025:2017, 7.11; public data-integrity guidances (ALCOA+).
    """
    read = {source.path: source for source in (*evidence.project.sources, *evidence.reading.sources)}
    for protocol in evidence.project.protocols:
        for file in protocol.results:
            source = read.get(file.file)
            if source is not None and file.sha256 is not None and source.sha256 != file.sha256:
                since = f" on {file.registered_on}" if file.registered_on else ""
                yield Hole(
                    records=(protocol.id, file.file),
                    place=file.at("sha256"),
                    message=f"{file.file} is not the file that was registered{since}: its SHA-256 is "
                    f"{source.sha256[:12]}..., registered was {file.sha256[:12]}....",
                    remedy="Restore the registered file. If the change is right, keep the old file, write the new "
                    "SHA-256 here and record a deviation that says what changed and why.",
                )


@rule("result-file-without-fingerprint", severity=Severity.NOTE)
def no_fingerprint(evidence: Evidence) -> Iterator[Hole]:
    """A result file for which no SHA-256 was registered.

    Why: nothing would show it if the file were changed between the bench and the report.
    Source: 21 CFR 11.10; public data-integrity guidances (ALCOA+); common practice.
    """
    for protocol in evidence.project.protocols:
        bare = [file for file in protocol.results if file.sha256 is None]
        if bare:
            yield Hole(
                records=(protocol.id, *(file.file for file in bare)),
                place=bare[0].at("file"),
                message=f"{protocol.id} registers no SHA-256 for {listed(file.file for file in bare)}.",
                remedy="Add sha256 (and registered_on) to the file under `results` when the lab hands it over.",
            )


@rule("report-number-shared", severity=Severity.BLOCKER)
def shared_number(evidence: Evidence) -> Iterator[Hole]:
    """Two test reports with one number, or one with the number of the section.

    Why: a summary that points to a report must point to one document.
    Source: ISO/IEC 17025:2017, 7.8.2 (unique identification); FDA bench performance guidance, 2019.
    """
    users: dict[str, list[str]] = {evidence.project.settings.document.number: ["the bench-testing section"]}
    for protocol in evidence.project.protocols:
        users.setdefault(protocol.report.number, []).append(protocol.id)
    for number, names in users.items():
        if len(names) > 1:
            last = evidence.protocols[names[-1]]
            yield Hole(
                records=(number, *(name for name in names if name in evidence.protocols)),
                place=last.report.at("number"),
                message=f"Report number {number} is used for {listed(names)}.",
                remedy="Give each report its own number under `report` of its protocol.",
            )


@rule("report-without-location", severity=Severity.MINOR)
def no_location(evidence: Evidence) -> Iterator[Hole]:
    """A test report that has results, but not where it stands in the submission.

    Why: each summary says where the complete report is.
    Source: FDA bench performance guidance, 2019; EU MDR 2017/745, Annex II section 4 (location of each document).
    """
    for protocol in evidence.project.protocols:
        if evidence.has_results(protocol) and not protocol.report.location:
            yield Hole(
                records=(protocol.id, protocol.report.number),
                place=protocol.report.at("location"),
                message=f"Report {protocol.report.number} of {protocol.id} does not say where it is in the submission.",
                remedy="Write it in report.location, such as: Attachment 12.",
            )


@rule("report-dated-before-last-result", severity=Severity.MAJOR)
def too_early(evidence: Evidence) -> Iterator[Hole]:
    """A report that is older than its last result.

    Why: it cannot contain what had not been tested yet.
    Source: ISO/IEC 17025:2017, 7.8.2 (dates of the test and of issue); common practice.
    """
    for protocol in evidence.project.protocols:
        days = evidence.test_days(protocol)
        if protocol.report.on and days and protocol.report.on < days[-1][0]:
            yield Hole(
                records=(protocol.id, protocol.report.number),
                place=protocol.report.at("on"),
                message=f"Report {protocol.report.number} is dated {protocol.report.on}, before the last result of "
                f"{days[-1][0]} ({days[-1][1].place}).",
                remedy="Issue a new revision of the report with its date and history, or correct the test date.",
            )


@rule("report-without-discussion", severity=Severity.MINOR)
def no_discussion(evidence: Evidence) -> Iterator[Hole]:
    """A protocol with results and no discussion of what they mean.

    Why: results are to come with a critical analysis and a conclusion tied to the claim; a verdict alone is neither.
    Source: FDA bench performance guidance, 2019 (discussion); EU MDR 2017/745, Annex II section 6 (critical analyses).
    """
    for protocol in evidence.project.protocols:
        if evidence.has_results(protocol) and not protocol.discussion:
            yield Hole(
                records=(protocol.id,),
                place=protocol.at("discussion"),
                message=f"{protocol.id} has results and no discussion.",
                remedy="Write in `discussion` what the results mean for the claim, with anything unusual explained.",
            )


@rule("no-approver-named", severity=Severity.MINOR)
def no_approver(evidence: Evidence) -> Iterator[Hole]:
    """A document whose approval block names nobody.

    Why: somebody with authority has to review and sign it; the tool never does.
    Source: ISO 13485:2016, 4.2.4; common practice, no source.
    """
    document = evidence.project.settings.document
    if not document.approvals:
        yield Hole(
            records=(document.number,),
            place=document.at("approvals"),
            message=f"Document {document.number} names nobody who is to approve it.",
            remedy="List role and name under document.approvals in project.yaml; signature and date stay with them.",
        )


@rule("testing-after-planned-submission", severity=Severity.MINOR)
def after_submission(evidence: Evidence) -> Iterator[Hole]:
    """Results that are later than the day on which the submission is planned.

    Why: testing is finished before submission, above all for a declaration of conformity.
    Source: FDA guidance on voluntary consensus standards, 2018 (no promissory statements).
    """
    planned = evidence.project.settings.submission.planned_on
    for protocol in evidence.project.protocols:
        days = evidence.test_days(protocol)
        if planned and days and days[-1][0] > planned:
            yield Hole(
                records=(protocol.id,),
                place=evidence.project.settings.submission.at("planned_on"),
                message=f"{protocol.id} has results of {days[-1][0]}; submission is planned on {planned}.",
                remedy="Correct planned_on in project.yaml, or the test date.",
            )


@rule("test-outside-bench-scope", severity=Severity.MINOR)
def out_of_scope(evidence: Evidence) -> Iterator[Hole]:
    """A protocol that by its title or objective belongs to another part of the submission.

    Why: biocompatibility, sterilization validation, software, animal, clinical and human-factors reports are not bench
    performance tests and have sections of their own.
    Source: FDA bench performance guidance, 2019 (scope, second-hand). Recognized by words.
    """
    for protocol in evidence.project.protocols:
        found = _OUT_OF_SCOPE.search(f"{protocol.title} {protocol.objective}")
        if found:
            yield Hole(
                records=(protocol.id,),
                place=protocol.at("title"),
                message=f"{protocol.id} ({protocol.title}) speaks of {found.group(0)!r}, which is outside bench "
                "performance testing.",
                remedy="Move it to its own section, or word the title and objective so that the bench test is clear.",
            )


@rule("file-unfit-for-electronic-copy", severity=Severity.MINOR)
def unfit_file(evidence: Evidence) -> Iterator[Hole]:
    """With an electronic copy planned: a protocol id or raw-data file that its rules for names and sizes refuse.

    Why: such files are put on hold before anybody reads them.
    Source: FDA eCopy guidance, 3 Dec 2025 (letters, digits, spaces, hyphen, underscore, period; 125 characters; 50 MB).
    """
    if not evidence.project.settings.submission.electronic_copy:
        return
    for protocol in evidence.project.protocols:
        if not _SAFE_NAME.match(protocol.id):
            yield _name_hole(protocol.id, "The report's file is named after it.", protocol.id)
    for source in evidence.reading.sources:
        name = source.path.rsplit("/", 1)[-1]
        if not _SAFE_NAME.match(name) or len(name) > LONGEST_NAME:
            yield _name_hole(source.path, "It goes along as raw data.", name)
        elif source.size > LARGEST_BYTES:
            yield Hole(
                records=(source.path,),
                place=None,
                message=f"{source.path} has {source.size / 1024 / 1024:.0f} MB; a file of an electronic copy may "
                "have 50.",
                remedy="Hand it over in parts.",
            )


def _name_hole(record: str, use: str, name: str) -> Hole:
    return Hole(
        records=(record,),
        place=None,
        message=f"The name of {record} has characters or a length that an electronic copy refuses ({name!r}). {use}",
        remedy=f"Use letters, digits, spaces, hyphen, underscore and period, at most {LONGEST_NAME} characters.",
    )


@rule("report-revision-not-in-history", severity=Severity.MINOR)
def revision_unlisted(evidence: Evidence) -> Iterator[Hole]:
    """A document with a history in which its own revision is missing.

    Why: a reader who holds two revisions cannot tell what changed.
    Source: ISO 13485:2016, 4.2.4; ISO/IEC 17025:2017, 7.8.8 (amended reports).
    """
    document = evidence.project.settings.document
    controlled: list[DocumentControl | ReportControl] = [document]
    controlled += [protocol.report for protocol in evidence.project.protocols]
    for told in controlled:
        if told.history and all(entry.revision != told.revision for entry in told.history):
            yield Hole(
                records=(told.number,),
                place=told.at("history"),
                message=f"Document {told.number} is revision {told.revision}, but its history ends with "
                f"{told.history[-1].revision}.",
                remedy="Add the revision with date, author and change to `history`, or correct `revision`.",
            )


@rule("reference-names-other-revision", severity=Severity.MAJOR)
def other_revision(evidence: Evidence) -> Iterator[Hole]:
    """A document named in evidence or as a bridging study that is a report of this project in another revision.

    Why: the reader looks for a revision that is not in the submission, and finds another text.
    Source: FDA bench performance guidance, 2019 (where the complete report is); ISO 13485:2016, 4.2.4. Recognized by
    the report's number followed by `rev` and a revision.
    """
    reports = {protocol.report.number: protocol.report.revision for protocol in evidence.project.protocols}
    named = [(entry.document, entry.at("document")) for entry in evidence.project.requirements_map.evidence_elsewhere]
    for protocol in evidence.project.protocols:
        named += [(study.study, study.at("study")) for study in protocol.bridging]
    for document, place in named:
        found = _REVISION.search(document)
        number = found.group(1) if found else ""
        if found and number in reports and found.group(2) != reports[number]:
            yield Hole(
                records=(number,),
                place=place,
                message=f"{document!r} is named as evidence; report {number} of this project is revision "
                f"{reports[number]}.",
                remedy="Name the revision that is submitted, after a look at what changed since the one named.",
            )


@rule("discussion-contradicts-verdict", severity=Severity.BLOCKER)
def contradicts(evidence: Evidence) -> Iterator[Hole]:
    """A discussion that says a design input is met, or that all are, while its computed verdict is another.

    Why: the conclusion has to be the one that the results carry.
    Source: FDA bench performance guidance, 2019 (conclusions); common practice. Recognized by words in one sentence.
    """
    verdicts = {result.design_input: result.verdict for result in evidence.results}
    for protocol in evidence.project.protocols:
        short = [id for id in protocol.verifies if id in verdicts and verdicts[id] is not Verdict.MET]
        for sentence in re.split(r"(?<=[.;!?])\s+", protocol.discussion) if short else ():
            named = [id for id in short if id in sentence] or (short if _ALL.search(sentence) else [])
            if named and _PASSED.search(sentence) and not _NEGATED.search(sentence):
                yield Hole(
                    records=(protocol.id, *named),
                    place=protocol.at("discussion"),
                    message=f"The discussion of {protocol.id} says {sentence.rstrip('.')!r}, but "
                    f"{listed([f'{id} is {verdicts[id]}' for id in named])}.",
                    remedy="Word the discussion as the results carry it.",
                )
