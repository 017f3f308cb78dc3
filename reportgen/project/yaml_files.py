"""YAML files to plain values that know their line.

Every scalar stays the text that was written: the records know whether they want a number, a date or a word, and read
it from the text. So `no` stays a word, `007` keeps its zeros, and the YAML versions cannot disagree. Values are built
from parser events. The compiled parser is about twenty times faster than the one in Python; it is used where it is
installed and the text has nothing on which the two could differ. Whatever it refuses is read by the other one, so that
the outcome, and every message, is the same either way.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeAlias

from reportgen.problems import Place, Problem
from reportgen.project.texts import decode

if TYPE_CHECKING:
    from ruamel.yaml.error import MarkedYAMLError

Event: TypeAlias = Any  # the parsers' events share no typed base that has what a scalar has
Path: TypeAlias = tuple[str | int, ...]
"""Where a value stands: keys and positions from the top of the file, positions from 0."""

DEEPEST = 40
_NULL = frozenset({"", "~", "null", "Null", "NULL"})
# What the two parsers might not agree on goes to the one in Python: signs of other YAML than plain blocks, flow
# collections, quoted and block texts; block texts that begin with a blank line or state their indentation; and a
# colon that follows a quoted key and is followed by something at once.
_UNCOMMON = re.compile(
    r"[\t\r\x85\u2028\u2029\ufeff]|[^\x20-\uffff\n]|^[%?]|^---|^\.\.\.|(?:^|[\s\[{,:-])[&*!?@`]"
    r"|[|>][-+]*[\d#]|[|>][^\n]*\n *\n|[\"'\]}]:\S",
    re.MULTILINE,
)


@dataclass(frozen=True, slots=True)
class YamlFile:
    """A file's value (mappings without their empty keys), the line of each key and item, and the empty keys."""

    file: str
    value: Any
    rows: dict[Path, int]
    blanks: dict[Path, int]

    def place(self, path: Path) -> Place:
        """The place of a key or item; of the nearest one above it when it is not in the file."""
        known = path
        while known and known not in self.rows and known not in self.blanks:
            known = known[:-1]
        return Place(self.file, row=self.rows.get(known, self.blanks.get(known, 1)), column=key_path(path) or None)


def key_path(path: Path) -> str:
    """A path as people read it, items counted from 1: `sampling.groups[2].n`."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def read_yaml(data: bytes, *, file: str) -> tuple[YamlFile | None, list[Problem]]:
    """A file's value with its lines, or None; and every problem of its form."""
    text = decode(data, file=file)
    if isinstance(text, Problem):
        return None, [text]
    from ruamel.yaml.error import MarkedYAMLError, YAMLError

    events = _compiled_events(text)
    try:
        composed = _Composer(file)
        composed.compose(events if events is not None else _events(text))
    except MarkedYAMLError as error:
        return None, [*composed.problems, _syntax(error, text, file=file)]
    except (YAMLError, ValueError, RecursionError) as error:
        # ValueError: a number in a directive or an escape such as "\UFFFFFFFF" that no parser step guards
        return None, [*composed.problems, _unreadable_character(error, text, file=file)]
    if composed.problems:
        return None, composed.problems
    return YamlFile(file, composed.value, composed.rows, composed.blanks), []


def _events(text: str) -> Iterator[Event]:
    from ruamel.yaml import YAML

    parsed: Iterator[Event] = YAML(typ="safe", pure=True).parse(text)
    return parsed


def _compiled_events(text: str) -> list[Event] | None:
    """The same events from the compiled parser, or None where it is missing, unsure to agree, or finds a fault."""
    if _UNCOMMON.search(text):
        return None
    try:
        from _ruamel_yaml import CParser
    except ImportError:
        return None
    from ruamel.yaml.error import YAMLError

    parser, events = CParser(text), []
    try:
        while parser.check_event():
            events.append(parser.get_event())
    except (YAMLError, ValueError):
        return None
    return events


class _TooDeep(Exception):
    pass


