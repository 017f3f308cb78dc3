"""All that was read from the bench, in one object."""

from __future__ import annotations

from reportgen.lab.records import LabReading
from reportgen.lab.results import collect_results
from reportgen.problems import UnreadableInput
from reportgen.project.records import Project


def read_lab(project: Project) -> LabReading:
    """Result files and force-displacement records of a project. Raises: UnreadableInput with every problem found."""
    results = collect_results(project)
    if results.problems:
        raise UnreadableInput(results.problems)
    return LabReading(measurements=results.measurements, reduced=(), sources=tuple(results.sources))
