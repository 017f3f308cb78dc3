"""Whatever bytes a file holds: a project comes out, or every problem in words. Never anything else."""

from __future__ import annotations

import csv
import io
import shutil
import tempfile
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl.worksheet.worksheet import Worksheet

from reportgen.problems import UnreadableInput
from reportgen.project.read import read_project
from reportgen.project.records import Project
from tests.good_project import good_files, write_good_project

TEXT_FILES = sorted(name for name in good_files() if not name.startswith("results/"))
PIECES = [
    b"\t", b"\n", b"\r", b": ", b"- ", b"[", b"]", b"{", b"}", b"&a ", b"*a", b"!!x ", b'"', b"'", b"#", b"\0",
    b"\xff", b"\xef\xbb\xbf", b"\xff\xfe", b",", b";", b"? ", b"|\n", b">\n", b"---\n", b"%YAML 1.1\n",
    b"\xe2\x80\xa8", b"\xc2\x85", b"~", b"null", b"1e999", b"nan", b"<<: ", b"place: ", b"key_rows: ",
    b"limit_decimals", b"\\", b"..", b"/", b"9" * 400, b"=", b"@", b"`", b"\xd9\xa3", b"\xf0\x9f\x98\x80",
    b"\xed\xa0\x80", b"[" * 60, b"<", b"&#0;", b'r="ZZZ9999999"', b"<f>",
]  # fmt: skip

Change = tuple[str, int, int, bytes]
CHANGES = st.lists(
    st.tuples(
        st.sampled_from(["insert", "delete", "replace", "cut", "repeat"]),
        st.integers(0, 10_000),
        st.integers(1, 40),
        st.one_of(st.sampled_from(PIECES), st.binary(min_size=1, max_size=4)),
    ),
    min_size=1,
    max_size=6,
)
# each example writes and reads a whole project: few examples here, each of them rich
SETTINGS = settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow], database=None
)


def _changed(data: bytes, changes: list[Change]) -> bytes:
    for kind, where, length, piece in changes:
        at = where % (len(data) + 1)
        if kind == "insert":
            data = data[:at] + piece + data[at:]
        elif kind == "delete":
            data = data[:at] + data[at + length :]
        elif kind == "replace":
            data = data[:at] + piece + data[at + len(piece) :]
        elif kind == "cut":
            data = data[:at]
        else:
            data = data[:at] + data[at : at + length] * 3 + data[at:]
    return data


def _read(file: str, data: bytes, *, instead_of: str | None = None) -> None:
    folder = Path(tempfile.mkdtemp())
    try:
        write_good_project(folder)
        if instead_of is not None:
            (folder / instead_of).unlink()
        (folder / file).write_bytes(data)
        assert isinstance(read_project(folder), Project)
    except UnreadableInput as unreadable:
        for problem in unreadable.problems:
            assert problem.found
            assert problem.expected
            assert problem.mend
            str(problem).encode("utf-8")
    finally:
        shutil.rmtree(folder)


@pytest.mark.parametrize("kind", ["yaml", "csv"])
@SETTINGS
@given(which=st.integers(0, 100), changes=CHANGES)
def test_text_files(kind: str, which: int, changes: list[Change]) -> None:
    names = [name for name in TEXT_FILES if name.endswith(kind)]
    name = names[which % len(names)]
    _read(name, _changed(good_files()[name].encode("utf-8"), changes))


def _workbook() -> bytes:
    workbook = openpyxl.Workbook()
    assert isinstance(workbook.active, Worksheet)
    for row in csv.reader(io.StringIO(good_files()["lots.csv"])):
        workbook.active.append([float(cell) if cell.isdigit() else cell for cell in row])
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


WORKBOOK = _workbook()
PARTS = [
    "xl/workbook.xml",
    "xl/_rels/workbook.xml.rels",
    "xl/worksheets/sheet1.xml",
    "xl/styles.xml",
    "xl/sharedStrings.xml",
]


@SETTINGS
@given(changes=CHANGES)
def test_workbooks(changes: list[Change]) -> None:
    _read("lots.xlsx", _changed(WORKBOOK, changes), instead_of="lots.csv")


@SETTINGS
@given(part=st.sampled_from(PARTS), changes=CHANGES)
def test_parts_of_workbooks(part: str, changes: list[Change]) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(WORKBOOK)) as old, zipfile.ZipFile(stream, "w") as new:
        for entry in old.infolist():
            content = old.read(entry)
            new.writestr(entry.filename, _changed(content, changes) if entry.filename == part else content)
    _read("lots.xlsx", stream.getvalue(), instead_of="lots.csv")
