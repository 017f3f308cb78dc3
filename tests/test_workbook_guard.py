"""Damaged workbooks are told, whoever reads them: they must never end the process."""

from __future__ import annotations

import io
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from reportgen.workbook_guard import fault_of
from tests.good_project import good_files, write_files


def workbook(*, sheet_part: str = "xl/worksheets/sheet1.xml", **replaced: tuple[str, str]) -> bytes:
    """A small workbook with texts replaced in the parts of these stems, and its sheet under the given name."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["specimen", "lot", "condition", "bond_strength [N]", "release_force [N]"])
    sheet.append(["P1", "L-0101", "fresh", 18.2, 8.1])
    buffer = io.BytesIO()
    book.save(buffer)
    with zipfile.ZipFile(buffer) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    assert set(replaced) <= {Path(name).stem for name in parts}
    for name in parts:
        if Path(name).stem in replaced:
            old, new = replaced[Path(name).stem]
            assert old.encode() in parts[name]
            parts[name] = parts[name].replace(old.encode(), new.encode(), 1)
    for name in ("xl/_rels/workbook.xml.rels", "[Content_Types].xml"):
        parts[name] = parts[name].replace(b"/xl/worksheets/sheet1.xml", f"/{sheet_part}".encode())
    parts[sheet_part] = parts.pop("xl/worksheets/sheet1.xml")
    again = io.BytesIO()
    with zipfile.ZipFile(again, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return again.getvalue()


def test_a_sound_workbook_has_no_fault() -> None:
    assert fault_of(workbook()) == ""


DAMAGED = {
    "far cell": ({"sheet1": ('r="E2"', 'r="XFD1048576"')}, "XFD1048576"),
    "no address": ({"sheet1": ('r="E2"', 'r="99999999999"')}, "no address"),
    "lying count": ({"styles": ('cellXfs count="', 'cellXfs count="99999999')}, "elements"),
}


@pytest.mark.parametrize(("replaced", "told"), DAMAGED.values(), ids=list(DAMAGED))
def test_damage_is_named(replaced: dict[str, tuple[str, str]], told: str) -> None:
    assert told in fault_of(workbook(**replaced))


@pytest.mark.parametrize(("replaced", "told"), DAMAGED.values(), ids=list(DAMAGED))
def test_a_damaged_result_file_is_a_problem_and_not_the_end_of_the_process(
    tmp_path: Path, replaced: dict[str, tuple[str, str]], told: str
) -> None:
    files = good_files()
    files["protocols/vp_01.yaml"] = files["protocols/vp_01.yaml"].replace("results/vp_01.csv", "results/vp_01.xlsx")
    del files["results/vp_01.csv"]
    project = write_files(tmp_path, files)
    (project / "results" / "vp_01.xlsx").write_bytes(workbook(**replaced))
    done = subprocess.run(
        [sys.executable, "-c", "from reportgen.cli.main import run; run()", "check", str(project)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2, done.stderr
    assert "results/vp_01.xlsx" in done.stderr
    assert told in done.stderr


@pytest.mark.parametrize("sheet_part", ["xl/sheets/one.xml", "xl/one.bin", "elsewhere/SHEET"])
def test_a_sheet_under_another_name_is_looked_over_too(sheet_part: str) -> None:
    assert fault_of(workbook(sheet_part=sheet_part)) == ""
    assert "XFD1048576" in fault_of(workbook(sheet_part=sheet_part, sheet1=('r="E2"', 'r="XFD1048576"')))


def test_a_far_cell_under_another_name_does_not_end_the_process(tmp_path: Path) -> None:
    files = good_files()
    files["protocols/vp_01.yaml"] = files["protocols/vp_01.yaml"].replace("results/vp_01.csv", "results/vp_01.xlsx")
    del files["results/vp_01.csv"]
    project = write_files(tmp_path, files)
    content = workbook(sheet_part="xl/sheets/one.xml", sheet1=('r="E2"', 'r="XFD1048576"'))
    (project / "results" / "vp_01.xlsx").write_bytes(content)
    code = "from reportgen.cli.main import run; run()"
    done = subprocess.run(
        [sys.executable, "-c", code, "check", str(project)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2, done.stderr
    assert "XFD1048576" in done.stderr


def test_lying_counts_of_shared_texts_are_named() -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("xl/texts.xml", '<sst count="1" uniqueCount="4000000000"><si><t>a</t></si></sst>')
    assert "elements" in fault_of(buffer.getvalue())
