"""Which files hold the records of a protocol, and which specimen each belongs to."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from reportgen.lab.records import Guess
from reportgen.lab.specimens import Specimens
from reportgen.problems import Place, Problem, counted_more
from reportgen.project.records import TraceFiles

_PLACEHOLDER = re.compile(r"\{(specimen|lot|condition)\}|(\*)")


@dataclass(frozen=True, slots=True)
class Job:
    """A file to reduce. `position` is the row of its specimen, None for a file that holds several specimens."""

    file: str
    position: int | None
    named_at: Place


def jobs_of(
    folder: str,
    declared: TraceFiles,
    specimens: Specimens,
    *,
    not_records: frozenset[str],
    problems: list[Problem],
    unplaced: list[Problem],
    guesses: list[Guess],
) -> list[Job]:
    """The files named in the results, row by row, then those that the pattern finds."""
    jobs = [Job(file, position, place) for file, position, place in specimens.named_traces(Path(folder))]
    named = {job.file for job in jobs}
    found, stray = False, dict[str, list[tuple[str, str]]]()
    place = declared.at("files")
    for file, parts in matching(folder, declared, problems):
        if file in not_records:
            continue
        found = True
        if file in named:
            continue
        if "specimen" not in parts:
            jobs.append(Job(file, None, place))
            continue
        position = specimens.find(**parts)
        if isinstance(position, str):
            stray.setdefault(position.replace(repr(parts["specimen"]), "{specimen}"), []).append((file, position))
        else:
            jobs.append(Job(file, position, place))
    unplaced.extend(_stray_records(files, declared, specimens) for files in stray.values())
    if not found and not jobs:
        guesses.append(Guess(place, f"no record matches {declared.files!r} yet"))
    return jobs


def _stray_records(files: list[tuple[str, str]], declared: TraceFiles, specimens: Specimens) -> Problem:
    """Records that the pattern finds and that belong to no row, told once: a folder often holds other records too."""
    file, why = files[0]
    known = ", ".join(repr(name) for name in specimens.names[:4]) + (", ..." if len(specimens.names) > 4 else "")
    return Problem(
        place=Place(file),
        found=why + (f" (and so for {counted_more(len(files) - 1, 'record')})" if len(files) > 1 else ""),
        expected=f"records of the specimens that the result files of the protocol list ({known})",
        mend=f"rename the record after its specimen, or give the records of this protocol a folder of their own and "
        f"write it under traces in the protocol (files is {declared.files!r}); where lots share an id, put {{lot}} or "
        "{condition} into the pattern and the file names",
    )


def matching(folder: str, declared: TraceFiles, problems: list[Problem]) -> Iterator[tuple[str, dict[str, str]]]:
    """Files below the project folder whose path fits the pattern, with what its placeholders stand for."""
    pattern = PurePosixPath(declared.files)
    if pattern.is_absolute() or ".." in pattern.parts or not pattern.parts:
        problems.append(
            Problem(
                place=declared.at("files"),
                found=repr(declared.files),
                expected="a path below the project folder, such as 'results/traces/{specimen}.csv'",
                mend="move the records into the project folder and name them from there",
            )
        )
        return
    glob = _PLACEHOLDER.sub("*", str(pattern).replace("[", "[[]"))
    matcher = _path_matcher(str(pattern))
    root = Path(folder)
    for path in sorted(root.glob(glob)):
        if path.is_file() and (match := matcher.fullmatch(path.relative_to(root).as_posix())) is not None:
            yield path.relative_to(root).as_posix(), match.groupdict()


def _path_matcher(pattern: str) -> re.Pattern[str]:
    parts, end, seen = [], 0, set()
    for found in _PLACEHOLDER.finditer(pattern):
        parts.append(re.escape(pattern[end : found.start()]))
        name = found[1]
        if name is None:
            parts.append("[^/]*")
        else:
            parts.append(f"(?P={name})" if name in seen else f"(?P<{name}>[^/]+?)")
            seen.add(name)
        end = found.end()
    return re.compile("".join(parts) + re.escape(pattern[end:]))
