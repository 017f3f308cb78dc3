"""The readings themselves: number, censored, missing or conforming, for every row and characteristic."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from reportgen.lab.cells import FAIL, PASS, converted, decimal_texts, needs_conversion, numbers
from reportgen.lab.conventions import checked_unit
from reportgen.lab.headings import plain
from reportgen.lab.records import Guess
from reportgen.lab.rows import ROW_COLUMNS, Block, Rows, alike, also, repeated, trimmed
from reportgen.problems import Problem, did_you_mean, near_name
from reportgen.project.records import DesignInput, FailureMode, Kind, Layout, Project
from reportgen.quantities import convert, same_kind, to_si

_SIDES = ("", "above", "below")  # an exact value; the true one is at least, or at most, what is written
_NUMBER_IN_TEXT = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?")


def read_values(project: Project, rows: Rows) -> pd.DataFrame:
    """One row for each file row and characteristic, with all columns of a table of measurements."""
    readings = [*_wide_readings(rows), *_long_readings(rows)]
    if any(block.protocol.traces is not None for block in rows.blocks):
        readings += _trace_readings(rows, {(rows.blocks[r.block].protocol.id, r.design_input) for r in readings})
    readings.sort(key=lambda reading: int(reading.positions[0]) if reading.positions.size else 0)
    table = _Table(project, rows, readings)
    table.read()
    return table.assembled()


@dataclass(frozen=True, slots=True, eq=False)
class _Reading:
    """The cells of one characteristic in one file: `positions` are rows of the frame of file rows."""

    block: int
    design_input: str
    unit: str
    positions: np.ndarray
    texts: pa.Array
    heading: str


def _wide_readings(rows: Rows) -> list[_Reading]:
    return [
        _Reading(
            index,
            column.design_input,
            column.unit,
            np.arange(rows.starts[index], rows.starts[index + 1]),
            cells,
            column.heading,
        )
        for index, block in enumerate(rows.blocks)
        if not block.long
        for column, cells in block.values
    ]


def _long_readings(rows: Rows) -> list[_Reading]:
    found = []
    for index, block in enumerate(rows.blocks):
        if not block.long:
            continue
        start = int(rows.starts[index])
        names = [text.strip() for text in block.column("characteristic").to_pylist()]
        units = [text.strip() for text in block.column("unit").to_pylist()]
        cells = block.column("value")
        for positions in alike(np.array(names, dtype=object), np.array(units, dtype=object)):
            name, filed_unit = names[positions[0]], units[positions[0]]
            design_input = block.vocabulary.design_input(name)
            row = block.numbers[int(positions[0])]
            if design_input is None:
                _unknown_characteristic(rows, block, name, row)
                continue
            record = block.vocabulary.design_inputs[design_input]
            unit = _long_unit(rows, block, record, filed_unit, row)
            if unit is not None:
                texts = cells.take(pa.array(positions))
                found.append(_Reading(index, design_input, unit, positions + start, texts, "value"))
    return found


def _trace_readings(rows: Rows, answered: set[tuple[str, str]]) -> Iterator[_Reading]:
    """A blank cell for each specimen of a protocol whose values come from traces only: the record fills it."""
    seen: dict[str, set[tuple[str, str, str]]] = {}
    keys = list(zip(*(rows.frame[name].tolist() for name in ("specimen", "lot", "condition")), strict=True))
    for index, block in enumerate(rows.blocks):
        traces = block.protocol.traces
        if traces is None or (block.protocol.id, traces.design_input) in answered:
            continue
        known = seen.setdefault(block.protocol.id, set())
        new = [i for i in range(int(rows.starts[index]), int(rows.starts[index + 1])) if keys[i] not in known]
        positions = list({keys[i]: i for i in reversed(new)}.values())[::-1]
        known.update(keys[i] for i in positions)
        unit = block.vocabulary.design_inputs[traces.design_input].unit or ""
        blank = pa.repeat("", len(positions))
        yield _Reading(index, traces.design_input, unit, np.array(positions, dtype=int), blank, "")


def _unknown_characteristic(rows: Rows, block: Block, name: str, row: int) -> None:
    known = list(block.vocabulary.characteristics)
    place = block.place(row, "characteristic")
    if name and near_name(name, known) is None:
        rows.guesses.append(Guess(place, f"rows of {name!r} not used: {block.protocol.id} does not verify it"))
        return
    rows.problems.append(
        Problem(
            place=place,
            found=f"the characteristic {name!r}" if name else "a row without a characteristic",
            expected="a characteristic that the protocol verifies",
            mend=did_you_mean(name, known),
        )
    )


def _long_unit(rows: Rows, block: Block, record: DesignInput, filed: str, row: int) -> str | None:
    if record.kind is Kind.ATTRIBUTE:
        return ""
    declared = {block.vocabulary.design_input(name): text for name, text in block.layout.units.items()}
    text = declared.get(record.id) or filed or block.long_unit or block.layout.units.get("value")
    place = block.place(row, "unit")
    outcome = checked_unit(text, wanted=record.unit or "", place=place, characteristic=record.characteristic)
    if isinstance(outcome, Problem):
        rows.problems.append(outcome)
        return None
    return outcome


class _Table:
    """The rows of all readings, and one design input after another read into them."""

    def __init__(self, project: Project, rows: Rows, readings: list[_Reading]) -> None:
        self.project, self.rows, self.readings = project, rows, readings
        sizes = [len(reading.texts) for reading in readings]
        self.starts = np.concatenate(([0], np.cumsum(sizes, dtype=int)))
        self.reading = np.repeat(np.arange(len(readings)), sizes)
        self.positions = np.concatenate([np.zeros(0, dtype=int), *(reading.positions for reading in readings)])
        self.texts = trimmed(reading.texts for reading in readings)
        n = len(self.positions)
        self.value, self.value_si, self.conforming = (np.full(n, np.nan) for _ in range(3))
        self.censored = np.zeros(n, dtype=np.int8)  # positions in _SIDES
        self.missing = np.zeros(n, dtype=bool)

    def read(self) -> None:
        """All numbers at once; then, design input by design input, the texts that are none."""
        of_reading = [self.project.design_input(reading.design_input) for reading in self.readings]
        is_attribute = np.array([record.kind is Kind.ATTRIBUTE for record in of_reading], dtype=bool)[self.reading]
        self._read_numbers(of_reading, np.flatnonzero(~is_attribute))
        is_open = is_attribute | (np.isnan(self.value) & ~self.missing)
        turn = {record.id: at for at, record in enumerate(self.project.design_inputs)}
        order = sorted((turn[reading.design_input], reading.unit) for reading in self.readings)
        places = {key: at for at, key in enumerate(order)}
        turns = np.array([places[turn[reading.design_input], reading.unit] for reading in self.readings], dtype=int)
        others = np.flatnonzero(is_open)
        for reading, text, where in self._grouped(others[np.argsort(turns[self.reading[others]], kind="stable")]):
            if of_reading[reading].kind is Kind.ATTRIBUTE:
                self._read_attribute(of_reading[reading], reading, text, where)
            else:
                self._read_code(of_reading[reading], self.readings[reading].unit, reading, text, where)

    def _read_numbers(self, of_reading: list[DesignInput], at: np.ndarray) -> None:
        comma = np.array([self._block(i).decimal_comma for i in range(len(self.readings))], dtype=bool)
        filed = self.texts if len(at) == len(self.reading) else self.texts.take(pa.array(at))
        texts = decimal_texts(filed, comma[self.reading[at]])
        values = numbers(texts)
        self.value[at], self.value_si[at] = values, values
        units = [(reading.unit, record.unit) for reading, record in zip(self.readings, of_reading, strict=True)]
        pairs = {pair: code for code, pair in enumerate(dict.fromkeys(units))}
        pair_of = np.array([pairs[pair] for pair in units], dtype=int)[self.reading[at]]
        for (from_unit, to_unit), code in pairs.items():
            if to_unit is None or not needs_conversion(from_unit, to_unit):
                continue
            own = np.flatnonzero(pair_of == code)
            same = converted(texts.take(pa.array(own)), values[own], from_unit=from_unit, to_unit=to_unit)
            self.value[at[own]], self.value_si[at[own]] = same
        self.missing[at] = np.isnan(values) & np.asarray(pc.equal(texts, ""))

    def _grouped(self, at: np.ndarray) -> list[tuple[int, str, np.ndarray]]:
        """Positions by reading and text: what cannot be read is looked at once, not once per cell."""
        texts = np.array(self.texts.take(pa.array(at)).to_pylist(), dtype=object)
        groups = alike(self.reading[at], texts)
        return [(int(self.reading[at[where[0]]]), str(texts[where[0]]), at[where]) for where in groups]

    def _block(self, reading: int) -> Block:
        return self.rows.blocks[self.readings[reading].block]

    def _read_code(self, record: DesignInput, unit: str, reading: int, text: str, at: np.ndarray) -> None:
        """A text that is no number: censored or missing if the layout says so, else a problem."""
        layout = self._block(reading).layout
        if _is_listed(text, layout.missing):
            self.missing[at] = True
            return
        for side, codes in (("below", layout.below_limit), ("above", layout.above_limit)):
            known, number = _meaning_of_code(text, codes)
            if not known:
                continue
            if number is None:
                self._take_capacity(record, reading, text, side, at)
                return
            self.value[at] = convert(number, from_unit=unit, to_unit=record.unit or unit)
            self.value_si[at] = to_si(number, unit)
            self.censored[at] = _SIDES.index(side)
            return
        self._tell(reading, at, f"{text!r}", "a number", _remedy_for(text, layout))

    def _take_capacity(self, record: DesignInput, reading: int, text: str, side: str, at: np.ndarray) -> None:
        """A code without a number (`overload`) is worth the capacity of the one instrument of that kind."""
        known = {item.id: item for item in self.project.equipment}
        method = self.project.method(self._block(reading).protocol.method)
        wanted = record.unit or ""
        for i in at:
            filed = [id for id in str(self.rows.frame["equipment"].iloc[self.positions[i]]).split(";") if id]
            capacities = {
                (item.capacity.value, item.capacity.unit)
                for id in filed or method.equipment
                if (item := known.get(id)) is not None and item.capacity and same_kind(item.capacity.unit, wanted)
            }
            if len(capacities) != 1:
                mend = (
                    f"write the code with its number under layout in the protocol, as '{text}=500' in the column's unit"
                )
                self._tell(reading, at, f"{text!r}, which has no number", "a limit that it stands for", mend)
                return
            ((capacity, unit),) = capacities
            self.value[i], self.value_si[i] = convert(capacity, from_unit=unit, to_unit=wanted), to_si(capacity, unit)
            self.censored[i] = _SIDES.index(side)

    def _read_attribute(self, record: DesignInput, reading: int, text: str, where: np.ndarray) -> None:
        modes = self.project.method(self._block(reading).protocol.method).failure_modes
        by_name = {name.casefold(): mode for mode in modes for name in (mode.code, mode.description)}
        word = text.casefold()
        if word in PASS or word in FAIL:
            self.conforming[where] = float(word in PASS)
        elif word in by_name and by_name[word].conforming is not None:
            self.conforming[where] = float(bool(by_name[word].conforming))
        elif not text:
            self._conforming_by_mode(reading, where)
        elif _is_listed(text, self._block(reading).layout.missing):
            self.missing[where] = True
        else:
            mend = "write 'pass', 'fail' or nothing, or list the text in the protocol under layout: missing"
            self._tell(reading, where, f"{text!r} for {record.characteristic!r}", "'pass' or 'fail'", mend)

    def _conforming_by_mode(self, reading: int, at: np.ndarray) -> None:
        """A blank cell of an attribute: the failure mode answers where the method's register says how."""
        modes = self.project.method(self._block(reading).protocol.method).failure_modes
        answers = {mode.code: float(mode.conforming) for mode in modes if mode.conforming is not None}
        filed = self.rows.frame["failure_mode"].to_numpy(dtype=object)[self.positions[at]]
        self.conforming[at] = [answers.get(code, np.nan) for code in filed]
        self.missing[at] = np.isnan(self.conforming[at])

    def _tell(self, reading: int, at: np.ndarray, found: str, expected: str, mend: str) -> None:
        block, column = self._block(reading), self.readings[reading].heading
        place = block.place(int(self.rows.numbers[self.positions[at[0]]]), column)
        self.rows.problems.append(Problem(place=place, found=found + also(at), expected=expected, mend=mend))

    def assembled(self) -> pd.DataFrame:
        """All columns together. A failure mode of the register may censor a value or make a specimen invalid."""
        frame = pd.DataFrame({name: repeated(self.rows.frame[name], self.positions) for name in ROW_COLUMNS})
        blocks = self.rows.blocks
        of_reading = {
            "protocol": [blocks[reading.block].protocol.id for reading in self.readings],
            "design_input": [reading.design_input for reading in self.readings],
            "filed_unit": [reading.unit for reading in self.readings],
            "file": [blocks[reading.block].grid.file for reading in self.readings],
            "sheet": [blocks[reading.block].grid.sheet for reading in self.readings],
            "sha256": [blocks[reading.block].grid.sha256 for reading in self.readings],
        }
        for name, texts in of_reading.items():
            frame[name] = repeated(np.array(texts, dtype=object), self.reading)
        frame["filed_value"] = self.texts.to_pandas()
        frame["value"], frame["value_si"], frame["conforming"] = self.value, self.value_si, self.conforming
        frame["missing"] = self.missing
        frame["row"] = self.rows.numbers[self.positions]
        frame["excluded"] = (frame["excluded"] == "yes").to_numpy()
        self._apply_failure_modes(frame)
        frame["censored"] = pd.Categorical.from_codes(self.censored, categories=pd.Index(_SIDES, dtype=object))
        return frame

    def _apply_failure_modes(self, frame: pd.DataFrame) -> None:
        """What the registers of the methods say of the endings filed, reading by reading."""
        codes, endings = pd.factorize(self.rows.frame["failure_mode"])
        filed = np.asarray(codes)[self.positions]
        invalid, stopped = (np.zeros(len(filed), dtype=bool) for _ in range(2))
        meanings = {
            name: self._meanings(self.project.method(name).failure_modes, list(endings))
            for name in dict.fromkeys(block.protocol.method for block in self.rows.blocks)
        }
        for start, end, reading in zip(self.starts[:-1], self.starts[1:], self.readings, strict=True):
            is_invalid, is_stopped = meanings[self.rows.blocks[reading.block].protocol.method]
            invalid[start:end], stopped[start:end] = is_invalid[filed[start:end]], is_stopped[filed[start:end]]
        # an invalid ending sets a specimen aside only with a recorded cause; without one the value counts
        if invalid.any():
            frame["excluded"] |= invalid & (frame["cause"] != "").to_numpy()
        stopped &= ~np.isnan(self.value) & (self.censored == _SIDES.index(""))
        self.censored[stopped] = _SIDES.index("above")

    @staticmethod
    def _meanings(modes: tuple[FailureMode, ...], endings: list[str]) -> tuple[np.ndarray, ...]:
        """Of each ending, whether it makes a specimen invalid, and whether it stopped the test before a failure."""
        invalid = {mode.code for mode in modes if not mode.valid}
        stopped = {mode.code for mode in modes if mode.censored}
        return np.array([text in invalid for text in endings], bool), np.array(
            [text in stopped for text in endings], bool
        )


