"""`build --pdf`: contents with page numbers, bookmarks, tags, embedded fonts, and a set fit for an electronic copy."""

from __future__ import annotations

import json
import re
import subprocess
import zipfile
from pathlib import Path

import docx
import pytest

from reportgen import workflow
from reportgen.package.verify import verify
from reportgen.problems import UnreadableInput
from reportgen.render import pdf
from reportgen.render.electronic_copy import LARGEST_PDF, numbered_name, warnings
from tests.cli.test_project_commands import run
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


ARIAL = b"/FontName/BAAAAA+ArialMT /FontFile2 9 0 R /Outlines 3 0 R"


def pdf_of(size: int) -> bytes:
    return ARIAL + bytes(size - len(ARIAL))


# FDA, eCopy Program for Medical Device Submissions, 3 Dec 2025: sizes, fonts, bookmarks, names
@pytest.mark.parametrize(
    ("pdfs", "copy", "told"),
    [
        ({"b.pdf": pdf_of(LARGEST_PDF + 1)}, {}, "b.pdf has 50 MB; at most 50 MB are taken"),
        ({"b.pdf": ARIAL}, {"STATISTICAL DATA/raw_data.zip": 1024**3 + 1}, "raw_data.zip has 1024 MB; at most 1 GB"),
        ({"b.pdf": ARIAL}, {"b.pdf": 4 * 1024**3 + 1}, "the electronic copy has 4096 MB"),
        ({"reports/Prüfung.pdf": ARIAL}, {"c": 1}, "reports/Prüfung.pdf goes as '001_Pr_fung.pdf'"),
        ({"x" * 126 + ".pdf": ARIAL}, {"c": 1}, "and 125 of them"),
        ({f"{n}.pdf": ARIAL for n in range(1000)}, {"c": 1}, "1000 PDF files do not fit"),
        ({"b.pdf": ARIAL.replace(b"ArialMT", b"Georgia-Bold")}, {}, "are set in Georgia; the agency names"),
        ({"b.pdf": ARIAL.replace(b"/Outlines", b"")}, {}, "b.pdf has no bookmarks"),
        ({"b.pdf": ARIAL.replace(b"/FontFile2", b"")}, {}, "b.pdf has fonts that are not embedded"),
        ({"b.pdf": ARIAL + b"/Encrypt 4 0 R"}, {}, "b.pdf is encrypted"),
        ({"b.pdf": ARIAL + b"/EmbeddedFiles"}, {}, "b.pdf carries files inside it"),
    ],
)
def test_what_an_agency_would_not_take_is_told(pdfs: dict[str, bytes], copy: dict[str, int], told: str) -> None:
    (said,) = warnings(pdfs, copy)
    assert told in said


def test_what_an_agency_takes_is_not_warned_of() -> None:
    fonts = b"".join(
        b"/FontName/%s /FontFile2 " % name for name in (b"TimesNewRomanPSMT", b"BAAAAA+Helvetica-Bold", b"Verdana")
    )
    assert warnings({"a b-c_d.1.pdf": fonts + ARIAL, "b.pdf": pdf_of(LARGEST_PDF)}, {"a": 4 * 1024**3}) == (
        "a has 4096 MB; at most 1 GB is advised: hand it in in parts",
    )
    assert warnings({"Prüfung.pdf": ARIAL}, {}) == (), "without an electronic copy, names are nobody's business"


@pytest.mark.office
def test_build_shows_what_an_agency_would_not_take_and_puts_it_into_its_json(tmp_path: Path) -> None:
    files = good_files()
    files["project.yaml"] = files["project.yaml"].replace(
        "  planned_on: 2026-09-30\n", "  planned_on: 2026-09-30\n  electronic_copy: true\n"
    )
    project = write_files(tmp_path / "project", files)
    template = docx.Document()
    template.styles["Normal"].font.name = "DejaVu Serif"
    template.save(str(tmp_path / "house.docx"))
    command = ("build", str(project), "--date", "2026-05-04", "--pdf", "--house", str(tmp_path / "house.docx"))
    shown = run(*command, "-o", str(tmp_path / "shown"))
    assert shown.returncode == 0
    (line,) = [line for line in shown.stderr.splitlines() if line.startswith("For an electronic submission: ")]
    assert "DejaVuSerif" in line
    as_json = json.loads(run(*command, "-o", str(tmp_path / "json"), "--json").stdout)
    assert as_json["electronic_copy_notes"] == [line.removeprefix("For an electronic submission: ")]
    assert any("no style of these names" in note for note in as_json["house_notes"])
    assert as_json["counts"]["blocker"] == 0
