"""ReqIF exports, held to the standard's own schema and read by a library that is not ours.

Sources: the XML schema of ReqIF (OMG formal/2016-07-01, reqif.xsd with the XHTML modules it includes), as bundled with
the general-purpose `reqif` library from PyPI; that library as the outside reader; lxml for well-formedness.
"""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
import reqif
import xmlschema
from lxml import etree
from reqif.parser import ReqIFParser

from reportgen.compose.records import (
    TraceBranch,
    TraceExport,
    TraceField,
    TraceLink,
    TraceRecord,
    TraceRegister,
)
from reportgen.render.reqif import reqif_bytes, reqifz_bytes

ODD_TEXTS = (
    "a < b & \"c\" 'd' ]]> &amp;",
    "two\nlines\tand a tab\rand a return",
    "עברית 5 N \u200f(מינימום)\u200f",
    "مقاومة السحب ≥ 5 نيوتن",
    "x" * 3_000,
    "=1+1",
    " spaces at both ends ",
    "\U0001f9ea",
)


@cache
def schema() -> xmlschema.XMLSchema:
    return xmlschema.XMLSchema(str(Path(reqif.__file__).parent / "reqif_schema" / "reqif.xsd"))


def _values(number: int, text: str) -> tuple[str, ...]:
    return (f"{number:03d}", text, "variable", "12", "-0.1", "2026-03-31", "yes")


def export_of(texts: tuple[str, ...] = ODD_TEXTS) -> TraceExport:
    needs = TraceRegister(
        kind="user need",
        name="user_needs",
        fields=(
            TraceField(name="id", kind="text", about="its id"),
            TraceField(name="statement", kind="text", about="what is needed"),
            TraceField(name="kind", kind="word", about="a word", words=("variable", "attribute")),
            TraceField(name="n", kind="whole", about="a number of things"),
            TraceField(name="mean", kind="number", about="a number"),
            TraceField(name="on", kind="date", about="a day"),
            TraceField(name="stability", kind="yes_no", about="yes or no"),
        ),
        records=(
            *(TraceRecord(id=f"{i:03d}", title=text, values=_values(i, text)) for i, text in enumerate(texts)),
            TraceRecord(id="bare", title="bare", values=("bare", "", "", "", "", "", "")),
        ),
    )
    inputs = TraceRegister(
        kind="design input",
        name="design_inputs",
        fields=(TraceField(name="id", kind="text", about="its id"),),
        records=(TraceRecord(id="DI-1", title="DI-1", values=("DI-1",)),),
    )
    return TraceExport(
        title="Trace of an invented <device> & more",
        owner="maker\ndevice",
        comment="for tests",
        date="2026-05-04",
        version="0",
        registers=(needs, inputs),
        links=(
            TraceLink(source=("user need", "000"), target=("design input", "DI-1"), why="is answered by"),
            TraceLink(source=("user need", "001"), target=("design input", "DI-1"), why="is answered by: < & >"),
        ),
        outline=(
            TraceBranch(record=("user need", "000"), below=(TraceBranch(record=("design input", "DI-1")),)),
            TraceBranch(record=("user need", "001"), below=(TraceBranch(record=("design input", "DI-1")),)),
        ),
    )


def faults(content: bytes) -> list[str]:
    return [str(error.reason) for error in schema().iter_errors(etree.parse(io.BytesIO(content)))]


def test_it_holds_the_published_schema() -> None:
    assert faults(reqif_bytes(export_of())) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'THE-VALUE="12"', b'THE-VALUE="twelve"'),
        (b' LAST-CHANGE="2026-05-04T00:00:00Z"', b""),
        (b"<REQ-IF-VERSION>1.0</REQ-IF-VERSION>", b"<REQ-IF-VERSION>9</REQ-IF-VERSION>"),
        (b"</SPEC-OBJECT-REF></OBJECT>", b"x</SPEC-OBJECT-REF></OBJECT>"),
    ],
)
def test_the_schema_would_notice(old: bytes, new: bytes) -> None:
    content = reqif_bytes(export_of())
    assert old in content
    assert faults(content.replace(old, new, 1)) != []


def test_an_outside_reader_finds_every_record_with_every_value() -> None:
    content = ReqIFParser.parse_from_string(reqif_bytes(export_of()).decode("utf-8")).core_content.req_if_content
    types = {one.identifier: one for one in content.spec_types}
    words = {
        value.identifier: value.long_name
        for kind in content.data_types
        for value in getattr(kind, "values", None) or ()
    }
    found = {}
    for one in content.spec_objects:
        names = {field.identifier: field.long_name for field in types[one.spec_object_type].attribute_definitions}
        values = {names[value.definition_ref]: value.value for value in one.attributes}
        if "kind" in values:
            values["kind"] = [words[reference] for reference in values["kind"]]
        found[one.long_name] = values
    expected = {
        f"{i:03d}": {
            "id": f"{i:03d}", "statement": text, "kind": ["variable"], "n": "12", "mean": "-0.1",
            "on": "2026-03-31T00:00:00Z", "stability": "true",
        }
        for i, text in enumerate(ODD_TEXTS)
    }  # fmt: skip
    assert found == expected | {"bare": {"id": "bare"}, "DI-1": {"id": "DI-1"}}


def test_an_outside_reader_finds_the_links_and_the_outline() -> None:
    bundle = ReqIFParser.parse_from_string(reqif_bytes(export_of()).decode("utf-8"))
    content = bundle.core_content.req_if_content
    names = {one.identifier: one.long_name for one in content.spec_objects}
    assert [(names[one.source], names[one.target], one.long_name) for one in content.spec_relations] == [
        ("000", "DI-1", "is answered by"),
        ("001", "DI-1", "is answered by: < & >"),
    ]
    outline = content.specifications[0]
    shown = [(one.level, names[one.spec_object]) for one in bundle.iterate_specification_hierarchy(outline)]
    assert shown == [(1, "000"), (2, "DI-1"), (1, "001"), (2, "DI-1")]


def test_identifiers_are_each_given_once_and_stay_the_same_on_another_day() -> None:
    def identifiers(export: TraceExport) -> list[str]:
        return [str(value) for value in etree.fromstring(reqif_bytes(export)).xpath("//@IDENTIFIER")]

    first = identifiers(export_of())
    assert len(set(first)) == len(first)
    assert identifiers(replace(export_of(), date="2027-01-01", version="9")) == first
    assert not set(identifiers(replace(export_of(), owner="maker\nother device"))) & set(first)


def test_a_sign_that_xml_cannot_hold_is_made_visible() -> None:
    content = reqif_bytes(export_of(("a\x0bb\ufffec", "plain")))
    assert "a\N{REPLACEMENT CHARACTER}b\N{REPLACEMENT CHARACTER}c" in content.decode("utf-8")
    assert faults(content) == []


def test_same_bytes_twice_also_packed() -> None:
    assert reqif_bytes(export_of()) == reqif_bytes(export_of())
    packed = reqifz_bytes(export_of())
    assert packed == reqifz_bytes(export_of())
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        assert archive.namelist() == ["trace.reqif"]
        assert archive.read("trace.reqif") == reqif_bytes(export_of())
