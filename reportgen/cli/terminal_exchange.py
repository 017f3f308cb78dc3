"""What a person reads of an import: plain lines, one for each thing that differs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reportgen.workflow_exchange import Imported


def print_import(found: Imported, written: Sequence[Path], *, write: bool, remove: bool) -> None:
    """Added, changed and gone for each register, and what was written."""
    for line in _lines(found, remove=remove):
        print(line)
    if written:
        print("Written: " + ", ".join(str(path) for path in written))
    elif found.changes_nothing:
        print("The registers agree with the file.")
    elif write:
        print("Nothing to write: records that are gone stay unless --remove is given.")
    else:
        print("Nothing was written. --write changes the registers; --out FOLDER writes new files instead.")


def _lines(found: Imported, *, remove: bool) -> Iterator[str]:
    for one in found.differences:
        yield one.register
        for id in one.added:
            yield f"  added    {id}\t{found.title_of(one.register, id)}"
        for change in one.changed:
            yield f"  changed  {change.id}\t{change.field}: {_shown(change.was)} -> {_shown(change.now)}"
        for id in one.gone:
            names = found.named_by.get(id, ())
            still = f"; still named in {', '.join(names)}" if names else ""
            yield f"  gone     {id}\t{'is taken out' if remove else 'stays (--remove takes it out)'}{still}"
        yield f"  the same {len(one.same)}"
        if one.kept:
            yield f"  left as they are, since the file does not fill them: {', '.join(one.kept)}"
        for record in one.unmatched:
            yield f"  look at  {record.id}\tits limit changes, and these stay as they are: {', '.join(record.fields)}"


def _shown(text: str) -> str:
    return repr(text) if text else "nothing"
