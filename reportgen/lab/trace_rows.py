"""Specimens that no result file lists, taken from the names of their records: one pull, one file, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.lab.grid import FileBytes, Grid, Shelf
from reportgen.lab.headings import Vocabulary
from reportgen.lab.records import Guess
from reportgen.lab.rows import Block, texts_of
from reportgen.lab.trace_files import matching
from reportgen.problems import Problem
from reportgen.project.records import Layout, Project, Protocol, TraceFiles


def blocks_from_traces(
    project: Project, protocol: Protocol, vocabulary: Vocabulary, *, guesses: list[Guess], problems: list[Problem]
) -> list[Block]:
    """One block of one row for each record of a protocol without result files, if the pattern names the specimen.

    Lot and condition come from the pattern or, where it is silent, from a plan that leaves only one.
    """
    declared = protocol.traces
    if declared is None or protocol.results or "{specimen}" not in declared.files:
        return []
    shelf = Shelf(project.folder)
    blocks = []
    # a pattern that cannot be followed is told when its records are read
    for file, parts in matching(project.folder, declared, []):
        source = shelf.read(file, named_at=declared.at("files"))
        if isinstance(source, FileBytes):
            blocks.append(_block(source, parts, protocol, vocabulary))
    if not blocks:
        return []
    unsettled = list(_unsettled(protocol, declared))
    problems.extend(unsettled)
    if unsettled:
        return []
    guesses.append(
        Guess(
            declared.at("files"),
            f"specimens taken from the names of {len(blocks)} records: {protocol.id} has no result file, so that "
            "date, operator, equipment and failure mode are not known",
        )
    )
    return blocks


def _block(source: FileBytes, parts: dict[str, str], protocol: Protocol, vocabulary: Vocabulary) -> Block:
    lots = sorted({group.lot for group in protocol.sampling.groups})
    texts = {"specimen": parts["specimen"], "lot": parts.get("lot") or lots[0], "trace": source.file}
    if "condition" in parts:
        texts["condition"] = parts["condition"]
    return Block(
        protocol=protocol,
        layout=Layout(),
        vocabulary=vocabulary,
        grid=Grid(source.file, "", source.source.sha256, [], [1]),
        numbers=[1],
        texts={name: texts_of([text]) for name, text in texts.items()},
        headings={},
        values=[],
        long=False,
        long_unit=None,
        decimal_comma=False,
    )


def _unsettled(protocol: Protocol, declared: TraceFiles) -> Iterator[Problem]:
    """What neither the pattern nor the plan says of a specimen."""
    lots = sorted({group.lot for group in protocol.sampling.groups})
    if "{lot}" not in declared.files and len(lots) != 1:
        yield _ambiguous("lot", lots, protocol, declared)
    for lot in lots if "{condition}" not in declared.files else ():
        conditions = sorted({group.condition for group in protocol.sampling.groups if group.lot == lot})
        if len(conditions) > 1:
            yield _ambiguous("condition", conditions, protocol, declared)
            return


def _ambiguous(what: str, known: list[str], protocol: Protocol, declared: TraceFiles) -> Problem:
    return Problem(
        place=declared.at("files"),
        found=f"{declared.files!r}, which says nothing of the {what}, in a protocol without result files",
        expected=f"the {what} of each specimen; {protocol.id} plans {', '.join(known) or 'none'}",
        mend=f"put {{{what}}} into the pattern and the file names, or list the specimens in a result file",
    )
