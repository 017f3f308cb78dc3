"""ReqIF files of other programs: what they hold is read, what is wrong with them is told with its place.

Sources: files written by the general-purpose `reqif` library from PyPI (tests/project/outside_reqif.py), which hold the
schema of ReqIF (OMG formal/2016-07-01, see tests/render/test_reqif.py); the attacks are common practice, no source.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reportgen.problems import Problem
from reportgen.project.reqif_content import ReqifContent, read_reqif
from reportgen.render.reqif import reqif_bytes
from tests.project.outside_reqif import LONG_STATEMENT, outside_reqif
from tests.render.test_reqif import export_of, faults

OUTSIDE = outside_reqif()
NO_XML = "".join(chr(code) for code in range(32) if chr(code) not in "\t\n\r") + "\ufffe\uffff"


def read(text: str | bytes) -> tuple[ReqifContent | None, list[Problem]]:
    return read_reqif(text.encode("utf-8") if isinstance(text, str) else text, file="theirs.reqif")


def sound(text: str | bytes) -> ReqifContent:
    content, problems = read(text)
    assert problems == []
    assert content is not None
    return content


def packed(*files: tuple[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files:
            archive.writestr(name, content)
    return buffer.getvalue()


def changed(old: str, new: str, text: str = OUTSIDE) -> str:
    assert old in text
    return text.replace(old, new, 1)


def test_the_file_of_the_outside_library_holds_the_schema_itself() -> None:
    assert faults(OUTSIDE.encode("utf-8")) == []


def test_every_kind_of_value_is_read() -> None:
    values = sound(OUTSIDE).objects["o-r1"].values
    assert values == {
        "IDENTIFIER": ("o-r1",), "LONG-NAME": ("Object r1",), "ReqIF.ForeignID": ("0010",),
        "ReqIF.Text": (LONG_STATEMENT,), "Parameter": ("bond_strength",), "Way of judging": ("Measured",),
        "Limit": ("≥ 10.0 N",), "Limit since": ("2025-12-01",), "Over shelf life": ("yes",), "Hazards": ("R-1", "R-2"),
    }  # fmt: skip


def test_relations_keep_their_order_and_their_ends() -> None:
    relations = [(one.type_name, one.source, one.target) for one in sound(OUTSIDE).relations]
    assert relations == [
        ("derives from", "o-r1", "o-n1"),
        ("derives from", "o-r2", "o-n2"),
        ("derives from", "o-r2", "o-n1"),
    ]


@pytest.mark.parametrize(
    "written",
    [
        lambda text: text.replace("xhtml:", "rich:").replace("xmlns:xhtml=", "xmlns:rich="),
        lambda text: text.replace("\n", "").replace("  ", ""),
        lambda text: changed("UTF-8", "UTF-16", text).encode("utf-16"),
        lambda text: b"\xef\xbb\xbf" + text.encode("utf-8"),
        lambda text: text.replace("in one piece.", "in <!-- here or there -->one piece."),
    ],
    ids=["another prefix", "one line", "UTF-16", "byte order mark", "a comment"],
)
def test_the_same_content_written_in_another_way(written: Callable[[str], str | bytes]) -> None:
    found = sound(written(OUTSIDE))
    assert found.objects["o-n1"].values["ReqIF.Text"] == ("The catheter stays\nin one piece.",)
    assert found.objects["o-r2"].values["ReqIF.Text"] == ("The hub does not leak at 3 < 5 & 10 mm².",)


def test_an_archive_is_one_exchange_of_all_its_files_and_pictures_are_left_alone() -> None:
    other = OUTSIDE.replace('"o-', '"p-').replace(">o-", ">p-")
    both = sound(packed(("a/one.reqif", OUTSIDE.encode()), ("b/two.ReqIF", other.encode()), ("fig.png", b"\x89PNG")))
    assert {"o-r1", "p-r1"} <= set(both.objects)
    assert both.objects["p-r1"].place.file == "theirs.reqif: b/two.ReqIF"


def test_an_attribute_without_a_value_has_the_default_of_its_definition_and_an_empty_one_has_none() -> None:
    default = (
        '<DEFAULT-VALUE><ATTRIBUTE-VALUE-STRING THE-VALUE="tip_force"><DEFINITION><ATTRIBUTE-DEFINITION-STRING-REF>'
        "req.Parameter</ATTRIBUTE-DEFINITION-STRING-REF></DEFINITION></ATTRIBUTE-VALUE-STRING></DEFAULT-VALUE><TYPE>"
    )
    at = OUTSIDE.index('IDENTIFIER="req.Parameter"')
    with_default = OUTSIDE[:at] + changed("<TYPE>", default, OUTSIDE[at:])
    assert faults(with_default.encode()) == []
    assert sound(with_default).objects["o-r1"].values["Parameter"] == ("bond_strength",)
    value = with_default.index('<ATTRIBUTE-VALUE-STRING THE-VALUE="bond_strength">')
    end = with_default.index("</ATTRIBUTE-VALUE-STRING>", value) + len("</ATTRIBUTE-VALUE-STRING>")
    without = with_default[:value] + with_default[end:]
    assert sound(without).objects["o-r1"].values["Parameter"] == ("tip_force",)
    emptied = changed('THE-VALUE="bond_strength"', 'THE-VALUE=""', with_default)
    assert "Parameter" not in sound(emptied).objects["o-r1"].values


def test_two_attributes_of_one_name_are_told_apart_by_their_identifiers() -> None:
    twice = changed('LONG-NAME="Why these"', 'LONG-NAME="Limit"')
    values = sound(twice).objects["o-r2"].values
    assert values["req.Why-these"] == ("asked for by the buyer",)


@pytest.mark.parametrize(
    ("old", "new", "place", "found"),
    [
        ("<ENUM-VALUE-REF>w0<", "<ENUM-VALUE-REF>w9<", "object 'Object r1', attribute 'Way of judging'", "'w9'"),
        (">req.Parameter</ATTRIBUTE-DEFINITION-STRING-REF", ">req.Nothing</ATTRIBUTE-DEFINITION-STRING-REF",
         "object 'Object r1'", "'req.Nothing'"),
        (">t-req<", ">t-nothing<", "object 'Object r1'", "'t-nothing'"),
        ("<SPEC-RELATION-TYPE-REF>t-link", "<SPEC-RELATION-TYPE-REF>t-no", "object 'l1'", "'t-no'"),
        ('<SPEC-OBJECT IDENTIFIER="o-r2"', '<SPEC-OBJECT IDENTIFIER="o-r1"', "object 'Object r2'", "a second time"),
        ("10 mm<xhtml:sup>2</xhtml:sup>", "<xhtml:del>12</xhtml:del> mm", "attribute 'ReqIF.Text'", "deleted: '12'"),
    ],
)  # fmt: skip
def test_what_leads_nowhere_is_told_with_object_and_attribute(old: str, new: str, place: str, found: str) -> None:
    content, problems = read(changed(old, new))
    assert content is None
    (problem,) = problems
    assert place in str(problem.place)
    assert problem.place.row is not None
    assert found in problem.found
    assert problem.mend


def test_all_faults_of_a_file_are_told_at_once() -> None:
    spoilt = changed(
        "<ENUM-VALUE-REF>w0<", "<ENUM-VALUE-REF>w9<", changed("<ENUM-VALUE-REF>h2<", "<ENUM-VALUE-REF>h9<")
    )
    assert [problem.place.item for problem in read(spoilt)[1]] == ["Object r1", "Object r2"]


BOMB = (
    '<!DOCTYPE r [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;">]>'
)
OUTWARD = '<!DOCTYPE r SYSTEM "file:///etc/passwd" [<!ENTITY x SYSTEM "file:///etc/passwd">]>'


@pytest.mark.parametrize("declaration", [BOMB, OUTWARD, "<!DOCTYPE r>"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_document_type_is_refused_before_anything_is_expanded(declaration: str, encoding: str) -> None:
    text = OUTSIDE.replace('encoding="UTF-8"', f'encoding="{encoding}"')
    text = text.replace("?>\n", f"?>\n{declaration}\n", 1).replace('THE-VALUE="007"', 'THE-VALUE="&c;"')
    content, problems = read(text.encode(encoding))
    assert content is None
    assert ["document type" in problem.found for problem in problems] == [True]


def test_an_entity_that_nobody_declared_is_no_way_in_either() -> None:
    content, problems = read(changed('THE-VALUE="007"', 'THE-VALUE="&x;"'))
    assert content is None
    assert len(problems) == 1


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"", "an empty file"),
        (b"PK\x03\x04 and no more", "damaged archive"),
        (packed(("readme.txt", b"x")), "without a .reqif"),
        (b"<REQ-IF>", "no well-formed XML"),
        (b"<html/>", "'html'"),
        (b'<RIF xmlns="http://example.org/older"/>', "older"),
        (OUTSIDE.encode()[:9_000], "no well-formed XML"),
        (b"\xff\xfe\x00", "no well-formed XML"),
        (b'<?xml version="1.0" encoding="nonsense"?><a/>', "no well-formed XML"),
    ],
)
def test_what_is_no_reqif_is_told(data: bytes, found: str) -> None:
    content, problems = read(data)
    assert content is None
    assert [found in problem.found for problem in problems] == [True]
    assert all(problem.mend and problem.expected for problem in problems)


def test_an_archive_that_unpacks_to_too_much_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    from reportgen.project import reqif_archive

    monkeypatch.setattr(reqif_archive, "LARGEST_XML", 50_000)
    bomb = packed(("bomb.reqif", b"<a>" + b" " * 5_000_000 + b"</a>"))
    assert len(bomb) < 50_000
    assert "unpacked" in read(bomb)[1][0].found
    many = packed(*((f"{i}.png", b"") for i in range(60)))
    monkeypatch.setattr(reqif_archive, "MOST_ENTRIES", 50)
    assert "60 files" in read(many)[1][0].found


def test_an_archive_whose_parts_say_too_little_of_their_size_is_refused() -> None:
    honest = bytearray(packed(("one.reqif", OUTSIDE.encode())))
    sizes = len(OUTSIDE.encode()).to_bytes(4, "little")
    lying = bytes(honest).replace(sizes, (100).to_bytes(4, "little"))
    assert lying != bytes(honest)
    content, problems = read(lying)
    assert content is None
    assert "damaged archive" in problems[0].found


def test_spoilt_bytes_end_in_problems_and_nothing_else() -> None:
    data = OUTSIDE.encode()
    for at in range(0, len(data), 211):
        for spoilt in (data[:at] + b"\x00" + data[at + 1 :], data[:at] + b"<" + data[at + 1 :], data[:at]):
            content, problems = read(spoilt)
            assert (content is None) == bool(problems)


@given(
    st.lists(
        st.text(st.characters(exclude_categories=("Cs", "Cn"), exclude_characters=NO_XML), max_size=40), min_size=2
    )
)
def test_every_text_that_xml_can_hold_comes_back_as_it_was_written(texts: list[str]) -> None:
    content = sound(reqif_bytes(export_of(tuple(texts))))
    read = [one.values.get("statement", ("",)) for one in content.objects.values()]
    assert [value for (value,) in read[: len(texts)]] == [text.strip() for text in texts]
