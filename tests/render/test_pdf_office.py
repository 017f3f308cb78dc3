"""`build --pdf`: contents with page numbers, bookmarks, tags, embedded fonts, and a set fit for an electronic copy."""

from __future__ import annotations

import re
import subprocess
import zipfile
from pathlib import Path

import pytest

from reportgen import workflow
from reportgen.package.verify import verify
from reportgen.problems import UnreadableInput
from reportgen.render import pdf
from reportgen.render.electronic_copy import LARGEST_PDF, numbered_name, warnings
from tests.good_project import good_files, write_files


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pdf")
    files = good_files()
    files["project.yaml"] = files["project.yaml"].replace(
        "  planned_on: 2026-09-30\n", "  planned_on: 2026-09-30\n  electronic_copy: true\n"
    )
    workflow.build(write_files(folder / "project", files), folder / "out", date="2026-05-04", pdf=True)
    return folder / "out"


def text(path: Path, *arguments: str) -> str:
    return subprocess.run(["pdftotext", *arguments, str(path), "-"], capture_output=True, text=True, check=True).stdout


@pytest.mark.office
def test_every_entry_of_the_contents_names_the_page_it_is_on(built: Path) -> None:
    path = built / "reports" / "VP-01.pdf"
    pages = text(path).split("\f")
    contents = text(path, "-layout", "-f", "1", "-l", "4")
    entries = re.findall(r"^\s*(\d[\d.]*)\s+(\S.*?)\.{3,}\s*(\d+)$", contents, re.MULTILINE)
    assert len(entries) > 10
    for _, title, page in entries:
        assert " ".join(title.split()) in " ".join(pages[int(page) - 1].split()), (title, page)
    assert "Page numbers appear" not in contents


@pytest.mark.office
def test_pdf_is_tagged_has_bookmarks_and_embeds_its_fonts(built: Path) -> None:
    for path in (built / "bench_testing_section.pdf", built / "reports" / "VP-02.pdf"):
        info = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True).stdout
        assert re.search(r"Tagged:\s+yes", info)
        assert b"/Outlines" in path.read_bytes()
        fonts = subprocess.run(["pdffonts", str(path)], capture_output=True, text=True, check=True).stdout.splitlines()[
            2:
        ]
        assert fonts
        assert all(line.split()[-5] == "yes" for line in fonts), fonts


@pytest.mark.office
def test_electronic_copy_holds_numbered_pdfs_and_zipped_raw_data_and_the_manifest_knows_them(built: Path) -> None:
    copy = built / "electronic_copy"
    assert sorted(path.name for path in copy.glob("*.pdf")) == [
        "001_bench_testing_section.pdf",
        "002_VP-01.pdf",
        "003_VP-02.pdf",
    ]
    with zipfile.ZipFile(copy / "STATISTICAL DATA" / "raw_data.zip") as archive:
        assert sorted(archive.namelist()) == ["results/vp_01.csv", "results/vp_02.csv", "traceability.xlsx"]
    assert verify(built) == ()


def test_without_an_office_suite_it_says_what_to_install_and_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pdf.shutil, "which", lambda _: None)
    project = write_files(tmp_path / "project", good_files())
    with pytest.raises(UnreadableInput, match="install it"):
        workflow.build(project, tmp_path / "out", date="2026-05-04", pdf=True)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        # FDA, eCopy Program for Medical Device Submissions, 3 Dec 2025: prefix, signs and length
        ("reports/VP-101.pdf", "007_VP-101.pdf"),
        ("Prüfbericht #3: a/b.pdf", "007_b.pdf"),
        ("a~b*c'd.pdf", "007_a_b_c_d.pdf"),
        ("x" * 200 + ".pdf", "007_" + "x" * 125 + ".pdf"),
    ],
)
def test_names_are_fit_for_an_electronic_copy(name: str, expected: str) -> None:
    assert numbered_name(7, name) == expected


def test_a_pdf_that_is_too_large_is_told() -> None:
    assert warnings({"a.pdf": b"x", "b.pdf": b"x" * LARGEST_PDF}) == ()
    (told,) = warnings({"b.pdf": bytes(LARGEST_PDF + 1)})
    assert "b.pdf" in told
