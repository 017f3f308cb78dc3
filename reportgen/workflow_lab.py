"""The jobs around the bench, in order: traces to values with their figures, and collection workbooks for the lab."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from reportgen import workflow
from reportgen.compose.reduction import reduction_data, reduction_table, trace_charts
from reportgen.lab.records import ReducedTrace
from reportgen.problems import Place, Problem, UnreadableInput, did_you_mean
from reportgen.project.read import read_project
from reportgen.project.records import Project


@dataclass(frozen=True, slots=True)
class Reduced:
    """The reduced traces of the wanted protocols, and all that was analysed with them."""

    analysis: workflow.Analysis
    by_protocol: dict[str, tuple[ReducedTrace, ...]]

    @property
    def data(self) -> dict[str, object]:
        return {"traces": [row for traces in self.by_protocol.values() for row in reduction_data(traces)]}

    @property
    def lines(self) -> tuple[str, ...]:
        """One line per trace, and its remarks below it."""
        found = []
        for protocol, traces in self.by_protocol.items():
            for one in traces:
                drop = "first drop" if one.reduction.dropped else "no drop; at least"
                later = ", a higher force follows" if one.reduction.later_higher_peak else ""
                found.append(
                    f"{protocol}\t{one.trace.specimen}\t{drop} {one.reduction.force_n:.4g} N"
                    f" at {one.reduction.displacement_mm:.3g} mm{later}"
                )
                found += [f"\t\t{remark.kind.value}: {remark.message}" for remark in one.remarks]
        return tuple(found)


def reduce(folder: Path, protocol: str | None) -> Reduced:
    """The traces of one protocol, or of all that have some. Raises: UnreadableInput."""
    analysis = workflow.analyse(folder)
    with_traces = [record.id for record in analysis.project.protocols if record.traces is not None]
    if protocol is not None:
        _known_protocol(analysis.project, protocol)
        if protocol not in with_traces:
            raise _no_traces(protocol, with_traces)
    wanted = [protocol] if protocol is not None else with_traces
    return Reduced(
        analysis,
        {name: tuple(one for one in analysis.reading.reduced if one.trace.protocol == name) for name in wanted},
    )


def write_reduction(reduced: Reduced, target: Path) -> None:
    """Values as CSV, a figure per trace and an overlay per group, in a folder of their own. Raises: UnreadableInput."""
    from reportgen.render.charts import chart_png
    from reportgen.render.deliver import deliver_files

    def files() -> Iterator[tuple[str, bytes]]:
        for protocol, traces in reduced.by_protocol.items():
            yield f"{protocol}/values.csv", reduction_table(traces).encode("utf-8")
            for name, chart in trace_charts(traces, reduced.analysis.results, protocol):
                yield f"{protocol}/{name}.png", chart_png(chart, width_mm=160, height_mm=90)

    inputs = [
        {"path": source.path, "sha256": source.sha256, "bytes": source.size}
        for source in reduced.analysis.reading.sources
    ]
    deliver_files(files(), target, facts={"content": "reduced traces", "inputs": inputs})


def write_sheet(folder: Path, protocol: str, target: Path, *, seed: int, date: str) -> None:
    """A collection workbook, under a name that nothing has yet.

    Raises: UnreadableInput, also when `target` already holds a workbook that somebody may have filled in.
    """
    from reportgen.lab.sheet import collection_workbook
    from reportgen.render.deliver import write_new_file

    project = read_project(folder)
    _known_protocol(project, protocol)
    write_new_file(target, collection_workbook(project, protocol, seed=seed, date=date))


def _known_protocol(project: Project, protocol: str) -> None:
    known = [record.id for record in project.protocols]
    if protocol not in known:
        raise UnreadableInput(
            [
                Problem(
                    place=Place("PROTOCOL"),
                    found=repr(protocol),
                    expected="the id of a protocol of this project",
                    mend=did_you_mean(protocol, known),
                )
            ]
        )


def _no_traces(protocol: str, with_traces: list[str]) -> UnreadableInput:
    others = f"; traces are named by {', '.join(with_traces)}" if with_traces else ""
    return UnreadableInput(
        [
            Problem(
                place=Place("PROTOCOL"),
                found=f"{protocol!r}, which names no force-displacement records",
                expected=f"a protocol with `traces`{others}",
                mend="name another protocol, or add `traces` to this one",
            )
        ]
    )
