"""What changed since an earlier package: verdicts, specimens that count, and findings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from reportgen.compose.dossier import Dossier
from reportgen.compose.records import EarlierStatus, StatusChange, StatusSince
from reportgen.compose.specimen_counts import specimen_counts
from reportgen.trace.records import Finding


def since(dossier: Dossier, earlier: EarlierStatus) -> StatusSince:
    """Every design input that either package has, unless both say the same of it."""
    verdicts, valid = dict(earlier.verdicts), dict(earlier.valid)
    now = {result.design_input: result for result in dossier.results}
    changes = []
    for id in dict.fromkeys((*now, *verdicts)):
        result = now.get(id)
        change = StatusChange(
            design_input=id,
            verdict_before=verdicts.get(id, ""),
            verdict_now="" if result is None else result.verdict.value,
            valid_before=str(valid[id]) if id in valid else "",
            valid_now="" if result is None else str(specimen_counts(result.evaluations).valid),
        )
        # a package that did not tell how many counted leaves only the verdicts to compare
        same_count = change.valid_before in {"", change.valid_now}
        if change.verdict_before != change.verdict_now or not same_count:
            changes.append(change)
    before, after = Counter(earlier.findings), Counter(finding_names(dossier.audit.findings))
    return StatusSince(
        name=earlier.name,
        changes=tuple(changes),
        unchanged=len(set(now) - {change.design_input for change in changes}),
        findings_gone=tuple((before - after).elements()),
        findings_new=tuple((after - before).elements()),
    )


def finding_names(findings: Sequence[Finding]) -> tuple[str, ...]:
    """'<rule> [<records>]' of each finding that counts."""
    return tuple(f"{one.rule} [{', '.join(one.records)}]" for one in findings if one.waiver is None)
