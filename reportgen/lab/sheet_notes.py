"""The two sheets beside the data: what to do, and the lists to choose from."""

from __future__ import annotations

from collections.abc import Sequence

import xlsxwriter

from reportgen.lab.sheet_style import Style
from reportgen.project.records import Project, Protocol

_OPERATORS = 15
_STEPS = (
    "Test the specimens in the order of the rows on the sheet Data. If the order was changed, say so under Note.",
    "Replace the proposed specimen ids by those on the devices, if they carry their own. Ids are texts: 007 stays 007.",
    "Write each value as read, in the unit of its heading. Leave a cell blank until it is measured; a blank counts as "
    "not tested, never as zero.",
    "Choose how the specimen ended under Failure mode. The codes are listed below.",
    "Set a specimen aside (Excluded: yes) only for a cause found in the test itself, and write the cause beside it. "
    "A value outside its limit is no cause. Never delete a row.",
    "Fill in date, operator and equipment for every specimen. Correct Method revision if another one was followed, and "
    "tell design assurance.",
    "Save the file as .xlsx and name it under 'results' of the protocol. It is read as it is.",
)


def write_lists(
    sheet: xlsxwriter.worksheet.Worksheet, style: Style, project: Project, protocol: Protocol
) -> dict[str, str]:
    """Writes the lists to choose from and returns, by column name, where each one stands."""
    method = project.method(protocol.method)
    together = [";".join(method.equipment)] if len(method.equipment) > 1 else []
    lists: dict[str, Sequence[str]] = {
        "failure_mode": [mode.code for mode in method.failure_modes],
        "equipment": [*together, *method.equipment],
        "excluded": ["yes", "no"],
        "operator": [""] * _OPERATORS,
    }
    ranges = {}
    for j, (name, entries) in enumerate(lists.items()):
        sheet.write_string(0, j, f"List: {name.replace('_', ' ')}", style.heading)
        sheet.set_column(j, j, 26)
        for i, entry in enumerate(entries, start=1):
            if entry:
                sheet.write_string(i, j, entry, style.table)
            else:
                sheet.write_blank(i, j, None, style.input)
        if entries:
            letter = xlsxwriter.utility.xl_col_to_name(j)
            ranges[name] = f"=Lists!${letter}$2:${letter}${len(entries) + 1}"
    sheet.set_row(0, 22)
    sheet.freeze_panes(1, 0)
    sheet.protect("", {"format_columns": True})
    return ranges


def write_instructions(
    sheet: xlsxwriter.worksheet.Worksheet,
    style: Style,
    project: Project,
    protocol: Protocol,
    *,
    n_specimens: int,
    seed: int,
    date: str,
) -> None:
    """Writes what the sheet is for, what to do, the failure modes, and how the order came about."""
    sheet.hide_gridlines(2)
    sheet.set_column(0, 0, 32)
    sheet.set_column(1, 1, 62)
    sheet.set_column(2, 2, 40)
    sheet.write_string(0, 0, f"{protocol.id} data collection", style.title)
    sheet.set_row(0, 26)
    sheet.write_string(1, 0, protocol.title, style.subtitle)
    row = _facts(sheet, style, 3, _facts_of(project, protocol, n_specimens=n_specimens, seed=seed, date=date))
    row = _section(sheet, style, row + 1, "What to do")
    for number, step in enumerate(_STEPS, start=1):
        sheet.write_string(row, 0, f"Step {number}", style.label)
        sheet.merge_range(row, 1, row, 2, "", style.text)
        sheet.write_string(row, 1, step, style.text)
        sheet.set_row(row, 15 * (1 + len(step) // 104))
        row += 1
    _failure_modes(sheet, style, row + 1, project, protocol)
    sheet.protect("", {"format_columns": True, "format_rows": True})
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)


def _facts_of(project: Project, protocol: Protocol, *, n_specimens: int, seed: int, date: str) -> list[tuple[str, str]]:
    method = project.method(protocol.method)
    groups = ", ".join(f"{group.n} of lot {group.lot} ({group.condition})" for group in protocol.sampling.groups)
    facts = [
        ("Device", project.settings.device.name),
        ("Protocol", f"{protocol.id}, revision {protocol.revision}"),
        ("Method", f"{method.id}, revision {protocol.method_revision}: {method.title}"),
        ("Planned", f"{n_specimens} specimens: {groups}"),
        ("Issued on", date),
        ("Order of the rows", f"by the SHA-256 of the seed and the specimen id; seed {seed}"),
    ]
    if protocol.traces is not None:
        record = project.design_input(protocol.traces.design_input)
        facts.append((f"Records ({record.characteristic})", f"save each as {protocol.traces.files}"))
    return facts


def _facts(sheet: xlsxwriter.worksheet.Worksheet, style: Style, row: int, facts: Sequence[tuple[str, str]]) -> int:
    for label, text in facts:
        sheet.write_string(row, 0, label, style.label)
        sheet.merge_range(row, 1, row, 2, "", style.text)
        sheet.write_string(row, 1, text, style.text)
        sheet.set_row(row, 15 * (1 + len(text) // 104))
        row += 1
    return row


def _section(sheet: xlsxwriter.worksheet.Worksheet, style: Style, row: int, title: str) -> int:
    for j in range(3):
        sheet.write_blank(row, j, None, style.section)
    sheet.write_string(row, 0, title, style.section)
    sheet.set_row(row, 20)
    return row + 1


def _failure_modes(
    sheet: xlsxwriter.worksheet.Worksheet, style: Style, row: int, project: Project, protocol: Protocol
) -> None:
    modes = project.method(protocol.method).failure_modes
    row = _section(sheet, style, row, "Failure modes")
    if not modes:
        sheet.write_string(row, 0, "The method keeps no register of failure modes: describe the ending.", style.text)
        return
    for j, title in enumerate(("Code", "What it means", "What it does")):
        sheet.write_string(row, j, title, style.heading)
    for mode in modes:
        row += 1
        effects = []
        if not mode.valid:
            effects.append("no valid outcome: set aside with its cause")
        if mode.censored:
            effects.append("the value is a lower bound")
        if mode.conforming is not None:
            effects.append("conforming" if mode.conforming else "not conforming")
        for j, text in enumerate((mode.code, mode.description, "; ".join(effects) or "a valid outcome")):
            sheet.write_string(row, j, text, style.table)
        sheet.set_row(row, 15 * (1 + max(len(mode.description) // 62, len("; ".join(effects)) // 40)))
