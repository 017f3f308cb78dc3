"""The mapping file beside a company's Word template: our style names to theirs."""

from __future__ import annotations

from pathlib import Path

from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.project.yaml_files import read_yaml


def mapping_file(template: Path) -> Path:
    """Where the mapping of a template stands: `company.docx` has `company.styles.yaml`."""
    return template.with_suffix(".styles.yaml")


def read_mapping(template: Path) -> dict[str, str]:
    """Our style name to theirs; empty when the template has no mapping file. Raises: UnreadableInput."""
    path = mapping_file(template)
    if not path.is_file():
        return {}
    found, problems = read_yaml(path.read_bytes(), file=path.name)
    if problems:
        raise UnreadableInput(problems)
    value = None if found is None else found.value
    if not isinstance(value, dict) or not all(isinstance(theirs, str) for theirs in value.values()):
        raise UnreadableInput(
            [
                Problem(
                    place=Place(path.name),
                    found="something else than names",
                    expected="a line for each style: our name, a colon, the name in your template",
                    mend="write for example  Heading 1: Überschrift 1",
                )
            ]
        )
    return {str(ours): str(theirs) for ours, theirs in value.items()}
