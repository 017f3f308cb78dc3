"""YAML to texts with their lines: the same from both parsers, and as an independent YAML 1.2 loader reads it."""

from __future__ import annotations

import random
import sys
from typing import Any

import pytest
from ruamel.yaml import YAML

from reportgen.problems import Problem
from reportgen.project import yaml_files
from reportgen.project.shipped import shipped_folder
from reportgen.project.yaml_files import YamlFile, key_path, read_yaml
from tests.good_project import good_files

DOCUMENTS = tuple(text for name, text in good_files().items() if name.endswith(".yaml"))
PROSE = """\
folded: >
  one
  two

  three
   indented
literal: |-
  one
    two

kept: >+
  x

single: 'it''s'
double: "a\\n b \\u00e9 \\
  joined"
flow: {a: [1, "2", 'x:y'], "b": {c: d}}
plain: several words, with no doubt # and a comment
empty:
tilde: ~
word: no
zeros: 007
long: a plain text
  over two lines
"""


def _value(text: str) -> Any:
    document, problems = read_yaml(text.encode("utf-8"), file="x.yaml")
    assert problems == []
    assert document is not None
    return document.value


def _by_library(text: str) -> Any:
    """The library's own composer, its scalars taken as texts; empty plain scalars are nothing."""
    node = YAML(typ="safe", pure=True).compose(text)

    def build(node: Any) -> Any:
        if node.id == "mapping":
            pairs = ((key.value, build(value)) for key, value in node.value)
            return {key: value for key, value in pairs if value is not None}
        if node.id == "sequence":
            return [build(item) for item in node.value]
        plain = node.style in (None, "")
        return None if plain and node.value in {"", "~", "null", "Null", "NULL"} else node.value

    return build(node)


@pytest.mark.parametrize("text", [*DOCUMENTS, PROSE], ids=range(len(DOCUMENTS) + 1))
def test_values_are_those_of_the_library_s_own_composer(text: str) -> None:
    assert _value(text) == _by_library(text)


def test_scalars_stay_texts_whatever_they_look_like() -> None:
    text = "a: yes\nb: 0x1F\nc: 1e3\nd: 2026-03-31\ne: 12:30:00\nf: true\ng: .inf\nh: 'null'\n"
    expected = {"a": "yes", "b": "0x1F", "c": "1e3", "d": "2026-03-31"}
    expected |= {"e": "12:30:00", "f": "true", "g": ".inf", "h": "null"}
    assert _value(text) == expected


def test_every_key_and_item_has_its_line() -> None:
    text = "a: 1\n\n# a comment\nb:\n  - x\n  - c: 2\n    d: >\n      long\n      text\n    e:\n"
    document, _ = read_yaml(text.encode(), file="x.yaml")
    assert document is not None
    assert document.rows == {(): 1, ("a",): 1, ("b",): 4, ("b", 0): 5, ("b", 1): 6, ("b", 1, "c"): 6, ("b", 1, "d"): 7}
    assert document.blanks == {("b", 1, "e"): 10}
    assert str(document.place(("b", 1, "nowhere", 3))) == "x.yaml, line 6, key 'b[2].nowhere[4]'"


def test_a_path_counts_items_from_one() -> None:
    assert key_path(("sampling", "groups", 1, "n")) == "sampling.groups[2].n"


# ------------------------------------------------------------------------------------------- the two parsers

SNIPPETS = (
    " ", "  ", ":", ": ", "-", "- ", '"', "'", "[", "]", "{", "}", ",", ", ", "#", " #", "|", ">", "\n", "\n ", "\n  ",
    "\\", "\\n", "\\x4", "?", "? ", "!", "%", "*", "&", "é", "\u00a0", "\u2029", "\u0085", "-\n", ":\n", ">-\n", "|2\n",
    ">#", "\x7f", "=", "~", ".", "...", "---", "\t", "\r", "<<: ", "@", "`", '"x":',
)  # fmt: skip


