"""The documents of the good project, word for word. After an intended change: python -m tests.compose.test_golden"""

from __future__ import annotations

import difflib
import tempfile
from pathlib import Path

from reportgen.acceptance.evaluate import evaluate
from reportgen.compose.dossier import Dossier, dossier_of
from reportgen.compose.package import compose_documents
from reportgen.lab.read import read_lab
from reportgen.project.read import read_project
from reportgen.project.templates import read_templates
from reportgen.trace.audit import audit
from tests.compose.hand_made import FACTS
from tests.compose.plain_text import as_text
from tests.good_project import write_good_project

GOLDEN = Path(__file__).resolve().parent.parent / "golden"


def good_dossier(folder: Path) -> Dossier:
    project = read_project(write_good_project(folder))
    reading = read_lab(project)
    results = evaluate(project, reading.measurements)
    return dossier_of(project, reading, results, audit(project, reading, results), facts=FACTS)


def golden_texts(folder: Path) -> dict[str, str]:
    documents = compose_documents(good_dossier(folder), read_templates(folder))
    return {Path(document.file_name).with_suffix(".txt").name: as_text(document) for document in documents}


def test_documents_of_the_good_project(tmp_path: Path) -> None:
    texts = golden_texts(tmp_path)
    kept = {path.name: path.read_text(encoding="utf-8") for path in GOLDEN.glob("*.txt")}
    assert sorted(texts) == ["VP-01.txt", "VP-02.txt", "bench_testing_section.txt"]
    assert sorted(kept) == sorted(texts)
    for name, text in texts.items():
        difference = difflib.unified_diff(kept[name].splitlines(), text.splitlines(), "kept", "composed", lineterm="")
        assert not (told := "\n".join(difference)), f"{name}:\n{told}"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        for file, content in golden_texts(Path(scratch)).items():
            (GOLDEN / file).write_text(content, encoding="utf-8", newline="\n")
