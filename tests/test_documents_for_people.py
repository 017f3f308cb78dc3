"""README and DEVELOPERS.md say what is true: the commands that CI runs, the words that maps may use."""

from __future__ import annotations

import re
from pathlib import Path

from reportgen.trace.supplied import WORDS

ROOT = Path(__file__).resolve().parent.parent


def test_ci_takes_its_test_command_from_the_readme() -> None:
    pattern = re.compile(r"^python3 -m venv .*tests/checks\.py$", re.MULTILINE)
    assert len(pattern.findall((ROOT / "README.md").read_text(encoding="utf-8"))) == 1
    assert "README.md" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_contributor_guide_repeats_the_readmes_test_command() -> None:
    pattern = re.compile(r"^python3 -m venv .*tests/checks\.py$", re.MULTILINE)
    (command,) = pattern.findall((ROOT / "README.md").read_text(encoding="utf-8"))
    assert command in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_contributor_guide_lists_every_word_a_map_may_answer_with() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = guide.partition("## Words by which a map's entry is answered")[2].partition("\n## ")[0]
    listed = dict(re.findall(r"^\| `([a-z_.]+)` \| (.+) \|$", table, re.MULTILINE))
    assert listed == {name: word.meaning for name, word in WORDS.items()}


def test_only_the_agreed_things_stand_at_the_top() -> None:
    # the layout that users and contributors are told of; hidden files and what git ignores aside
    ignored = {"out", "dist", "build", "mutants"}
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - ignored
    assert found <= {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "reportgen",
        "templates",
        "requirements_maps",
        "tests",
        "example_project",
    }
