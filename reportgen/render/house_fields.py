"""Fields of a company's template that show a property of the file: what they show is ours from the start.

Word processors bring such fields up to date when they print, some never do. Page numbers and all other fields are left
to them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reportgen.render.word_fields import run_xml
from reportgen.render.word_parts import parsed
from reportgen.render.word_styles import NAMESPACES, WORD

_W = f"{{{WORD}}}"
_SHOWN = {
    "title": "document/title",
    "subject": "document/subject",
    "author": "document/author",
    "company": "document/company",
}


def fill_fields(root: Any, texts: Mapping[str, str]) -> None:
    """Put what each field stands for into its result. `texts` go by key."""
    for simple in root.iter(f"{_W}fldSimple"):
        _show(simple.get(f"{_W}instr", ""), list(simple.iter(f"{_W}r")), texts)
    for paragraph in root.iter(f"{_W}p"):
        _fill_paragraph(paragraph, texts)


def _fill_paragraph(paragraph: Any, texts: Mapping[str, str]) -> None:
    depth, instruction, in_result = 0, "", False
    results: list[Any] = []
    for run in list(paragraph.iter(f"{_W}r")):
        mark = run.find(f"{_W}fldChar")
        kind = "" if mark is None else mark.get(f"{_W}fldCharType", "")
        if kind == "begin":
            depth += 1
            if depth == 1:
                instruction, results, in_result = "", [], False
        elif kind == "separate":
            in_result = in_result or depth == 1
        elif kind == "end":
            if depth == 1:
                _show(instruction, results, texts)
            depth -= 1
        elif depth == 1 and in_result:
            results.append(run)
        elif depth == 1:
            instruction += "".join(node.text or "" for node in run.iter(f"{_W}instrText"))


def _show(instruction: str, results: list[Any], texts: Mapping[str, str]) -> None:
    """The text in the first run that shows some; the field keeps its looks."""
    key = _key(instruction)
    carrier = next((run for run in results if run.find(f"{_W}t") is not None), None)
    if carrier is None or key not in texts:
        return
    shown = parsed(f"<x {NAMESPACES}>{run_xml(texts[key])}</x>".encode())[0]
    for child in [child for child in carrier if child.tag != f"{_W}rPr"]:
        carrier.remove(child)
    carrier.extend(list(shown))
    for run in results:
        if run is not carrier:
            run.getparent().remove(run)


def _key(instruction: str) -> str:
    """'document/title' for TITLE and for DOCPROPERTY Title; '' for fields that show something else."""
    words = instruction.replace('"', " ").split()
    if len(words) > 1 and words[0].upper() == "DOCPROPERTY":
        words = words[1:]
    elif words and words[0].upper() == "COMPANY":
        return ""  # there is no such field, only the property
    return _SHOWN.get(words[0].lower(), "") if words else ""
