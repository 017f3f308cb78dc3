"""The layout holds: who may import whom, how long a module may be, and no names that hide a missing noun.

The table is section 2 of the style guide. A part may import the standard library, the libraries named for it, and of
ours what is listed; `records.py` of an earlier step is the only door between steps.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "reportgen"
MODULES = sorted(PACKAGE.rglob("*.py"))

LONGEST_MODULE = 350
# A module may be longer only for a reason given here.
LONG_MODULES: dict[str, str] = {
    "reportgen/project/records.py": "the format of every project file in one place: declarations, hardly any code",
    "reportgen/compose/records.py": "the model of all documents in one place: declarations, hardly any code",
}
NAMES_OF_NOTHING = {"utils", "util", "helpers", "helper", "common", "misc", "tools", "base", "stuff"}

STEPS = ("project", "lab", "acceptance", "trace", "compose", "render")
# what every part may import of ours besides its own modules
ANYWHERE = {
    "reportgen.problems",
    "reportgen.quantities",
    "reportgen.rounding",
    "reportgen.citation_text",
    "reportgen.both_cores",
    "reportgen.workbook_guard",
    "reportgen.shown_numbers",
    "reportgen.formula_guard",
}

LIBRARIES: dict[str, set[str]] = {
    "problems": set(),
    "quantities": set(),
    "workbook_guard": set(),
    "shown_numbers": set(),
    "formula_guard": set(),
    "rounding": set(),
    "both_cores": set(),
    "citation_text": set(),
    "stats": {"numpy", "scipy"},
    "project": {"pydantic", "pydantic_core", "ruamel", "_ruamel_yaml", "openpyxl", "python_calamine", "lxml"},
    "lab": {"numpy", "pandas", "pyarrow", "openpyxl", "python_calamine", "xlsxwriter", "joblib"},
    "acceptance": {"numpy", "pandas"},
    "trace": set(),
    "compose": {"jinja2", "markupsafe", "markdown_it"},  # markupsafe: the escaping of jinja2
    "render": {"openpyxl", "xlsxwriter", "docx", "lxml", "matplotlib", "numpy", "joblib"},
    "package": {"openpyxl", "docx", "lxml"},
    "workflow": set(),
    "workflow_studies": set(),
    "workflow_lab": set(),
    "workflow_packages": set(),
    "workflow_documents": set(),
    "workflow_exchange": set(),
    "qualification": set(),
    "cli": {"typer", "rich"},
    "__init__": set(),
    "__main__": set(),
}


@dataclass(frozen=True)
class Import:
    """One import of one module: `target` is the dotted name, as precisely as the statement tells."""

    module: str
    line: int
    target: str

    def __str__(self) -> str:
        return f"{self.module}, line {self.line}: {self.target}"


def _part(module: Path) -> str:
    return module.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _is_module(dotted: str) -> bool:
    path = ROOT.joinpath(*dotted.split("."))
    return path.with_suffix(".py").is_file() or (path / "__init__.py").is_file() or path.is_dir()


def _imports(module: Path) -> Iterator[Import]:
    """All imports, those inside functions and under TYPE_CHECKING too: a dependency of words is one as well."""
    name = module.relative_to(ROOT).as_posix()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Import(name, node.lineno, alias.name)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name}, line {node.lineno}: imports are written in full"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                ours = whole.startswith("reportgen.") and _is_module(whole)
                yield Import(name, node.lineno, whole if ours else str(node.module))


def _allowed_of_ours(part: str, target: str) -> bool:
    words = target.split(".")
    if target == "reportgen" or (len(words) > 1 and words[1] == part):
        return True  # the version; its own modules
    if part in {"problems", "quantities", "stats"}:
        return part == "quantities" and target == "reportgen.problems"
    other = words[1]
    if part.startswith("workflow"):
        return True
    if part == "__main__":
        return other == "cli"
    if part == "cli":
        return other.startswith("workflow") or other in {"stats", "problems"}
    if part in {"render", "package"}:
        # problems for render as well: a target in the way is told like every other fault, and drawing computes nothing
        return target in {"reportgen.compose.records", "reportgen.problems"}
    if target in ANYWHERE or other == "stats":
        return True
    earlier = STEPS[: STEPS.index(part)]
    return other in earlier and target == f"reportgen.{other}.records"


def test_there_are_modules_to_look_at() -> None:
    assert len(MODULES) > 20
    assert {_part(module) for module in MODULES} <= set(LIBRARIES), "a part without a row in the table"


@pytest.mark.parametrize("part", sorted(LIBRARIES))
def test_a_part_imports_only_what_its_row_allows(part: str) -> None:
    found = [use for module in MODULES if _part(module) == part for use in _imports(module)]
    wrong = []
    for use in found:
        top = use.target.split(".")[0]
        if top == "reportgen":
            allowed = _allowed_of_ours(part, use.target)
        else:
            allowed = top in sys.stdlib_module_names or top in LIBRARIES[part]
        if not allowed:
            wrong.append(str(use))
    assert wrong == []


@pytest.mark.parametrize("part", ["stats", "acceptance", "trace", "compose"])
def test_the_core_knows_no_clock_environment_or_chance(part: str) -> None:
    shunned = {"os", "time", "random", "secrets", "uuid", "subprocess", "socket", "tempfile", "shutil"}
    found = [use for module in MODULES if _part(module) == part for use in _imports(module)]
    assert [str(use) for use in found if use.target.split(".")[0] in shunned] == []


def _printing(module: Path) -> Iterator[int]:
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in {"print", "open", "input"}
        ):
            yield node.lineno


def test_only_the_command_line_prints() -> None:
    found = [
        f"{module.relative_to(ROOT)}, line {line}"
        for module in MODULES
        if _part(module) != "cli"
        for line in _printing(module)
    ]
    assert found == []


def test_no_module_is_too_long() -> None:
    lengths = {
        module.relative_to(ROOT).as_posix(): len(module.read_text(encoding="utf-8").splitlines()) for module in MODULES
    }
    too_long = {name: length for name, length in lengths.items() if length > LONGEST_MODULE}
    assert {name: length for name, length in too_long.items() if name not in LONG_MODULES} == {}
    assert set(LONG_MODULES) <= set(too_long), "an exemption that is no longer needed"


def test_every_module_has_a_name_that_says_something() -> None:
    named = [module for module in MODULES if module.stem in NAMES_OF_NOTHING or module.parent.name in NAMES_OF_NOTHING]
    assert named == []


def test_nothing_else_stands_at_the_top() -> None:
    shown = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "reportgen", "templates", "requirements_maps"}
    shown |= {"tests", "example_project"}
    found = {entry.name for entry in ROOT.iterdir() if not entry.name.startswith(".")}
    # what the two commands of the README leave behind is no part of the repository
    assert found <= shown | {"build", "dist", "out", "bench_evidence_reportgen.egg-info"}
