"""Where every design input stands, on the terminal: a table of counts within 80 columns, then what is open and why."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from reportgen.cli.terminal import SIGNS, STYLES, count_line

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from reportgen.workflow import Analysis, StatusLine

NOTHING_ON_FILE = "No design input is on file yet: write the first into design_inputs.csv."
# so that a table of usual ids and margins takes 74 columns; longer ones are folded
_WIDEST_ID, _WIDEST_MARGIN = 16, 16
# joiners that some scripts are not written without; no other invisible sign has a place on a terminal
_KEPT = "\u200c\u200d"


def print_status(analysis: Analysis) -> None:
    """One row per design input; plain lines, fields parted by tabs, where the output is piped."""
    lines = analysis.status_lines
    if not sys.stdout.isatty():
        for line in lines:
            fields = (line.design_input, line.verdict, line.tested, line.margin, line.reason, line.to_close)
            print("\t".join(map(printable, fields)))
        return
    from rich.console import Console

    console = Console(highlight=False, markup=False, emoji=False)
    if not lines:
        console.print(NOTHING_ON_FILE)
        return
    console.print(_table(lines))
    _print_open(console, [line for line in lines if line.to_close])
    console.print()
    console.print(_totals(lines))
    console.print(count_line(analysis.counts))


def printable(text: str) -> str:
    """One line without any sign that steers a terminal: what a lab's file holds is shown, never obeyed."""
    line = " ".join(text.split())
    return "".join(sign if sign.isprintable() or sign in _KEPT else "\N{REPLACEMENT CHARACTER}" for sign in line)


def _table(lines: Sequence[StatusLine]) -> Table:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    table.add_column("input", overflow="fold", max_width=_WIDEST_ID)
    table.add_column("verdict", no_wrap=True)
    for heading in ("planned", "tested", "valid", "set aside"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("margin", justify="right", overflow="fold", max_width=_WIDEST_MARGIN)
    for line in lines:
        # Text, not str: what a project writes is never read as markup
        verdict = Text(f"{SIGNS[line.verdict]} {line.verdict}", style=STYLES[line.verdict])
        counts = (line.counts.planned, line.counts.tested, line.counts.valid, line.counts.set_aside)
        table.add_row(Text(printable(line.design_input)), verdict, *map(str, counts), Text(printable(line.margin)))
    return table


def _print_open(console: Console, lines: Sequence[StatusLine]) -> None:
    """Why a verdict is not 'met', and what would close it, wrapped under the id."""
    from rich.padding import Padding
    from rich.text import Text

    for line in lines:
        head = Text.assemble(
            "\n",
            (printable(line.design_input), "bold"),
            f" {line.verdict}: {printable(line.tested)}",
            overflow="fold",
        )
        console.print(head)
        console.print(Padding(Text(printable(line.reason), overflow="fold"), (0, 0, 0, 2)))
        console.print(Padding(Text(f"To close it: {printable(line.to_close)}", overflow="fold"), (0, 0, 0, 2)))


def _totals(lines: Sequence[StatusLine]) -> str:
    count = Counter(line.verdict for line in lines)
    told = ", ".join(f"{count[verdict]} {verdict}" for verdict in SIGNS)
    return f"{len(lines)} design input{'' if len(lines) == 1 else 's'}: {told}"
