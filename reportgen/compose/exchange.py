"""The whole trace as plain records and links, for programs that are not ours: what an export holds, in which words."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.acceptance.records import DesignInputResult
from reportgen.compose.exchange_registers import registers_of
from reportgen.compose.records import (
    BuildFacts,
    TraceBranch,
    TraceExport,
    TraceField,
    TraceLink,
    TraceRecord,
    TraceRegister,
)
from reportgen.project.records import Project
from reportgen.trace.records import Audit, Link, NodeKind

# the way down that an outline shows; links of other kinds are in the list of links
_OUTLINE = (NodeKind.USER_NEED, NodeKind.DESIGN_INPUT, NodeKind.PROTOCOL, NodeKind.EVALUATION)


def compose_export(
    project: Project,
    results: tuple[DesignInputResult, ...],
    audit: Audit,
    links: Sequence[Link],
    *,
    facts: BuildFacts,
    specimens: bool,
) -> TraceExport:
    """Every record and link of the argument.

    Args:
        links: the whole graph. specimens: whether single specimens are told; they are most of a project.
    """
    kept = [link for link in links if specimens or NodeKind.SPECIMEN not in (link.source.kind, link.target.kind)]
    told = tuple(
        TraceLink(
            source=(link.source.kind.value, link.source.id),
            target=(link.target.kind.value, link.target.id),
            why=link.why,
        )
        for link in dict.fromkeys(kept)
    )
    device = project.settings.device
    registers = registers_of(project, results, audit)
    return TraceExport(
        title=f"{device.name}: trace from user needs to evidence",
        owner=f"{device.manufacturer}\n{device.name}",
        comment=(
            f"Calculated by reportgen {facts.version} from the files of project {project.settings.document.number}, "
            f"revision {project.settings.document.revision}. A calculated aid: review and signature are for qualified "
            "people. Standards are cited by number; topics are in our own words."
        ),
        date=facts.date,
        version=facts.version,
        registers=_with_all_ends(registers, told, specimens=specimens),
        links=told,
        outline=_outline(registers, told),
    )


def _with_all_ends(
    registers: tuple[TraceRegister, ...], links: Sequence[TraceLink], *, specimens: bool
) -> tuple[TraceRegister, ...]:
    """The registers with a bare record for each end of a link that none lists, such as equipment only results name."""
    ends: dict[str, dict[str, None]] = {}
    for link in links:
        for kind, id in (link.source, link.target):
            ends.setdefault(kind, {})[id] = None
    found = []
    for register in registers:
        if register.kind == NodeKind.SPECIMEN.value and not specimens:
            continue
        known = {record.id for record in register.records}
        bare = [id for id in ends.get(register.kind, ()) if id not in known]
        more = tuple(TraceRecord(id=id, title=id, values=_bare(register.fields, id, register.kind)) for id in bare)
        found.append(
            TraceRegister(
                kind=register.kind,
                name=register.name,
                fields=register.fields,
                records=(*register.records, *more),
                listed_links=register.listed_links,
            )
        )
    return tuple(found)


def _bare(fields: Sequence[TraceField], id: str, kind: str) -> tuple[str, ...]:
    known = {"id": id}
    if kind == NodeKind.SPECIMEN.value:
        known |= dict(zip(("lot", "condition", "specimen"), id.split("/", 2), strict=False))
    return tuple(known.get(field.name, "") for field in fields)


def _outline(registers: Sequence[TraceRegister], links: Sequence[TraceLink]) -> tuple[TraceBranch, ...]:
    below: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for link in links:
        below.setdefault(link.source, []).append(link.target)
    evaluated = {
        link.target: link.source
        for link in links
        if link.source[0] == "design input" and link.target[0] == "evaluation"
    }

    def branch(record: tuple[str, str], level: int, above: tuple[str, str] | None) -> TraceBranch:
        wanted = _OUTLINE[level + 1].value if level + 1 < len(_OUTLINE) else None
        found = [target for target in below.get(record, ()) if target[0] == wanted]
        if record[0] == "protocol":
            # a protocol serves several design inputs: here stand the evaluations of the one above it
            found = [target for target in found if evaluated.get(target) == above]
        return TraceBranch(record=record, below=tuple(branch(target, level + 1, record) for target in found))

    needs = next(register for register in registers if register.kind == NodeKind.USER_NEED.value)
    return tuple(branch((needs.kind, record.id), 0, None) for record in needs.records)
