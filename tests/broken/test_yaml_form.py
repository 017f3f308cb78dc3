"""One spoilt project for each problem: a file that is no YAML, or more than plain YAML."""

from __future__ import annotations

from pathlib import Path

import pytest

from reportgen.problems import Place
from tests.broken.spoiling import Case, append, assert_reported, both, remove, swap, write

PULL = "protocols/vp_01.yaml"
CASES = (
    Case(
        "indented with a tab",
        swap(PULL, "  groups:", "\tgroups:"),
        place=Place("protocols/vp_01.yaml", row=11, character=1),
        found="a tab",
        expected="YAML: one 'key: value' in a line",
        mend="indent with spaces",
    ),
    Case(
        "a key twice",
        append(PULL, "title: again\n"),
        place=Place("protocols/vp_01.yaml", row=38, column="title"),
        found="the key 'title' a second time (first in line 3)",
        expected="each key once",
        mend="delete one of the two",
    ),
    Case(
        "an anchor",
        swap(PULL, "approved_by: K. Invented", "approved_by: &who K. Invented"),
        place=Place("protocols/vp_01.yaml", row=5, column="approved_by"),
        found="the reference &who",
        expected="each value written out where it is meant",
        mend="write the value itself, or put a text that begins with * or & in quotation marks",
    ),
    Case(
        "an alias",
        swap(PULL, "approved_by: K. Invented", "approved_by: *who"),
        place=Place("protocols/vp_01.yaml", row=5, column="approved_by"),
        found="the reference *who",
        expected="each value written out where it is meant",
        mend="write the value itself, or put a text that begins with * or & in quotation marks",
    ),
    Case(
        "a merge key",
        append(PULL, "<<: {a: 1}\n"),
        place=Place("protocols/vp_01.yaml", row=38, column="<<"),
        found="the merge sign '<<'",
        expected="each key written out where it is meant",
        mend="write the keys out",
    ),
    Case(
        "a tag that would run a program",
        swap(PULL, "approved_by: K. Invented", "approved_by: !!python/object/apply:os.system [ls]"),
        place=Place("protocols/vp_01.yaml", row=5, column="approved_by"),
        found="the tag 'tag:yaml.org,2002:python/object/apply:os.system'",
        expected="plain values",
        mend="delete the tag, or put a text that begins with ! in quotation marks",
    ),
    Case(
        "two documents",
        append(PULL, "---\nid: VP-09\n"),
        place=Place("protocols/vp_01.yaml", row=38),
        found="a second document ('---')",
        expected="one document in a file",
        mend="make it a file of its own",
    ),
    Case(
        "two colons in a line",
        swap(PULL, "title: Joint strength of the Corrie catheter", "title: Joint: strength"),
        place=Place("protocols/vp_01.yaml", row=3, character=13),
        found="a second ': ' in one line, or a wrong indentation",
        expected="YAML: one 'key: value' in a line",
        mend="put a text with ': ' in quotation marks, or line the keys up",
    ),
    Case(
        "an open quotation mark",
        swap(PULL, "title: Joint strength of the Corrie catheter", 'title: "Joint'),
        place=Place("protocols/vp_01.yaml", row=3, character=8),
        found="a quotation mark that is never closed",
        expected="YAML: one 'key: value' in a line",
        mend="close it, or delete it",
    ),
    Case(
        "an open bracket",
        swap(PULL, "verifies: [DI-001, DI-002]", "verifies: [DI-001, DI-002"),
        place=Place("protocols/vp_01.yaml", row=9, character=11),
        found="a bracket '[' that does not match",
        expected="YAML: one 'key: value' in a line",
        mend="close it with ']', with commas between the items",
    ),
    Case(
        "a key that does not line up",
        swap(PULL, "  lots: each_lot", "   lots: each_lot"),
        place=Place("protocols/vp_01.yaml", row=20, character=8),
        found="a second ': ' in one line, or a wrong indentation",
        expected="YAML: one 'key: value' in a line",
        mend="put a text with ': ' in quotation marks, or line the keys up",
    ),
    Case(
        "no colon",
        swap(PULL, "purpose" if False else "objective: To show", "objective To show"),
        place=Place("protocols/vp_01.yaml", row=6, character=1),
        found="a line without ': ' after the key",
        expected="YAML: one 'key: value' in a line",
        mend="write 'key: value'",
    ),
    Case(
        "a reserved sign",
        swap(PULL, "approved_by: K. Invented", "approved_by: @kim"),
        place=Place("protocols/vp_01.yaml", row=5, character=14),
        found="a text that begins with a reserved sign (such as @, ` or %)",
        expected="YAML: one 'key: value' in a line",
        mend="put the text in quotation marks",
    ),
    Case(
        "lists inside lists without end",
        append(PULL, "discussion: " + "[" * 200 + "]" * 200 + "\n"),
        place=Place("protocols/vp_01.yaml", row=38, column="discussion[1][1]"),
        found="more than 40 levels inside each other",
        expected="a few levels",
        mend="flatten it",
    ),
    Case(
        "another encoding",
        write(PULL, "id: VP-01\ntitle: Länge\n".encode("latin-1")),
        place=Place("protocols/vp_01.yaml", row=2),
        found="byte 0xe4, which is no UTF-8",
        expected="text in UTF-8",
        mend="save the file as UTF-8",
    ),
    Case(
        "a NUL character",
        append(PULL, "discussion: a\x00b\n"),
        place=Place("protocols/vp_01.yaml", row=38),
        found="a character that is no text (NUL)",
        expected="text in UTF-8",
        mend="save the file as UTF-8",
    ),
    Case(
        "a control character",
        append(PULL, "discussion: a\x07b\n"),
        place=Place("protocols/vp_01.yaml", row=38),
        found="a character that YAML does not allow",
        expected="printable text",
        mend="delete it; it may be invisible, so write the line anew",
    ),
    Case(
        "a list at the top",
        write(PULL, b"- a\n- b\n"),
        place=Place("protocols/vp_01.yaml", row=1),
        found="no keys at the top",
        expected="'key: value' lines",
        mend="begin each line with a key",
    ),
    Case(
        "only comments",
        write(PULL, b"# nothing\n"),
        place=Place("protocols/vp_01.yaml", row=1),
        found="nothing but comments or blank lines",
        expected="keys and values",
        mend="fill the file in",
    ),
    Case(
        "an empty file",
        write(PULL, b""),
        place=Place("protocols/vp_01.yaml"),
        found="an empty file",
        expected="a file with content",
        mend="fill the file in",
    ),
    Case(
        "a bare text",
        write(PULL, b"hello\n"),
        place=Place("protocols/vp_01.yaml", row=1),
        found="no keys at the top",
        expected="'key: value' lines",
        mend="begin each line with a key",
    ),
    Case(
        "no project.yaml",
        remove("project.yaml"),
        place=Place("project.yaml"),
        found="no such file",
        expected="this file, which every project has",
        mend="add it; 'reportgen init' writes an example of it",
    ),
    Case(
        "a file in place of a folder",
        both(
            remove("methods/tm_01.yaml"),
            remove("methods/tm_02.yaml"),
            lambda f: (f / "methods").rmdir(),
            write("methods", b"x"),
        ),
        place=Place("methods"),
        found="a file named 'methods'",
        expected="a folder",
        mend="make a folder 'methods'",
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_problem_is_told_where_it_stands(case: Case, tmp_path: Path) -> None:
    assert_reported(case, tmp_path)
