"""From columns of texts to the long table of measurements: ids resolved, blanks filled from the registers, values read.

All files together, column by column. What is wrong is told once per file and text, at the first row where it stands.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np
import pandas as pd

from reportgen.lab.cells import NO, YES, iso_dates
from reportgen.lab.records import COLUMNS, Guess
from reportgen.lab.rows import Block, Rows
from reportgen.lab.values import read_values
from reportgen.problems import Place, Problem, did_you_mean_or_add
from reportgen.project.records import Method, Project


def measurements_of(project: Project, blocks: list[Block]) -> tuple[pd.DataFrame, list[Guess], list[Problem]]:
    """The long table of all blocks, with what was guessed and what is wrong."""
    rows = Rows(blocks)
    missing = (rows.frame["specimen"] == "").to_numpy()
    rows.tell(missing, "specimen", _no_specimen)
    _settle_lots(project, rows)
    _settle_registers(project, rows)
    _settle_dates(rows)
    table = read_values(project, rows)
    return table[list(COLUMNS)], rows.guesses, rows.problems


def _no_specimen(_block: Block, _text: str) -> tuple[str, str, str]:
    return ("a filled row without a specimen id", "the id of the specimen", "fill it in, or clear the row")


# ------------------------------------------------------------------------------------- lot, condition, model


def _settle_lots(project: Project, rows: Rows) -> None:
    """Lot, condition and model of each row, from the file or, where it is silent, from plan and register."""
    registered = {(lot.lot, lot.condition): lot.model for lot in project.lots}
    lots = sorted({lot.lot for lot in project.lots})
    codes, first = rows.alike("lot", "condition", "model")
    distinct = rows.frame[["lot", "condition", "model"]].take(first)
    settled = np.full((len(first), 3), "", dtype=object)
    no_lot, no_condition = np.zeros(len(first), dtype=bool), np.zeros(len(first), dtype=bool)
    for i, (filed_lot, filed_condition, model) in enumerate(distinct.itertuples(index=False, name=None)):
        block = rows.blocks[rows.block[first[i]]]
        lot = filed_lot or _only_planned_lot(block, rows)
        condition = filed_condition or _only_condition(block, lot, registered)
        no_lot[i] = lot not in lots
        no_condition[i] = lot in lots and (lot, condition) not in registered
        settled[i] = (lot, condition, model or registered.get((lot, condition), ""))
    rows.tell(no_lot[codes], "lot", lambda _, text: _unknown("lot", text, lots, "lots.csv"))
    rows.tell(no_condition[codes], "condition", lambda _, text: _no_condition(text, registered))
    for j, name in enumerate(("lot", "condition", "model")):
        rows.put(name, settled[:, j], codes)


def _only_planned_lot(block: Block, rows: Rows) -> str:
    planned = {group.lot for group in block.protocol.sampling.groups}
    if len(planned) != 1 or "lot" in block.texts:
        return ""
    (lot,) = planned
    rows.guesses.append(Guess(Place(block.grid.file), f"lot {lot!r} taken for all rows, the only lot planned"))
    return lot


def _only_condition(block: Block, lot: str, registered: Mapping[tuple[str, str], str]) -> str:
    """The condition of a lot when the register knows one only, or the protocol plans one only."""
    in_register = {condition for known, condition in registered if known == lot}
    planned = {group.condition for group in block.protocol.sampling.groups if group.lot == lot}
    for conditions in (in_register, planned):
        if len(conditions) == 1:
            return next(iter(conditions))
    return ""


def _unknown(kind: str, text: str, known: list[str], register: str) -> tuple[str, str, str]:
    if not text:
        return (f"no {kind}", f"the {kind} of every specimen", f"fill in the column '{kind}'")
    return (f"the {kind} {text!r}", f"one that stands in {register}", did_you_mean_or_add(text, known, to=register))


def _no_condition(text: str, registered: Mapping[tuple[str, str], str]) -> tuple[str, str, str]:
    known = sorted({condition for _, condition in registered})
    if not text:
        return (
            "no condition, for a lot that is tested in more than one",
            "the condition of every specimen",
            f"fill in the column 'condition' with one of: {', '.join(known)}",
        )
    mend = did_you_mean_or_add(text, known, to="lots.csv, in a row for this lot,")
    return (f"the condition {text!r}", "a condition in which lots.csv knows this lot", mend)


# ------------------------------------------------------------------------- equipment, failure modes, yes and no


def _settle_registers(project: Project, rows: Rows) -> None:
    known = [item.id for item in project.equipment]
    ids = {
        text: [part.strip() for part in re.split(r"[;,\n]", text) if part.strip()]
        for text in _distinct(rows, "equipment")
    }
    wrong = {text for text, parts in ids.items() if not set(parts) <= set(known)}
    rows.tell(
        rows.frame["equipment"].isin(wrong).to_numpy(),
        "equipment",
        lambda _, text: _unknown("equipment", next(p for p in ids[text] if p not in known), known, "equipment.csv"),
    )
    rows.replace("equipment", {text: ";".join(parts) for text, parts in ids.items()})
    answers = {text: text.casefold() for text in _distinct(rows, "excluded")}
    unclear = {text for text, word in answers.items() if word not in YES | NO}
    rows.tell(rows.frame["excluded"].isin(unclear).to_numpy(), "excluded", _neither_yes_nor_no)
    rows.replace("excluded", {text: "yes" if word in YES else "" for text, word in answers.items()})
    _settle_failure_modes(project, rows)


def _neither_yes_nor_no(_block: Block, text: str) -> tuple[str, str, str]:
    return (repr(text), "'yes', 'no' or a blank cell", "write 'yes' for a specimen set aside, and its cause beside it")


def _settle_failure_modes(project: Project, rows: Rows) -> None:
    """Failure modes as the codes of the method's register. Where the method keeps none, the text stays as it is."""
    names = {method.id: _codes_by_name(method) for method in project.methods}
    codes, first = rows.alike("failure_mode")
    settled = rows.frame["failure_mode"].to_numpy(dtype=object)[first]
    wrong = np.zeros(len(first), dtype=bool)
    for i, text in enumerate(settled):
        known = names[rows.blocks[rows.block[first[i]]].protocol.method]
        if known:
            settled[i] = known.get(text.casefold(), text)
            wrong[i] = text.casefold() not in known
    rows.tell(wrong[codes], "failure_mode", lambda block, text: _unknown_mode(project, block, text))
    rows.put("failure_mode", settled, codes)


