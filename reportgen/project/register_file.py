"""A register written back: the same columns, separator and line ends; rows that did not change keep their texts."""

from __future__ import annotations

import codecs
import csv
import io

from reportgen.problems import Place, Problem
from reportgen.project.faults import file_fields
from reportgen.project.import_mapping import REGISTERS
from reportgen.project.import_merge import Merged
from reportgen.project.texts import decode


def register_csv(one: Merged, before: bytes | None, *, anew: bool) -> bytes | Problem:
    """The register as CSV. `before` is the file as it stands, None when there is none; `anew` leaves that file alone.

    A workbook is not rewritten: what people laid out in it would be lost.
    """
    is_workbook = one.table is not None and not one.table.file.endswith(".csv")
    if is_workbook and not anew and one.table is not None:
        return Problem(
            place=Place(one.table.file),
            found="a register kept as a workbook",
            expected="a register in CSV, which can be written without losing a layout",
            mend="write the new registers elsewhere with --out and copy the rows over, or save the register as CSV",
        )
    delimiter, ends, mark = _manner(None if is_workbook else before)
    used = {name for row in one.rows for name in row.cells}
    columns = list(one.table.headings) if one.table is not None else []
    for name in file_fields(REGISTERS[one.register]):
        required = one.table is None and REGISTERS[one.register].model_fields[name].is_required()
        if name not in columns and (name in used or required):
            columns.append(name)
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator=ends)
    writer.writerow(columns)
    writer.writerows([row.cells.get(name, "") for name in columns] for row in one.rows)
    return mark + text.getvalue().encode("utf-8")


def _manner(before: bytes | None) -> tuple[str, str, bytes]:
    """Separator, line end and byte order mark of the file as it stands."""
    text = decode(before, file="") if before else ""
    if not before or isinstance(text, Problem):
        return ",", "\n", b""
    heading = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max((",", ";", "\t"), key=heading.count)
    mark = codecs.BOM_UTF8 if before.startswith(codecs.BOM_UTF8) else b""
    return delimiter, "\r\n" if "\r\n" in text else "\n", mark
