"""Documents are in American English: what the program prints, its templates, the shipped maps, and the example."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[1]
EXAMPLE = REPOSITORY / "example_project"

# Common practice, no source; a list of what technical texts use, not a dictionary.
BRITISH = re.compile(
    r"\b\w*(?:ageing|sterilis|recognis|labell|programme\b|mould|behaviour|fibre|catalogue|harmonis|ischaem|neighbour|"
    r"colour|favour|normalis|standardis|summaris|characteris[ae]|millimetre|\bcentre|\banalyse[dr]?\b|judgement|modelling|"
    r"travell|generalis|towards|inwards|outwards|offence|artefact|per cent\b)\w*",
    re.IGNORECASE,
)
# Keys, columns and names of rules, which stay so that old projects can be read; a heading that labs use; HTML.
NAMES = re.compile(
    r"`\w+`|column ageing|lots\.csv: ageing|\bageing(?:_\w+)?,|ageing_\w+|[\w-]*-ageing-[\w-]*|ageing-[\w-]+|"
    r"compliance-chart-normalised|analysed-count-differs|aria-labelledby|# labelling:|\nlabelling:\n|catalogue number|"
    r"\A(?:ageing|normalised|millimetre|labelling)\Z"
)


def british(text: str) -> list[str]:
    return BRITISH.findall(NAMES.sub(" ", text))


def printed(module: Path) -> Iterator[str]:
    """The string constants of a module, docstrings left out."""
    tree = ast.parse(module.read_text("utf-8"))
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef)
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, documented) and node.body and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings:
            yield node.value


def test_a_british_word_is_seen_and_a_name_is_not() -> None:
    assert british("Ageing, rounded towards the judgement of a per cent") == [
        "Ageing",
        "towards",
        "judgement",
        "per cent",
    ]
    assert british("real-time aging; column ageing of `lots.csv`, rule ageing-not-computable, ageing_days") == []


def test_what_the_program_prints() -> None:
    modules = sorted((REPOSITORY / "reportgen").rglob("*.py"))
    assert len(modules) > 150
    found = {str(module): [word for text in printed(module) for word in british(text)] for module in modules}
    assert {module: words for module, words in found.items() if words} == {}


def test_templates_maps_and_the_example() -> None:
    files = [*(REPOSITORY / "templates").glob("*.j2"), *(REPOSITORY / "requirements_maps").glob("*.yaml")]
    files += [file for pattern in ("*.yaml", "methods/*", "protocols/*") for file in EXAMPLE.glob(pattern)]
    texts = {file.name: file.read_text("utf-8") for file in files}
    texts |= {file.name: "\n".join(file.read_text("utf-8").splitlines()[1:]) for file in EXAMPLE.glob("*.csv")}
    assert len(texts) > 45
    assert {name: british(text) for name, text in texts.items() if british(text)} == {}
