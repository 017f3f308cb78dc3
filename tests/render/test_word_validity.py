"""Every Word file that we write is valid, part by part; and the check sees a fault in each element written by hand."""

from __future__ import annotations

import copy
import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from lxml import etree

from reportgen import workflow, workflow_studies
from reportgen.render.house_names import with_our_names
from reportgen.render.word import word_bytes
from reportgen.render.word_house import house_bytes
from reportgen.workflow_documents import refresh_document
from tests.good_project import good_files, write_files
from tests.render.company_templates import german_template, libreoffice_template
from tests.render.sample_document import sample_document
from tests.render.test_word_house import foreign_house
from tests.render.word_validity import faults

DATE = "2026-05-04"


@pytest.fixture(scope="module")
def sample() -> bytes:
    return word_bytes(sample_document(3), house=None)


def test_the_sample_with_every_block_is_valid(sample: bytes, tmp_path: Path) -> None:
    assert faults(sample, tmp_path) == []


def test_the_shipped_template_is_valid(tmp_path: Path) -> None:
    assert faults(house_bytes(), tmp_path) == []


@pytest.mark.parametrize("house", [foreign_house, german_template], ids=["bare", "german"])
def test_documents_in_a_house_are_valid(house: object, tmp_path: Path) -> None:
    assert callable(house)
    assert faults(word_bytes(sample_document(3), house=house()), tmp_path) == []


@pytest.mark.office
def test_documents_in_a_house_of_libreoffice_are_valid(tmp_path: Path) -> None:
    template = libreoffice_template(tmp_path)
    house = with_our_names(template.read_bytes(), {"Body Text": "Texte courant maison"}, named_in="")
    made = word_bytes(sample_document(3), house=house)
    # LibreOffice 7.4 writes w:pStyle before w:numFmt into list levels; what it wrote stays in the list part
    assert faults(made, tmp_path, not_ours=("/word/numbering.xml",)) == []
    assert len(faults(made, tmp_path)) == 2


def test_a_built_package_its_refreshed_documents_and_records_are_valid(tmp_path: Path) -> None:
    project = write_files(tmp_path / "project", good_files())
    workflow.build(project, tmp_path / "out", date=DATE)
    files = good_files()
    files["results/vp_01.csv"] = files["results/vp_01.csv"].replace("18.21", "17.21")
    later = write_files(tmp_path / "later", files)
    refresh_document(tmp_path / "out/reports/VP-01.docx", tmp_path / "out/new.docx", project=later, date=DATE)
    checks = workflow_studies.qualify()
    workflow_studies.write_qualification(checks, tmp_path / "out/q.docx", date=DATE, system="test")
    made = sorted((tmp_path / "out").rglob("*.docx"))
    assert [path.name for path in made] == [
        "bench_testing_section.docx",
        "new.docx",
        "q.docx",
        "VP-01.docx",
        "VP-02.docx",
    ]
    assert {path.name: faults(path.read_bytes(), tmp_path) for path in made} == {path.name: [] for path in made}


def _changed(package: bytes, part: str, root: etree._Element) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(package)) as old, zipfile.ZipFile(buffer, "w") as new:
        for name in old.namelist():
            new.writestr(name, etree.tostring(root) if name == part else old.read(name))
    return buffer.getvalue()


def _turned_around(package: bytes) -> Iterator[tuple[str, bytes]]:
    """The file with the children of one element reversed, for each kind of element with an order of its own."""
    # any order is right in these: a choice that repeats
    free = {"body", "p", "r", "tr", "tc", "tbl", "hdr", "ftr", "styles", "sdtContent", "hyperlink", "trPr",
            "coreProperties", "Types", "Relationships", "footnotes", "footnote", "tabs", "num"}  # fmt: skip
    seen = set()
    with zipfile.ZipFile(io.BytesIO(package)) as archive:
        for part in archive.namelist():
            if part.endswith((".png", ".rels")):
                continue
            root = etree.fromstring(archive.read(part))
            for index, node in enumerate(list(root.iter(etree.Element))):
                name = etree.QName(node).localname
                kinds = [child.tag for child in node]
                if name in free | seen or len(set(kinds)) < 2 or kinds == kinds[::-1]:
                    continue
                seen.add(name)
                broken = copy.deepcopy(root)
                twin = list(broken.iter(etree.Element))[index]
                twin[:] = list(twin)[::-1]
                yield name, _changed(package, part, broken)


def test_the_check_sees_a_fault_in_every_element_with_an_order(sample: bytes, tmp_path: Path) -> None:
    told = {name: bool(faults(broken, tmp_path)) for name, broken in _turned_around(sample)}
    written = {"pPr", "rPr", "tblPr", "tcPr", "sectPr", "sdt", "sdtPr", "settings", "numbering", "lvl",
               "abstractNum", "style", "docDefaults", "inline", "pic", "blipFill", "spPr", "nvPicPr"}  # fmt: skip
    assert written <= told.keys()
    assert {name for name, seen in told.items() if not seen} == set()


@pytest.mark.parametrize(
    ("part", "old", "new", "told"),
    [
        ("word/document.xml", b'r:embed="figure1"', b'r:embed="figure99"', "no relationship 'figure99'"),
        ("word/_rels/document.xml.rels", b"media/figure1.png", b"media/lost.png", "which is not there"),
        ("[Content_Types].xml", b'PartName="/word/footnotes.xml"', b'PartName="/word/x.xml"', "has no part"),
        ("word/document.xml", b'<w:bookmarkEnd w:id="', b'<w:bookmarkEnd w:id="7', "unended bookmark"),
        ("word/headerPortrait.xml", b"<w:id w:val=", b"<w:id w:x=", "headerPortrait.xml"),
        ("word/document.xml", b'w:val="BodyText"', b'w:val="NoSuchStyle"', "NoSuchStyle"),
    ],
)
def test_the_check_sees_broken_links(
    sample: bytes, tmp_path: Path, part: str, old: bytes, new: bytes, told: str
) -> None:
    with zipfile.ZipFile(io.BytesIO(sample)) as archive:
        content = archive.read(part)
    assert old in content
    broken = _changed(sample, part, etree.fromstring(content.replace(old, new, 1)))
    assert any(told in fault for fault in faults(broken, tmp_path)), faults(broken, tmp_path)
