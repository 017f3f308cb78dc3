"""The data rows of all files as one frame, each row knowing its file, with the means to say what is wrong in it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from reportgen.lab.grid import Grid
from reportgen.lab.headings import Vocabulary
from reportgen.lab.layouts import ValueColumn
from reportgen.lab.records import Guess
from reportgen.problems import Place, Problem, counted_more
from reportgen.project.records import Layout, Protocol

# the columns of a file row that do not depend on the characteristic
ROW_COLUMNS = (
    *("specimen", "lot", "model", "condition", "tested_on", "operator", "equipment", "method_revision"),
    *("failure_mode", "excluded", "cause", "note", "trace"),
)


_PORTABLE = ("numbers", "texts", "headings", "values", "long", "long_unit", "decimal_comma")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Block:
    """The data rows of one file or sheet: cells by our column in `texts`, by characteristic in `values`."""

    protocol: Protocol
    layout: Layout
    vocabulary: Vocabulary
    grid: Grid
    numbers: list[int]
    texts: dict[str, pa.Array]
    headings: dict[str, str]
    values: list[tuple[ValueColumn, pa.Array]]
    long: bool
    long_unit: str | None
    decimal_comma: bool

    def portable(self) -> dict[str, Any]:
        """What another process needs to make the same block again: not the protocol, and no cells that are columns."""
        kept = {name: getattr(self, name) for name in _PORTABLE}
        return kept | {"grid": Grid(self.grid.file, self.grid.sheet, self.grid.sha256, [], [])}

    def column(self, name: str) -> pa.Array:
        """The cells of one of our columns: from the file, else what the layout declares for all rows, else blank."""
        if name in self.texts:
            return self.texts[name]
        return pa.repeat(self.layout.constants.get(name, ""), len(self.numbers))

    def design_inputs(self) -> set[str]:
        """The design inputs that this file has a place for."""
        if not self.long:
            return {column.design_input for column, _ in self.values}
        named = (self.vocabulary.design_input(text) for text in self.column("characteristic").unique().to_pylist())
        return {id for id in named if id is not None}

    def place(self, row: int, column: str) -> Place:
        heading = self.headings.get(column, column)
        return Place(self.grid.file, row=row, column=heading, sheet=self.grid.sheet or None)


class Rows:
    """The file rows of all blocks as one frame, with the means to say what is wrong in it."""

    def __init__(self, blocks: list[Block]) -> None:
        self.blocks = blocks
        self.problems: list[Problem] = []
        self.guesses: list[Guess] = []
        sizes = [len(block.numbers) for block in blocks]
        self.starts = np.concatenate(([0], np.cumsum(sizes, dtype=int)))
        self.block = np.repeat(np.arange(len(blocks)), sizes)
        self.numbers = np.array([number for block in blocks for number in block.numbers], dtype=int)
        self.frame = pd.DataFrame({name: self._cells(name) for name in ROW_COLUMNS})

    def _cells(self, column: str) -> pd.Series:
        """A column of all files; one that no file has and no layout declares is blank without looking."""
        if any(column in block.texts or column in block.layout.constants for block in self.blocks):
            return pd.Series(trimmed(block.column(column) for block in self.blocks).to_pandas())
        return pd.Series(pa.repeat("", len(self.numbers)).to_pandas())

    def tell(self, wrong: np.ndarray, column: str, problem: Callable[[Block, str], tuple[str, str, str]]) -> None:
        """One problem for each file and text among the wrong rows; `problem` gives found, expected, mend."""
        positions = np.flatnonzero(wrong)
        if positions.size == 0:
            return
        texts = self.frame[column].to_numpy(dtype=object)[positions]
        for where in alike(self.block[positions], texts):
            first = positions[where[0]]
            block = self.blocks[self.block[first]]
            found, expected, mend = problem(block, str(texts[where[0]]))
            place = block.place(int(self.numbers[first]), column)
            self.problems.append(Problem(place=place, found=found + also(where), expected=expected, mend=mend))

    def alike(self, *columns: str) -> tuple[np.ndarray, np.ndarray]:
        """A number for each row, equal where file and columns are; and the first row of each number."""
        codes = self.block.astype(np.int64)
        for column in columns:
            named, names = pd.factorize(self.frame[column])
            codes = pd.factorize(codes * len(names) + named)[0].astype(np.int64)
        return codes, np.unique(codes, return_index=True)[1]

    def put(self, column: str, texts: np.ndarray, positions: np.ndarray) -> None:
        """A column anew: each row's text stands at its position among `texts`."""
        self.frame[column] = repeated(texts, positions)

    def replace(self, column: str, meaning: Mapping[str, str]) -> None:
        """Every text of a column replaced by what it means; texts not named stay."""
        codes, distinct = pd.factorize(self.frame[column])
        renamed = [meaning.get(text, text) for text in distinct]
        if any(new != old for new, old in zip(renamed, distinct, strict=True)):
            self.put(column, np.asarray(renamed, dtype=object), codes)


def texts_of(cells: Sequence[str]) -> pa.Array:
    """Cells as they are kept: packed, so that they are quickly put under one another."""
    return pa.array(cells, pa.string())


def repeated(texts: pd.Series | np.ndarray, positions: np.ndarray) -> pd.Categorical:
    """The texts at these positions, each distinct one kept once: the long table repeats a row for every reading."""
    codes, distinct = pd.factorize(texts)
    kept = pd.Index(np.asarray(distinct, dtype=object), dtype=object)
    return pd.Categorical.from_codes(np.asarray(codes, dtype=np.int32)[positions], categories=kept, validate=False)


def trimmed(columns: Iterable[pa.Array]) -> pa.Array:
    """The cells of all files one under another, without the spaces around them."""
    return pc.utf8_trim_whitespace(pa.chunked_array(list(columns), pa.string()).combine_chunks())


def alike(owner: np.ndarray, texts: np.ndarray) -> list[np.ndarray]:
    """The positions that share both, in the order of their first: a fault is told once, not once per cell."""
    if not len(texts):
        return []
    owners, (named, names) = pd.factorize(owner)[0].astype(np.int64), pd.factorize(texts)
    codes, distinct = pd.factorize(owners * len(names) + named)
    order = np.argsort(codes, kind="stable")
    return np.split(order, np.cumsum(np.bincount(codes, minlength=len(distinct)))[:-1])


def also(where: np.ndarray) -> str:
    return f" (and in {counted_more(len(where) - 1, 'row')})" if len(where) > 1 else ""
