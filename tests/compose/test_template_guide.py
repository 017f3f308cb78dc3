"""The guide for people who write templates names everything a template is given, and nothing else."""

from __future__ import annotations

import re
from pathlib import Path

from reportgen.compose.calls import Registry
from reportgen.compose.section import section_values
from reportgen.compose.test_report import report_values
from tests.compose.test_golden import good_dossier

GUIDE = Path(__file__).resolve().parent.parent.parent / "templates" / "README.md"


def offered(values: dict[str, object]) -> set[str]:
    names = set(values)
    for value in values.values():
        if isinstance(value, Registry):
            names |= set(value.known)
    return names


def told(text: str) -> set[str]:
    """Every name in a first column that stands in code, with what is asked of `table`, `figure` and `say`."""
    rows = [line.split("|")[1] for line in text.splitlines() if line.startswith("| `")]
    code = [piece for row in rows for piece in re.findall(r"`([^`]*)`", row)]
    names = {re.split(r"\W", piece)[0] for piece in code}
    return names | {name for piece in code for name in re.findall(r'^(?:table|figure|say)\("(\w+)"', piece)}


def test_the_guide_and_the_templates_offer_the_same_names(tmp_path: Path) -> None:
    dossier = good_dossier(tmp_path)
    _, common, section, report = re.split(r"\n## In ", GUIDE.read_text(encoding="utf-8"))
    of_section = offered(section_values(dossier))
    of_report = offered(report_values(dossier, dossier.project.protocols[0]))
    assert told(common) | told(section) == of_section
    assert told(common) | told(report) == of_report
