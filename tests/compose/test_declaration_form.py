"""The form for a declaration: what the records say, what stands in the way, and nothing that declares by itself."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reportgen.acceptance.records import Verdict
from reportgen.compose.declaration_form import declaration_form
from reportgen.compose.dossier import Dossier
from reportgen.compose.package import compose_documents
from reportgen.compose.records import Cover, Document, Table
from reportgen.project.records import ClauseEvidence, ClauseRef, MapLink, StandardUse
from reportgen.project.shipped import shipped_folder
from reportgen.project.templates import read_templates
from reportgen.trace.records import ClauseCoverage, CoverageStatus, Finding, Severity
from tests.compose.hand_made import dossier, evaluation
from tests.compose.plain_text import as_text

# Elements of a declaration: FDA guidance on voluntary consensus standards (2018), ISO/IEC 17050-1:2004, in own words.
ELEMENTS = {
    "tbl-declarant": ("Name", "Address", "Contact"),
    "tbl-product": ("Name", "Models", "Design revision", "Product code, class, unique identification"),
    "tbl-limits": ("Tested", "Concessions", "Valid for"),
    "tbl-signature": ("Statement of conformity", "Name", "Function", "Place", "Date", "Signature"),
}
DECLARED = StandardUse(
    standard="ISO 10555-1",
    edition="2023",
    map="iso-10555-1",
    use="declaration",
    recognition_number="0-000 (invented)",
    options_chosen=("each joint on its own",),
    clauses_used=("tensile",),
)


def with_standards(found: Dossier, *standards: StandardUse) -> Dossier:
    clause = ClauseRef(map="iso-10555-1", clause="tensile")
    link = MapLink(design_input="DI-001", protocol="VP-01", clauses=(clause,))
    mapped = found.project.requirements_map.model_copy(update={"standards": standards, "links": (link,)})
    return replace(found, project=found.project.model_copy(update={"requirements_map": mapped}))


def form_of(found: Dossier) -> Document:
    form = declaration_form(found)
    assert form is not None
    return form


def table_of(form: Document, anchor: str) -> Table:
    (table,) = [one for one in form.blocks if isinstance(one, Table) and one.anchor == anchor]
    return table


def texts(table: Table) -> list[list[str]]:
    return [["".join(run.text for run in cell.runs) for cell in row] for row in table.rows]


def test_no_form_where_nothing_is_to_be_declared(tmp_path: Path) -> None:
    general = DECLARED.model_copy(update={"use": "general"})
    assert declaration_form(with_standards(dossier(tmp_path, evaluation()))) is None
    assert declaration_form(with_standards(dossier(tmp_path, evaluation()), general)) is None


def test_the_form_has_every_element_and_leaves_statement_and_signature_blank(tmp_path: Path) -> None:
    form = form_of(with_standards(dossier(tmp_path, evaluation()), DECLARED))
    for anchor, names in ELEMENTS.items():
        assert tuple(row[0] for row in texts(table_of(form, anchor))) == names
    assert all(not row[1].strip() for row in texts(table_of(form, "tbl-signature")))
    (cover,) = [block for block in form.blocks if isinstance(block, Cover)]
    assert cover.approvals == ()
    assert texts(table_of(form, "tbl-declared")) == [
        [
            "ISO\u00a010555-1:2023",
            "0-000 (invented)",
            "to be filled in",
            "to be filled in",
            "tensile",
            "each joint on its own",
        ]
    ]


def test_the_tests_behind_it_stand_there_with_bound_verdicts(tmp_path: Path) -> None:
    form = form_of(with_standards(dossier(tmp_path, evaluation()), DECLARED))
    table = table_of(form, "tbl-behind")
    assert any("DI-001" in row and any(Verdict.MET.value in text for text in row) for row in texts(table))
    keys = {run.key for row in table.rows for cell in row for run in cell.runs if run.key}
    assert "DI-001/verdict" in keys
    assert keys <= {entry.key for entry in form.bound}


@pytest.mark.parametrize(("severity", "draft"), [(Severity.BLOCKER, True), (Severity.MAJOR, False)])
def test_what_stands_in_the_way_is_told_and_a_blocker_makes_a_draft(
    tmp_path: Path, severity: Severity, draft: bool
) -> None:
    ours = Finding(
        rule="deviation-excludes-declaration",
        severity=severity,
        records=("ISO 10555-1",),
        place=None,
        message="A deviation is on record.",
        remedy="Use it in general.",
    )
    other = replace(ours, records=("ISO 25539-2",), message="Something else.")
    form = form_of(with_standards(dossier(tmp_path, evaluation(), findings=(ours, other)), DECLARED))
    text = as_text(form)
    assert "A deviation is on record. To mend: Use it in general." in text
    assert "Something else." not in text
    assert form.draft is draft


def test_documents_elsewhere_and_clauses_left_open_are_told(tmp_path: Path) -> None:
    found = with_standards(dossier(tmp_path, evaluation()), DECLARED)
    clause = ClauseRef(map="iso-10555-1", clause="leak")
    document = ClauseEvidence(clause=clause, document="Report FA-1 (invented)", location="section 4")
    mapped = found.project.requirements_map.model_copy(update={"evidence_elsewhere": (document,)})
    open_one = ClauseCoverage(
        map="iso-10555-1",
        clause="tensile",
        topic="Tensile force",
        status=CoverageStatus.NOT_ADDRESSED,
        evidence=(),
        sentence="Nothing answers it.",
    )
    other = replace(open_one, map="iso-25539-2", sentence="Another standard.")
    found = replace(
        found,
        project=found.project.model_copy(update={"requirements_map": mapped}),
        audit=replace(found.audit, coverage=(open_one, other)),
    )
    text = as_text(form_of(found))
    assert "(leak): Report FA-1 (invented), section 4." in text
    assert "1 open matter about" in text
    assert "ISO 10555-1:2023 (tensile), not addressed: Nothing answers it." in text
    assert "Another standard." not in text


def test_the_package_holds_the_form_and_the_section_points_to_it(tmp_path: Path) -> None:
    templates = read_templates(shipped_folder("templates"))
    found = dossier(tmp_path, evaluation())
    for standards, names in (((DECLARED,), ["declaration_form.docx"]), ((), [])):
        documents = compose_documents(with_standards(found, *standards), templates)
        assert [one.file_name for one in documents if "declaration" in one.file_name] == names
        assert ("declaration_form.docx" in as_text(documents[0])) is bool(names)