@dataclass(slots=True)
class _Composer:
    """Builds the value from events, and reports what a project file may not contain."""

    file: str
    value: Any = None
    rows: dict[Path, int] = field(default_factory=dict)
    blanks: dict[Path, int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def compose(self, events: Iterable[Event]) -> None:
        stream = iter(events)
        documents = 0
        for event in stream:
            kind = type(event).__name__
            if kind == "DocumentStartEvent":
                documents += 1
                if documents > 1:
                    self._report(
                        event, (), "a second document ('---')", "one document in a file", "make it a file of its own"
                    )
                    return
            elif kind not in {"StreamStartEvent", "StreamEndEvent", "DocumentEndEvent", "CommentEvent"}:
                try:
                    self.value = self._node(event, stream, ())
                except _TooDeep:
                    return
        if self.value is None and not self.problems:
            self.problems.append(
                Problem(
                    place=Place(self.file, row=1),
                    found="nothing but comments or blank lines",
                    expected="keys and values",
                    mend="fill the file in",
                )
            )

    def _report(self, event: Event, path: Path, found: str, expected: str, mend: str) -> None:
        place = Place(self.file, row=_row(event), column=key_path(path) or None)
        self.problems.append(Problem(place=place, found=found, expected=expected, mend=mend))

    def _node(self, event: Event, stream: Iterator[Event], path: Path) -> Any:
        self.rows.setdefault(path, _row(event))
        self._refuse_references(event, path)
        kind = type(event).__name__
        if kind == "ScalarEvent":
            return None if event.value in _NULL and _is_plain(event) else event.value
        if kind == "AliasEvent":
            return None
        if len(path) >= DEEPEST:
            self._report(event, path[:3], f"more than {DEEPEST} levels inside each other", "a few levels", "flatten it")
            raise _TooDeep
        if kind == "SequenceStartEvent":
            return self._sequence(stream, path)
        return self._mapping(stream, path)

    def _refuse_references(self, event: Event, path: Path) -> None:
        anchor = getattr(event, "anchor", None)
        if anchor is not None:
            sign = "*" if type(event).__name__ == "AliasEvent" else "&"
            self._report(
                event,
                path,
                f"the reference {sign}{anchor}",
                "each value written out where it is meant",
                "write the value itself, or put a text that begins with * or & in quotation marks",
            )
        tag = getattr(event, "tag", None)
        if tag is not None and str(tag) != "!":
            self._report(
                event,
                path,
                f"the tag {str(tag)[:60]!r}",
                "plain values",
                "delete the tag, or put a text that begins with ! in quotation marks",
            )

    def _sequence(self, stream: Iterator[Event], path: Path) -> list[Any]:
        items: list[Any] = []
        for event in stream:
            if type(event).__name__ == "SequenceEndEvent":
                break
            items.append(self._node(event, stream, (*path, len(items))))
        return items

    def _mapping(self, stream: Iterator[Event], path: Path) -> dict[str, Any]:
        mapping: dict[str, Any] = {}
        for event in stream:
            kind = type(event).__name__
            if kind == "MappingEndEvent":
                break
            if kind != "ScalarEvent":
                self._report(
                    event, path, "a list or mapping in place of a key", "a name as key", "quote texts with [ ] or { }"
                )
                _skip(event, stream)
                _skip(next(stream), stream)
                continue
            key: str = event.value
            here = (*path, key)
            self._refuse_references(event, here)
            if key == "<<" and _is_plain(event):
                self._report(
                    event, here, "the merge sign '<<'", "each key written out where it is meant", "write the keys out"
                )
                _skip(next(stream), stream)
                continue
            earlier = self.rows.get(here, self.blanks.get(here))
            if earlier is not None:
                self._report(
                    event,
                    here,
                    f"the key {key[:60]!r} a second time (first in line {earlier})",
                    "each key once",
                    "delete one of the two",
                )
                _skip(next(stream), stream)
                continue
            self.rows[here] = _row(event)
            value = self._node(next(stream), stream, here)
            if value is None:
                self.blanks[here] = self.rows.pop(here)
            else:
                mapping[key] = value
        return mapping


def _skip(event: Event, stream: Iterator[Event]) -> None:
    """Leaves the node that begins with this event behind."""
    depth = 0
    while True:
        kind = type(event).__name__
        depth += kind in {"SequenceStartEvent", "MappingStartEvent"}
        depth -= kind in {"SequenceEndEvent", "MappingEndEvent"}
        if depth <= 0:
            return
        event = next(stream)


def _row(event: Event) -> int:
    line: int = event.start_mark.line
    return line + 1


def _is_plain(event: Event) -> bool:
    return event.style in (None, "")


_SYNTAX = (
    # words of the parser's message; what was found; how to mend
    (r"'\t'", "a tab", "indent with spaces"),
    (
        "mapping values are not allowed",
        "a second ': ' in one line, or a wrong indentation",
        "put a text with ': ' in quotation marks, or line the keys up",
    ),
    ("could not find expected ':'", "a line without ': ' after the key", "write 'key: value'"),
    ("while scanning a quoted scalar", "a quotation mark that is never closed", "close it, or delete it"),
    (
        "cannot start any token",
        "a text that begins with a reserved sign (such as @, ` or %)",
        "put the text in quotation marks",
    ),
    ("flow sequence", "a bracket '[' that does not match", "close it with ']', with commas between the items"),
    ("flow mapping", "a brace '{' that does not match", "close it with '}', with commas between the keys"),
    (
        "block collection",
        "a list item that does not line up with the others",
        "give all '- ' of a list the same indentation",
    ),
    (
        "block mapping",
        "a line that does not line up with the keys above it",
        "give all keys of a group the same indentation",
    ),
    ("undefined alias", "a text that begins with '*'", "put the text in quotation marks"),
    (
        "escape",
        "a backslash followed by an unknown letter",
        "write \\\\ for a backslash, or use single quotation marks",
    ),
    ("block scalar", "a wrong sign after '|' or '>'", "write only '|' or '>', and the text in the next lines"),
)

_OTHER_SYNTAX = (
    "something that is no YAML",
    "look at this line and the one above it: indentation, colons, quotation marks",
)


def _syntax(error: MarkedYAMLError, text: str, *, file: str) -> Problem:
    said = f"{error.context or ''} {error.problem or ''}"
    mark = error.problem_mark or error.context_mark
    if "quoted scalar" in said or "flow" in said or "expected ':'" in said:
        mark = error.context_mark or mark
    last = text.count("\n")
    row = min(mark.line, last) + 1 if mark is not None else 1
    character = mark.column + 1 if mark is not None and mark.line <= last else None
    found, mend = next(((found, mend) for words, found, mend in _SYNTAX if words in said), _OTHER_SYNTAX)
    place = Place(file, row=row, character=character)
    return Problem(place=place, found=found, expected="YAML: one 'key: value' in a line", mend=mend)


def _unreadable_character(error: Exception, text: str, *, file: str) -> Problem:
    position = getattr(error, "position", None)
    row = text.count("\n", 0, position) + 1 if isinstance(position, int) else 1
    return Problem(
        place=Place(file, row=row),
        found="a character that YAML does not allow",
        expected="printable text",
        mend="delete it; it may be invisible, so write the line anew",
    )
