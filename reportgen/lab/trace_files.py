"""Which files hold the records of a protocol, and which specimen each belongs to."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from reportgen.lab.records import Guess
from reportgen.lab.specimens import Specimens
from reportgen.problems import Place, Problem, did_you_mean
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
    found = False
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
            mend = did_you_mean(parts["specimen"], specimens.names)
            expected = "a specimen that a result file of the protocol lists, once"
            unplaced.append(Problem(place=Place(file), found=position, expected=expected, mend=mend))
        else:
            jobs.append(Job(file, position, place))
    if not found and not jobs:
        guesses.append(Guess(place, f"no record matches {declared.files!r} yet"))
    return jobs


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