def _codes_by_name(method: Method) -> dict[str, str]:
    """The codes by what a file may call them; nothing where the method keeps no register."""
    modes = method.failure_modes
    if not modes:
        return {}
    names = {mode.description.casefold(): mode.code for mode in modes}
    return names | {mode.code.casefold(): mode.code for mode in modes} | {"": ""}


def _unknown_mode(project: Project, block: Block, text: str) -> tuple[str, str, str]:
    method = project.method(block.protocol.method)
    known = [mode.code for mode in method.failure_modes]
    register = f"failure_modes of method {method.id}"
    return (f"the failure mode {text!r}", f"a code from {register}", did_you_mean_or_add(text, known, to=register))


def _distinct(rows: Rows, column: str) -> list[str]:
    return [str(text) for text in rows.frame[column].unique()]


# ------------------------------------------------------------------------------------------------------ dates


def _settle_dates(rows: Rows) -> None:
    codes, first = rows.alike("tested_on")
    settled = rows.frame["tested_on"].to_numpy(dtype=object)[first]
    wrong = np.zeros(len(first), dtype=bool)
    why: dict[tuple[str, str], str] = {}
    of_block: dict[int, list[int]] = {}
    for i, index in enumerate(rows.block[first].tolist()):
        of_block.setdefault(index, []).append(i)
    for index, own in of_block.items():
        block = rows.blocks[index]
        known, unreadable, guess = iso_dates(sorted(settled[i] for i in own))
        for i in own:
            wrong[i] = settled[i] in unreadable
            settled[i] = known.get(settled[i], "")
        why.update({(block.grid.file + block.grid.sheet, text): reason for text, reason in unreadable.items()})
        if guess is not None:
            rows.guesses.append(Guess(block.place(block.numbers[0], "tested_on"), guess))

    def problem(block: Block, text: str) -> tuple[str, str, str]:
        reason = why[block.grid.file + block.grid.sheet, text]
        return (f"{text!r}: {reason}", "a date such as 2026-03-31", "write year-month-day")

    rows.tell(wrong[codes], "tested_on", problem)
    rows.put("tested_on", settled, codes)
