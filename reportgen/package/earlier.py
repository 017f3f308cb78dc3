"""What an earlier package was made from, as far as a later one has to answer for changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from reportgen.package.compare import Facts, compare


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """`inputs` are fingerprints by path; `reports` revision and whether dated, by protocol; `changed` names records."""

    document_revision: str
    draft: bool
    inputs: dict[str, str]
    reports: dict[str, tuple[str, bool]]
    changed: tuple[str, ...]


def earlier_of(facts: Facts, records_now: Mapping[str, Any]) -> Earlier:
    """Args: facts of a manifest; the records of the present project, as a manifest would hold them."""
    document, inputs, records = facts.get("document"), facts.get("inputs"), facts.get("records")
    before = records if isinstance(records, dict) else {}
    changes = compare({"records": before}, {"records": dict(records_now)})
    return Earlier(
        document_revision=str(document.get("revision", "")) if isinstance(document, dict) else "",
        draft=bool(facts.get("draft")),
        inputs={str(one["path"]): str(one["sha256"]) for one in inputs} if isinstance(inputs, list) else {},
        reports={name.removeprefix("protocol "): _report(one) for name, one in before.items() if "report" in one},
        changed=tuple(dict.fromkeys(change.id for change in changes)),
    )


def _report(protocol: Mapping[str, Any]) -> tuple[str, bool]:
    report = protocol["report"]
    return str(report.get("revision", "")), bool(report.get("on"))
