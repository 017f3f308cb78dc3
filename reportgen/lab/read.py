"""All that was read from the bench, in one object."""

from __future__ import annotations

from reportgen.lab.pulls import collect_traces
from reportgen.lab.records import LabReading
from reportgen.lab.results import collect_results
from reportgen.problems import UnreadableInput
from reportgen.project.records import Project


def read_lab(project: Project) -> LabReading:
    """Result files and force-displacement records of a project. Raises: UnreadableInput with every problem found."""
    results = collect_results(project)
    traces = collect_traces(project, results.measurements)
    # a result file that cannot be read leaves its records without specimens: a consequence, told only when it is alone
    problems = [*results.problems, *traces.problems, *(traces.unplaced if not results.problems else ())]
    if problems:
        raise UnreadableInput(problems)
    sources = {source.path: source for source in (*results.sources, *traces.sources)}
    return LabReading(
        measurements=traces.measurements,
        reduced=tuple(traces.reduced),
        sources=tuple(sources.values()),
    )
