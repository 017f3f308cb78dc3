"""Edited documents against the data: which bound values still agree, and bringing them up to date."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from reportgen import workflow
from reportgen.compose.dossier import dossier_of
from reportgen.compose.package import compose_documents
from reportgen.compose.records import BuildFacts, DataTable, Document, Figure, Table, control_tag
from reportgen.package.edited_word import ABOUT_DOCUMENT, WordFile, names, read_word, tags, word_of
from reportgen.package.manifest import MANIFEST, read_manifest
from reportgen.package.reconcile import BoundValueCheck, Expected, asked_of, expected_of, reconcile
from reportgen.package.refresh import refresh
from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.project.templates import read_templates
from reportgen.render.deliver import write_file
from reportgen.render.word import word_bytes

__all__ = ["BoundValueCheck", "Reconciled", "reconcile_document", "refresh_document"]


@dataclass(frozen=True, slots=True)
class Reconciled:
    """The checks of one document in the order of the data; of a refreshed one also what was replaced in it."""

    file_name: str
    checks: tuple[BoundValueCheck, ...]
    replaced: tuple[BoundValueCheck, ...] = ()

    @property
    def all_agree(self) -> bool:
        return all(check.standing == "agrees" for check in self.checks)

    @property
    def data(self) -> dict[str, object]:
        return {
            "document": self.file_name,
            "values": [asdict(check) for check in self.checks],
            "replaced": [asdict(check) for check in self.replaced],
        }


def reconcile_document(docx: Path, *, project: Path | None, package: Path | None, date: str) -> Reconciled:
    """Raises: UnreadableInput for a file that is no Word document, or where nothing says which data it is about."""
    edited = read_word(docx)
    facts = _facts_of_package(docx, package)
    document, fresh, texts = _fresh(edited, _project(docx, project), date=date, house=docx.read_bytes())
    earlier = _printed_before(facts, document.file_name)
    expected = _expected(edited, document, fresh, texts)
    return Reconciled(document.file_name, reconcile(edited, expected, earlier=earlier))


def refresh_document(docx: Path, target: Path, *, project: Path | None, date: str) -> Reconciled:
    """Writes the document with its bound values brought up to date, and gives the checks of what was written.

    Raises: UnreadableInput as `reconcile_document`; also when `target` exists and is not the document itself.
    """
    if target.exists() and target.resolve() != docx.resolve():
        raise UnreadableInput(
            [
                Problem(
                    place=Place(str(target)),
                    found="a file of that name",
                    expected="a new name: somebody's edits must not be lost",
                    mend="name another file, or move this one away",
                )
            ]
        )
    edited = read_word(docx)
    document, fresh, texts = _fresh(edited, _project(docx, project), date=date, house=docx.read_bytes())
    expected = _expected(edited, document, fresh, texts)
    # what stood there is told: a sentence that somebody reworded must not be lost without a word
    earlier = _printed_before(_facts_of_package(docx, None), document.file_name)
    replaced = _unlike(reconcile(edited, expected, earlier=earlier))
    content = refresh(edited, fresh, expected)
    checks = reconcile(word_of(content), expected, earlier={})
    left = _unlike(checks)
    if left:
        raise ValueError(f"the refreshed document still differs from the data at {left[0].key!r}")
    write_file(target, content)
    return Reconciled(document.file_name, checks, replaced)


def _unlike(checks: tuple[BoundValueCheck, ...]) -> tuple[BoundValueCheck, ...]:
    """Those whose text in the document is not what the data say."""
    return tuple(check for check in checks if check.standing in {"differs", "typed over"})


def _project(docx: Path, project: Path | None) -> Path:
    """The project given, else the folder above the document, or here, that holds a project.yaml."""
    if project is not None:
        return project
    here = Path.cwd()
    for folder in (*docx.resolve().parents, here):
        if (folder / "project.yaml").is_file():
            return folder
    raise UnreadableInput(
        [
            Problem(
                place=Place(str(docx)),
                found="no project above this document, nor here",
                expected="the project folder whose data the document shows",
                mend="add --project DIR",
            )
        ]
    )


def _facts_of_package(docx: Path, package: Path | None) -> Mapping[str, object]:
    """What the manifest of the package given says, else of the one around the document; nothing where there is none."""
    folders = [package] if package is not None else [docx.resolve().parent, docx.resolve().parent.parent]
    for folder in folders:
        if package is not None or (folder / MANIFEST).is_file():
            return read_manifest(folder).facts
    return {}


def _printed_before(facts: Mapping[str, object], file_name: str) -> dict[str, str]:
    """Values and sentences as printed when the package was built, by key."""
    values, sentences = facts.get("values"), facts.get("sentences")
    told = sentences.get(file_name) if isinstance(sentences, Mapping) else None
    found = {str(key): str(text) for key, text in told.items()} if isinstance(told, Mapping) else {}
    if isinstance(values, Mapping):
        found |= {str(key): str(one.get("text", "")) for key, one in values.items() if isinstance(one, Mapping)}
    return found


def _fresh(edited: WordFile, project: Path, *, date: str, house: bytes) -> tuple[Document, WordFile, Mapping[str, str]]:
    """The document of the present data that shares most keys with the edited one, and what all documents say by tag:
    people copy from one document into another.

    `house` is the edited file itself, so that what is drawn anew wears its styles and fits its page, whatever template
    it was built with and whatever people changed since.
    """
    analysis = workflow.analyse(project)
    dossier = dossier_of(
        analysis.project,
        analysis.reading,
        analysis.results,
        analysis.audit,
        facts=BuildFacts(version=workflow.version(), date=date, tool_versions=workflow.tool_versions()),
    )
    documents = compose_documents(dossier, read_templates(project))
    there = names(edited)
    drawn = [
        (document, word_of(word_bytes(document, house=house, keeps_text=False)))
        for document in _candidates(documents, there)
    ]
    document, fresh = max(drawn, key=lambda pair: len(there & names(pair[1])))
    if not there & names(fresh) and not tags(edited) & document.texts_by_tag().keys():
        raise UnreadableInput(
            [
                Problem(
                    place=Place("the document"),
                    found="no bound value of this project",
                    expected="a document that `build` wrote from this project",
                    mend="name the right document or the right project",
                )
            ]
        )
    texts: dict[str, str] = {}
    for other in documents:
        texts |= {tag: text for tag, text in other.texts_by_tag().items() if not tag.startswith(ABOUT_DOCUMENT)}
    return document, fresh, texts | document.texts_by_tag()


def _candidates(documents: tuple[Document, ...], there: set[str]) -> list[Document]:
    """The documents worth drawing: those that share a tag with the edited one; all where no tag survived."""
    sharing = {document.file_name: len(there & set(_keys_by_tag(document))) for document in documents}
    most = max(sharing.values())
    if most == 0:
        return list(documents)
    return [document for document in documents if sharing[document.file_name] * 2 >= most]


def _expected(edited: WordFile, document: Document, fresh: WordFile, texts: Mapping[str, str]) -> dict[str, Expected]:
    known = expected_of(fresh, _keys_by_tag(document))
    return known | asked_of(edited, texts, known)


def _keys_by_tag(document: Document) -> dict[str, str]:
    """Tag to key of every value, table and figure of a document."""
    blocks = [block.key for block in document.blocks if isinstance(block, Table | DataTable | Figure) and block.key]
    return {control_tag(key): key for key in (*(entry.key for entry in document.bound), *blocks)}