def _is_listed(text: str, listed: tuple[str, ...]) -> bool:
    return text.casefold() in {entry.strip().casefold() for entry in listed}


def _meaning_of_code(text: str, codes: tuple[str, ...]) -> tuple[bool, str | None]:
    """Whether a text is one of the declared codes, and the number it carries.

    A code is a sign that numbers begin with (`<`), a text as it stands (`<0.05`, `overload`), or a text with the number
    that it stands for (`overload=500`).
    """
    for code in (code.strip() for code in codes):
        name, equals, stands_for = code.partition("=")
        number = _NUMBER_IN_TEXT.search(stands_for if equals and name.strip() else text)
        shown = number[0].replace(",", ".") if number is not None else None
        if equals and name.strip() and name.strip().casefold() == text.casefold():
            return True, shown
        if code.casefold() == text.casefold():
            return True, shown
        if code and not any(sign.isalnum() for sign in code) and text.startswith(code) and number is not None:
            rest = text[len(code) :].strip()
            if number[0] == rest:
                return True, shown
    return False, None


def _remedy_for(text: str, layout: Layout) -> str:
    if layout.decimal != "," and re.fullmatch(r"[+-]?\d+,\d+", text):
        return "write a decimal point, or declare a decimal comma for this file in the protocol (layout: decimal: ',')"
    if re.search(r"\d[.,]\d{3}[.,]\d", text):
        return "write the number without thousands separators"
    if plain(text) in {"nan", "na", "n a", "none", "dnf", "not tested"}:
        return f"leave the cell blank, or list {text!r} in the protocol under layout: missing"
    return (
        f"correct it; or say in the protocol what {text!r} means: list it under layout of this file, in missing, "
        "below_limit or above_limit"
    )
