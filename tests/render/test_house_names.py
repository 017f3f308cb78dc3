"""Templates of a company: styles mapped by name, made in another program or language, and what they lack is told."""

from __future__ import annotations

import io
import subprocess
import zipfile
from pathlib import Path

import openpyxl
import pytest
from docx import Document
from docx.enum.style import WD_STYLE_TYPE

from reportgen import workflow
from reportgen.problems import UnreadableInput
from reportgen.render.house_names import lacking, style_names, with_our_names
from tests.cli.test_project_commands import run
from tests.good_project import good_files, write_files, write_good_project


@pytest.fixture
def german(tmp_path: Path) -> Path:
    """A template whose style names are in another language, as programs and companies make them."""
    document = Document()
    for name, kind in (("Überschrift Firma 1", WD_STYLE_TYPE.PARAGRAPH), ("Fließtext", WD_STYLE_TYPE.PARAGRAPH)):
        style = document.styles.add_style(name, kind)
        style.font.name = "Verdana"
    path = tmp_path / "firma.docx"
    document.save(str(path))
    path.with_suffix(".styles.yaml").write_text(
        "Heading 1: Überschrift Firma 1\nBody Text: Fließtext\n", encoding="utf-8"
    )
    return path


def test_mapped_styles_of_another_language_are_worn(german: Path, tmp_path: Path) -> None:
    project = write_good_project(tmp_path / "project")
    done = run("build", str(project), "-o", str(tmp_path / "out"), "--date", "2026-05-04", "--house", str(german))
    assert done.returncode == 0, done.stderr
    assert "so ours were used" in done.stderr
    assert "Heading 1" not in done.stderr.partition("used:")[2].split(", ")
    document = Document(str(tmp_path / "out" / "reports" / "VP-01.docx"))
    headings = [paragraph for paragraph in document.paragraphs if paragraph.style.font.name == "Verdana"]
    assert any(paragraph.text == "Results" for paragraph in headings)


def test_house_of_project_yaml_is_used_and_its_absence_told(german: Path, tmp_path: Path) -> None:
    files = good_files()
    files["project.yaml"] = files["project.yaml"].replace(
        "  prepared_by: J. Invented\n", "  prepared_by: J. Invented\n  house_template: house/firma.docx\n"
    )
    project = write_files(tmp_path / "project", files)
    done = run("build", str(project), "-o", str(tmp_path / "out"))
    assert done.returncode == 2
    assert "firma.docx" in done.stderr
    (project / "house").mkdir()
    (project / "house" / "firma.docx").write_bytes(german.read_bytes())
    assert run("build", str(project), "-o", str(tmp_path / "out"), "--date", "2026-05-04").returncode == 0


@pytest.mark.parametrize(
    ("mapping", "told"),
    [
        ("Heading 11: Fließtext\n", "'Heading 11'"),
        ("Heading 1: Uberschrift Firma 1\n", "Überschrift Firma 1"),
        ("- Heading 1\n", "a line for each style"),
        ("Heading 1: [a]\n", "a line for each style"),
        ("Heading 1: a\n Heading 2: b\n", "firma.styles.yaml"),
    ],
)
def test_a_mapping_that_does_not_fit_is_told(german: Path, tmp_path: Path, mapping: str, told: str) -> None:
    german.with_suffix(".styles.yaml").write_text(mapping, encoding="utf-8")
    project = write_good_project(tmp_path / "project")
    with pytest.raises(UnreadableInput, match=told):
        workflow.build(project, tmp_path / "out", date="2026-05-04", house=german)
    assert not (tmp_path / "out").exists()


def a_workbook() -> bytes:
    buffer = io.BytesIO()
    openpyxl.Workbook().save(buffer)
    return buffer.getvalue()


def strict() -> bytes:
    """A document with the names of ISO 29500 strict, which few programs write."""
    buffer, out = io.BytesIO(), io.BytesIO()
    Document().save(buffer)
    with zipfile.ZipFile(buffer) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, content.replace(b"schemas.openxmlformats.org/officeDocument", b"purl.oclc.org/ooxml/x"))
    return out.getvalue()


def cut_short() -> bytes:
    """A zip file in which the main part is named and missing."""
    buffer, out = io.BytesIO(), io.BytesIO()
    Document().save(buffer)
    with zipfile.ZipFile(buffer) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            if name != "word/document.xml":
                new.writestr(name, old.read(name))
    return out.getvalue()


@pytest.mark.parametrize(
    "content", [b"no archive", a_workbook(), strict(), cut_short()], ids=["bytes", "workbook", "strict", "cut"]
)
def test_what_is_no_template_is_told(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.docx"
    path.write_bytes(content)
    with pytest.raises(UnreadableInput, match="Word document"):
        workflow.build(write_good_project(tmp_path / "project"), tmp_path / "out", date="2026-05-04", house=path)
    assert not (tmp_path / "out").exists()


def test_a_dotx_is_a_template_too_and_documents_are_none(tmp_path: Path) -> None:
    buffer, path = io.BytesIO(), tmp_path / "firma.dotx"
    Document().save(buffer)
    kind = b"wordprocessingml.document.main+xml"
    with zipfile.ZipFile(buffer) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(kind, b"wordprocessingml.template.main+xml"))
    workflow.build(write_good_project(tmp_path / "project"), tmp_path / "out", date="2026-05-04", house=path)
    with zipfile.ZipFile(tmp_path / "out" / "reports" / "VP-01.docx") as archive:
        assert kind in archive.read("[Content_Types].xml")


def test_the_shipped_template_lacks_nothing_and_a_bare_one_much() -> None:
    shipped = (Path(__file__).resolve().parents[2] / "templates" / "house.docx").read_bytes()
    assert lacking(shipped) == ()
    assert with_our_names(shipped, {}, named_in="") != b""
    assert {"heading 1", "Title"} <= set(style_names())


@pytest.mark.office
def test_a_template_made_in_libreoffice_is_worn(tmp_path: Path) -> None:
    text = tmp_path / "vorlage.txt"
    text.write_text("A template made in LibreOffice\n", encoding="utf-8")
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}", "--headless", "--convert-to", "docx",
         "--outdir", str(tmp_path), str(text)],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    project = write_good_project(tmp_path / "project")
    done = run(
        "build",
        str(project),
        "-o",
        str(tmp_path / "out"),
        "--date",
        "2026-05-04",
        "--house",
        str(tmp_path / "vorlage.docx"),
    )
    assert done.returncode == 0, done.stderr
    document = Document(str(tmp_path / "out" / "bench_testing_section.docx"))
    assert not any("A template made" in paragraph.text for paragraph in document.paragraphs)
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}", "--headless", "--convert-to", "pdf",
         "--outdir", str(tmp_path), str(tmp_path / "out" / "bench_testing_section.docx")],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    assert (tmp_path / "bench_testing_section.pdf").stat().st_size > 20_000
