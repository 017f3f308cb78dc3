"""What a person reads on the terminal: a table where there is a terminal, plain lines where the output is piped."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reportgen.workflow import Analysis, Built
    from reportgen.workflow_documents import Reconciled
    from reportgen.workflow_packages import Change, Impact, Walk

_ROWS_TOLD = 40

# Verdicts and severities are told by word and sign; colour only repeats what the word says.
SIGNS = {"met": "✔", "not met": "✖", "not demonstrated": "◐", "not tested": "○"}
STYLES = {
    "met": "green",
    "not met": "bold red",
    "not demonstrated": "yellow",
    "not tested": "dim",
}


def print_findings(analysis: Analysis) -> None:
    """Every finding as a block: severity, rule, records, place, what, and how to mend it; then the counts."""
    for finding in analysis.audit.findings:
        waived = f"  (waived by {finding.waiver.by}: {finding.waiver.reason})" if finding.waiver else ""
        print(f"{finding.severity.value}: {finding.rule}  [{', '.join(finding.records)}]{waived}")
        if finding.place is not None:
            print(f"  at:      {finding.place}")
        print(f"  found:   {finding.message}")
        print(f"  to mend: {finding.remedy}\n")
    print(count_line(analysis.counts))


def print_walks(walks: tuple[Walk, ...]) -> None:
    """Each walk as two indented lists: what the record hangs on, and what hangs on it."""
    for walk in walks:
        print(f"{walk.start.kind.value} {walk.start.id}")
        for title, reached in (("hangs on", walk.up), ("carries", walk.down)):
            print(f"  {title}:" if reached else f"  {title}: nothing")
            for one in reached:
                print(f"  {'  ' * one.depth}{one.node.kind.value} {one.node.id}  ({one.via.why})")
        print()


def print_impact(impact: Impact) -> None:
    """What changed since the earlier package, and what hangs on it."""
    print(f"\nSince the earlier package: {len(impact.changes)} changes")
    print_changes(impact.changes)
    for one in impact.touched:
        print(f"touched by {one.name}:")
        for title, names in (
            ("evaluations", one.evaluations),
            ("verdicts now", tuple(f"{id} {verdict}" for id, verdict in one.verdicts)),
            ("clauses", one.clauses),
            ("documents", one.documents),
        ):
            if names:
                print(f"  {title}: {', '.join(names)}")


def print_changes(changes: Iterable[Change]) -> None:
    """One line per difference: kind, name, before and after."""
    for change in changes:
        name = f"{change.id}, {change.what}" if change.what else change.id
        print(f"{change.kind}: {name}: {change.before or 'none'} -> {change.after or 'none'}")


def print_checks(found: Reconciled) -> None:
    """Every value that does not agree, with what stands in the document and what the data say; then the counts.

    Of a refreshed document first what was replaced, texts in full: somebody may want their own words back.
    """
    from collections import Counter

    for check in found.replaced:
        told = "replaced, typed over before" if check.standing == "typed over" else "replaced"
        print(f"{told}: {check.key}" + (f"  (under {check.where!r})" if check.where else ""))
        if check.shape == "text":
            print(f"  before: {check.document_text}")
            print(f"  now:    {check.data_text}")
        elif check.shape == "table":
            for line in _changed_rows(check.document_text, check.data_text):
                print(f"  {line}")
    for check in found.checks:
        if check.standing == "agrees":
            continue
        print(f"{check.standing}: {check.key}" + (f"  (under {check.where!r})" if check.where else ""))
        if check.standing in {"differs", "typed over"}:
            print(f"  document: {_short(check.document_text)}")
            print(f"  data:     {_short(check.data_text)}")
        elif check.standing == "unknown key" and check.shape == "text":
            print(f"  document: {_short(check.document_text)}")
    count = Counter(check.standing for check in found.checks)
    print(f"{found.file_name}: " + ", ".join(f"{number} {standing}" for standing, number in count.items()))


def _changed_rows(before: str, now: str) -> Iterator[str]:
    """The rows of a table that went, and those that came; of many the first."""
    from collections import Counter

    for told, rows, others in (("before:", before, now), ("now:   ", now, before)):
        gone = list((Counter(rows.splitlines()) - Counter(others.splitlines())).elements())
        yield from (f"{told} {row}" for row in gone[:_ROWS_TOLD])
        if len(gone) > _ROWS_TOLD:
            yield f"{told} ... and {len(gone) - _ROWS_TOLD} more rows"


def _short(text: str) -> str:
    """A value as it is; of a long table the beginning."""
    line = " / ".join(text.splitlines())
    return line if len(line) <= 160 else line[:157] + "..."


def print_built(built: Built, target: Path) -> None:
    """Where it stands, what was found, and on stderr what the reader should know of template and PDF files."""
    print(f"Written: {target}")
    print(count_line(built.analysis.counts))
    for note in built.house_notes:
        print(note, file=sys.stderr)
    for note in built.copy_notes:
        print(f"For an electronic submission: {note}", file=sys.stderr)
    if built.analysis.counts.get("blocker"):
        print("The documents say 'Draft - not for submission' until the blockers are mended or waived.")


def count_line(found: dict[str, int]) -> str:
    return "Findings: " + ", ".join(f"{count} {severity}" for severity, count in found.items())
