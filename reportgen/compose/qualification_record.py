"""The record of an installation and operation check: what was run here, what came out, and lines for people to sign."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.acceptance.records import QualificationCheck
from reportgen.compose.finish import bound_in, finished
from reportgen.compose.offered import cautions_callout
from reportgen.compose.records import (
    Block,
    BoundValue,
    BuildFacts,
    Bullets,
    Cell,
    Column,
    Cover,
    Document,
    Heading,
    Paragraph,
    Run,
    Table,
)
from reportgen.rounding import plain

FILE_NAME = "qualification_record.docx"
# What no program can do for its user; common practice in software validation, no source.
LEFT_TO_THE_USER = (
    "State the intended use of this program in your procedures, and the risk of a wrong result in that use.",
    "Run data of your own with results known from another way, and file them with this record.",
    "Say who may change templates, maps and settings, and how changes are approved.",
    "Review and sign this record; repeat it after any change of the program, its libraries or the machine.",
)


def compose_qualification(checks: Sequence[QualificationCheck], *, facts: BuildFacts, system: str) -> Document:
    """The record as a document. Every check is bound under `qualification/<id>`."""
    failed = [check for check in checks if not check.passed]
    verdict = f"{len(checks) - len(failed)} of {len(checks)} checks passed" + (
        f"; failed: {', '.join(check.id for check in failed)}" if failed else ""
    )
    bound = {
        f"qualification/{check.id}": BoundValue(
            key=f"qualification/{check.id}",
            text="not computed" if check.found is None else f"{check.found:.10g}",
            value=check.found,
            unit="",
            origin=check.what,
        )
        for check in checks
    }
    blocks: list[Block] = [
        Cover(
            title="Installation and operation check of reportgen",
            subtitle=verdict,
            facts=(("Date", facts.date), ("System", system), *facts.tool_versions),
            draft_reasons=tuple(f"{check.id} failed: {check.what}. {check.note}".strip() for check in failed),
            approvals=(("Executed by", ""), ("Reviewed by", ""), ("Quality", "")),
            history=(),
        ),
        Heading(level=1, text="Checks against published values", anchor="checks"),
        Paragraph(
            runs=(
                Run(
                    text="Each value was computed on this machine by this installation and held against a value that"
                    " others published, to the digits they printed."
                ),
            )
        ),
        _table(checks, bound),
        Heading(level=1, text="What is left to the user", anchor="left"),
        Bullets(items=tuple((Run(text=item),) for item in LEFT_TO_THE_USER)),
        Heading(level=1, text="Cautions", anchor="cautions"),
        cautions_callout(),
    ]
    settled = finished(blocks)
    return Document(
        file_name=FILE_NAME,
        number="",
        revision="",
        title="Installation and operation check of reportgen",
        subject=verdict,
        author="",
        language="en-US",
        date=facts.date,
        draft=False,
        header_note="",
        footer_note=f"reportgen {facts.version}",
        blocks=settled,
        bound=bound_in(settled, bound),
    )


def _table(checks: Sequence[QualificationCheck], bound: dict[str, BoundValue]) -> Table:
    rows = tuple(
        (
            Cell(runs=(Run(text=check.id),)),
            Cell(runs=(Run(text=check.what),)),
            Cell(runs=(Run(text=f"{plain(check.expected)} ± {plain(check.digits)}"),)),
            Cell(runs=(Run(text=bound[f"qualification/{check.id}"].text, key=f"qualification/{check.id}"),)),
            Cell(runs=(Run(text="✔ passed" if check.passed else "✖ FAILED", bold=not check.passed),)),
            Cell(runs=(Run(text=check.source),)),
        )
        for check in checks
    )
    return Table(
        anchor="tbl-checks",
        caption="Computed and published values",
        key="qualification/checks",
        columns=(
            Column(title="Check", width=0.7),
            Column(title="What", width=2.4),
            Column(title="Published", width=1.2, align="right"),
            Column(title="Computed here", width=1.2, align="right"),
            Column(title="Outcome", width=0.9),
            Column(title="Source", width=2.4),
        ),
        rows=rows,
        landscape=True,
    )
