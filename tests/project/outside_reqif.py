"""A ReqIF file made by a library that is not ours (`reqif` from PyPI, its object model and its writer).

The device is invented. It has two types of objects under names of another program's own, formatted and plain texts, an
enumeration of one value and one of several, numbers, days, yes or no, and relations from requirement to need.
"""

from __future__ import annotations

from reqif.models.reqif_core_content import ReqIFCoreContent
from reqif.models.reqif_data_type import (
    ReqIFDataTypeDefinitionBoolean,
    ReqIFDataTypeDefinitionDateIdentifier,
    ReqIFDataTypeDefinitionEnumeration,
    ReqIFDataTypeDefinitionReal,
    ReqIFDataTypeDefinitionString,
    ReqIFDataTypeDefinitionXHTML,
    ReqIFEnumValue,
)
from reqif.models.reqif_namespace_info import ReqIFNamespaceInfo
from reqif.models.reqif_req_if_content import ReqIFReqIFContent
from reqif.models.reqif_reqif_header import ReqIFReqIFHeader
from reqif.models.reqif_spec_object import ReqIFSpecObject, SpecObjectAttribute
from reqif.models.reqif_spec_object_type import ReqIFSpecObjectType, SpecAttributeDefinition
from reqif.models.reqif_spec_relation import ReqIFSpecRelation
from reqif.models.reqif_spec_relation_type import ReqIFSpecRelationType
from reqif.models.reqif_types import SpecObjectAttributeType as Sort
from reqif.object_lookup import ReqIFObjectLookup
from reqif.reqif_bundle import ReqIFBundle
from reqif.unparser import ReqIFUnparser

DAY = "2026-05-04T10:00:00+02:00"
LONG_STATEMENT = "The bond of hub and shaft withstands the load of a withdrawal, " + "again and again, " * 40 + "whole."
TWO_PARAGRAPHS = "<xhtml:p>The catheter stays</xhtml:p><xhtml:p>in one piece.</xhtml:p>"
RAISED = "The hub does not leak at 3 &lt; 5 &amp; 10 mm<xhtml:sup>2</xhtml:sup>."

MAPPING = """\
user_needs:
  object_type: Need
  columns: {id: ReqIF.ForeignID, statement: ReqIF.Text}
design_inputs:
  object_type: Requirement
  columns:
    id: ReqIF.ForeignID
    statement: ReqIF.Text
    characteristic: Parameter
    kind: Way of judging
    limit_set_on: Limit since
    stability: Over shelf life
    confidence: Confidence
    reliability: Reliability
    assurance_reason: Why these
    risk: Hazards
  limits: Limit
  values:
    kind: {Measured: variable, Pass or fail: attribute}
  links:
    user_need: {relation: derives from, this_is: source}
"""


def _data_types() -> list[object]:
    words = [ReqIFEnumValue(f"w{key}", str(key), last_change=DAY, other_content="", long_name=name) for key, name in
             enumerate(("Measured", "Pass or fail"))]  # fmt: skip
    hazards = [ReqIFEnumValue(f"h{key}", str(key), last_change=DAY, other_content="", long_name=name) for key, name in
               enumerate(("R-1", "R-2", "R-3"))]  # fmt: skip
    return [
        ReqIFDataTypeDefinitionString("text", last_change=DAY, long_name="text", max_length="9999"),
        ReqIFDataTypeDefinitionXHTML("rich", last_change=DAY, long_name="rich text", is_self_closed=True),
        ReqIFDataTypeDefinitionBoolean("flag", last_change=DAY, long_name="flag", is_self_closed=True),
        ReqIFDataTypeDefinitionDateIdentifier("day", last_change=DAY, long_name="day", is_self_closed=True),
        ReqIFDataTypeDefinitionReal("real", accuracy=6, max_value="1000", min_value="-1000", last_change=DAY),
        ReqIFDataTypeDefinitionEnumeration("ways", last_change=DAY, long_name="ways", values=words),
        ReqIFDataTypeDefinitionEnumeration("hazards", last_change=DAY, long_name="hazards", values=hazards),
    ]


def _attribute(
    sort: Sort, owner: str, name: str, data_type: str, *, several: bool | None = None
) -> SpecAttributeDefinition:
    return SpecAttributeDefinition(
        sort, f"{owner}.{name.replace(' ', '-')}", data_type, last_change=DAY, long_name=name, multi_valued=several
    )