def _spoilt(text: str, chance: random.Random) -> str:
    for _ in range(chance.choice((1, 1, 2, 3, 5))):
        at, how = chance.randrange(len(text) + 1), chance.random()
        if how < 0.7:
            text = text[:at] + chance.choice(SNIPPETS) + text[at:]
        elif how < 0.9:
            text = text[:at] + text[at + chance.choice((1, 2, 5)) :]
        else:
            start = chance.randrange(len(text) + 1)
            text = text[:at] + text[start : start + chance.choice((3, 20))] + text[at:]
    return text or "x"


def _both(text: str, monkeypatch: pytest.MonkeyPatch) -> tuple[Any, Any, bool]:
    compiled = yaml_files._compiled_events(text) is not None
    first = read_yaml(text.encode("utf-8"), file="x.yaml")
    with monkeypatch.context() as patch:
        patch.setattr(yaml_files, "_compiled_events", lambda _: None)
        second = read_yaml(text.encode("utf-8"), file="x.yaml")
    return first, second, compiled


def test_the_compiled_parser_is_used_for_ordinary_files(monkeypatch: pytest.MonkeyPatch) -> None:
    shipped = [path.read_text("utf-8") for path in sorted(shipped_folder("requirements_maps").glob("*.yaml"))]
    assert len(shipped) > 3
    for text in (*DOCUMENTS, *shipped):
        first, second, _ = _both(text, monkeypatch)
        assert first == second
    assert all(yaml_files._compiled_events(text) is not None for text in DOCUMENTS)


@pytest.mark.parametrize("seed", range(4))
def test_both_parsers_read_the_same_from_spoilt_files(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Values, lines and messages: 75 spoilt files each; where the compiled parser is not asked there is no question."""
    chance, compared = random.Random(seed), 0
    while compared < 75:
        text = _spoilt(chance.choice((PROSE, *DOCUMENTS[1:5])), chance)
        first, second, compiled = _both(text, monkeypatch)
        assert first == second, text
        compared += compiled


# cases in which the two were found to differ, kept as they were
@pytest.mark.parametrize(
    "text",
    [
        "a: >\n \n  y\n",
        "a: |#\n  q\n",
        'a: ["x:1":]\n',
        "a: |2\n   x\n",
    ],
)
def test_where_the_parsers_differ_the_one_in_python_decides(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    first, second, compiled = _both(text, monkeypatch)
    assert not compiled
    assert first == second


def test_without_the_compiled_parser_everything_works(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "_ruamel_yaml", None)
    assert yaml_files._compiled_events("a: 1\n") is None
    assert _value("a: 1\n") == {"a": "1"}


# ------------------------------------------------------------------------------------------- what is refused


def _only_problem(text: str) -> Problem:
    document, problems = read_yaml(text.encode("utf-8"), file="x.yaml")
    assert document is None
    assert len(problems) == 1
    return problems[0]


def test_a_bomb_of_aliases_does_not_go_off() -> None:
    """Nine levels of ten aliases each would be a thousand million texts."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 10)]
    document, problems = read_yaml("\n".join(lines).encode(), file="x.yaml")
    assert document is None
    assert problems[0].found == "the reference &a0"


def test_depth_has_an_end() -> None:
    assert _only_problem("a: " + "[" * 5000 + "]" * 5000).expected == "a few levels"


def test_a_mapping_as_a_key_is_refused() -> None:
    assert _only_problem("? {a: 1}\n: b\n").found == "a list or mapping in place of a key"


def test_every_repeated_key_is_told_not_only_the_first() -> None:
    _, problems = read_yaml(b"a: 1\na: {x: 1, x: 2}\nb:\n  c: 1\n  c: 2\n", file="x.yaml")
    assert [str(problem.place) for problem in problems] == ["x.yaml, line 2, key 'a'", "x.yaml, line 5, key 'b.c'"]


def test_documents_come_as_a_yaml_file() -> None:
    document, _ = read_yaml(b"a: 1\n", file="x.yaml")
    assert isinstance(document, YamlFile)