def _types() -> list[object]:
    need = [
        _attribute(Sort.STRING, "need", "ReqIF.ForeignID", "text"),
        _attribute(Sort.XHTML, "need", "ReqIF.Text", "rich"),
    ]
    requirement = [
        _attribute(Sort.STRING, "req", "ReqIF.ForeignID", "text"),
        _attribute(Sort.XHTML, "req", "ReqIF.Text", "rich"),
        _attribute(Sort.STRING, "req", "Parameter", "text"),
        _attribute(Sort.ENUMERATION, "req", "Way of judging", "ways", several=False),
        _attribute(Sort.STRING, "req", "Limit", "text"),
        _attribute(Sort.DATE, "req", "Limit since", "day"),
        _attribute(Sort.BOOLEAN, "req", "Over shelf life", "flag"),
        _attribute(Sort.REAL, "req", "Confidence", "real"),
        _attribute(Sort.REAL, "req", "Reliability", "real"),
        _attribute(Sort.STRING, "req", "Why these", "text"),
        _attribute(Sort.ENUMERATION, "req", "Hazards", "hazards", several=True),
    ]
    return [
        ReqIFSpecObjectType("t-need", last_change=DAY, long_name="Need", attribute_definitions=need),
        ReqIFSpecObjectType("t-req", last_change=DAY, long_name="Requirement", attribute_definitions=requirement),
        ReqIFSpecRelationType("t-link", last_change=DAY, long_name="derives from"),
    ]


def _object(kind: str, key: str, **values: tuple[Sort, str | list[str]]) -> ReqIFSpecObject:
    names = {"id": "ReqIF.ForeignID", "text": "ReqIF.Text", "way": "Way-of-judging", "since": "Limit-since"}
    names |= {"shelf": "Over-shelf-life", "why": "Why-these"}
    attributes = [
        SpecObjectAttribute(sort, f"{kind}.{names.get(name, name.capitalize())}", value)
        for name, (sort, value) in values.items()
    ]
    return ReqIFSpecObject(f"o-{key}", attributes, f"t-{kind}", last_change=DAY, long_name=f"Object {key}")


def _rich(text: str) -> tuple[Sort, str]:
    return Sort.XHTML, f"<xhtml:div>{text}</xhtml:div>"


def _objects() -> list[ReqIFSpecObject]:
    return [
        _object("need", "n1", id=(Sort.STRING, "007"), text=_rich(TWO_PARAGRAPHS)),
        _object("need", "n2", id=(Sort.STRING, "UN-2"), text=_rich("השרוול יורד ביד")),
        _object(
            "req", "r1", id=(Sort.STRING, "0010"), text=_rich(LONG_STATEMENT), parameter=(Sort.STRING, "bond_strength"),
            way=(Sort.ENUMERATION, ["w0"]), limit=(Sort.STRING, "≥ 10.0 N"),
            since=(Sort.DATE, "2025-12-01T00:30:00+02:00"), shelf=(Sort.BOOLEAN, "true"),
            hazards=(Sort.ENUMERATION, ["h0", "h1"]),
        ),
        _object(
            "req", "r2", id=(Sort.STRING, "0020"), text=_rich(RAISED),
            parameter=(Sort.STRING, "hub_leak"), way=(Sort.ENUMERATION, ["w1"]), hazards=(Sort.ENUMERATION, ["h2"]),
            confidence=(Sort.REAL, "0.95"), reliability=(Sort.REAL, "9.0E-1"),
            why=(Sort.STRING, "asked for by the buyer"),
        ),
    ]  # fmt: skip


def outside_reqif() -> str:
    """The text of the file."""
    relations = [
        ReqIFSpecRelation("l1", "t-link", source="o-r1", target="o-n1", last_change=DAY),
        ReqIFSpecRelation("l2", "t-link", source="o-r2", target="o-n2", last_change=DAY),
        ReqIFSpecRelation("l3", "t-link", source="o-r2", target="o-n1", last_change=DAY),
    ]
    content = ReqIFReqIFContent(
        data_types=_data_types(),
        spec_types=_types(),  # type: ignore[arg-type]
        spec_objects=_objects(),
        spec_relations=relations,
    )
    namespaces = ReqIFNamespaceInfo(
        original_reqif_tag_dump=None, doctype_is_present=True, encoding="UTF-8",
        namespace=ReqIFNamespaceInfo.REQIF_XSD, configuration=None, namespace_id=None,
        namespace_xhtml="http://www.w3.org/1999/xhtml", schema_namespace=None, schema_location=None, language=None,
    )  # fmt: skip
    header = ReqIFReqIFHeader(
        identifier="h", creation_time=DAY, req_if_tool_id="a library", req_if_version="1.0", source_tool_id="a library",
        title="Requirements of an invented catheter",
    )  # fmt: skip
    return ReqIFUnparser.unparse(
        ReqIFBundle(
            namespace_info=namespaces,
            req_if_header=header,
            core_content=ReqIFCoreContent(req_if_content=content),
            tool_extensions_tag_exists=False,
            lookup=ReqIFObjectLookup.empty(),
            exceptions=[],
        )
    )
