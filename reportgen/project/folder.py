"""The project folder: the only place files are read from, each with its fingerprint."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath, PureWindowsPath

from reportgen.problems import Place, Problem, near_name
from reportgen.project.records import SourceFile

LARGEST_FILE = 64 * 1024 * 1024
_SIZE_IN_WORDS = f"at most {LARGEST_FILE // 1024 // 1024} MB"


def printable(name: str) -> str:
    """A file name that can be printed and hashed whatever bytes the file system keeps."""
    return name.encode("utf-8", "backslashreplace").decode("utf-8")


@dataclass(slots=True)
class ProjectFolder:
    """Reads files below `root` during one reading pass, and keeps what was read and what was wrong."""

    root: Path
    problems: list[Problem] = field(default_factory=list)
    sources: dict[str, SourceFile] = field(default_factory=dict)
    _inside: dict[Path, bool] = field(default_factory=dict, repr=False)

    def report(self, place: Place, *, found: str, expected: str, mend: str) -> None:
        self.problems.append(Problem(place=place, found=found, expected=expected, mend=mend))

    def read(self, file: str) -> bytes | None:
        """The bytes of a file, remembered as a source; None when it cannot be read, with the problem reported."""
        problem = self.obstacle(file, place=Place(file), mentioned=False)
        if problem is not None:
            self.problems.append(problem)
            return None
        try:
            data = (self.root / file).read_bytes()
        except OSError as error:
            self.problems.append(_unreadable(file, error, place=Place(file)))
            return None
        self.sources[file] = SourceFile(path=file, sha256=hashlib.sha256(data).hexdigest(), size=len(data))
        return data

    def obstacle(self, file: str, *, place: Place, mentioned: bool = True) -> Problem | None:
        """Why the file cannot be read, or None. `mentioned`: the path was written by a person, at `place`."""
        if mentioned:
            problem = _badly_written(file, place)
            if problem is not None:
                return problem
        try:
            return self._obstacle(file, place)
        except (OSError, RuntimeError) as error:  # RuntimeError: a link that leads to itself
            return _unreadable(file, error, place=place)

    def _obstacle(self, file: str, place: Place) -> Problem | None:
        path = self.root / file
        if not os.path.lexists(path):
            return self._absent(file, place)
        if not self._is_inside(path):
            return _outside(file, place)
        if path.is_dir():
            return Problem(
                place=place, found=f"a folder named {file!r}", expected="a file", mend="put the file there instead"
            )
        if not path.is_file():
            return Problem(
                place=place,
                found=f"{file!r}, which is no ordinary file" if path.exists() else f"{file!r}, a link to nothing",
                expected="a file",
                mend="put the file itself there",
            )
        size = path.stat().st_size
        if size > LARGEST_FILE:
            return Problem(
                place=place,
                found=f"a file of {size:,} bytes",
                expected=_SIZE_IN_WORDS,
                mend="keep only the table or text in it",
            )
        return None

    def _is_inside(self, path: Path) -> bool:
        """Whether it lies below `root` once links are followed; looked up once for all ordinary files of a folder."""
        if path.is_symlink() or path.name == "..":
            return path.resolve().is_relative_to(self.root.resolve())
        if path.parent not in self._inside:
            self._inside[path.parent] = path.parent.resolve().is_relative_to(self.root.resolve())
        return self._inside[path.parent]

    def _absent(self, file: str, place: Place) -> Problem:
        near = near_name(PurePosixPath(file).name, self.names(str(PurePosixPath(file).parent)))
        if "\\udc" in file:
            return Problem(
                place=place,
                found="a file name with characters that are no text",
                expected="a name in UTF-8",
                mend="rename the file",
            )
        if place.file == file:
            return Problem(
                place=place,
                found="no such file",
                expected="this file, which every project has",
                mend=f"{f'rename {near!r} if it is this file, or ' if near else ''}add it; 'reportgen init' writes an "
                "example of it",
            )
        return Problem(
            place=place,
            found=f"no file {file!r}",
            expected="a file of the project folder",
            mend=f"there is {near!r} in that folder: use that name if it is the file, or add the missing one"
            if near
            else "add it, or correct the path",
        )

    def misleading(self, pattern: str, *, place: Place) -> list[Problem]:
        """What is wrong with the way a path or pattern is written, without looking for its files."""
        problem = _badly_written(pattern, place)
        return [problem] if problem is not None else []

    def names(self, folder: str) -> tuple[str, ...]:
        """The names in a folder, printable and sorted; empty when there is no such folder."""
        try:
            return tuple(sorted(printable(entry.name) for entry in (self.root / folder).iterdir()))
        except OSError:
            return ()

    def files(self, folder: str, *suffixes: str) -> tuple[str, ...]:
        """Paths of the files with these suffixes directly in a folder, sorted. Hidden names are left alone."""
        path = self.root / folder
        if path.exists() and not path.is_dir():
            self.report(
                Place(folder), found=f"a file named {folder!r}", expected="a folder", mend=f"make a folder {folder!r}"
            )
        return tuple(
            f"{folder}/{name}"
            for name in self.names(folder)
            if not name.startswith((".", "~$")) and PurePosixPath(name).suffix.lower() in suffixes
        )


def _badly_written(file: str, place: Place) -> Problem | None:
    if "\\" in file:
        return Problem(
            place=place,
            found=repr(file),
            expected="a path with forward slashes",
            mend=f"write {file.replace(chr(92), '/')!r}",
        )
    if PurePosixPath(file).is_absolute() or PureWindowsPath(file).drive or ".." in PurePosixPath(file).parts:
        return _outside(file, place)
    if "\0" in file or not file.strip():
        return Problem(place=place, found=repr(file), expected="the path of a file", mend="write its path")
    return None


def _outside(file: str, place: Place) -> Problem:
    return Problem(
        place=place,
        found=f"{file!r}, which leads out of the project folder",
        expected="a path inside the project folder",
        mend="copy the file into the project folder and write its path from there, such as 'results/lot_1.csv'",
    )


def _unreadable(file: str, error: OSError | RuntimeError, *, place: Place) -> Problem:
    reason = error.strerror if isinstance(error, OSError) and error.strerror else "a link that leads to itself"
    return Problem(
        place=place,
        found=f"{file!r} cannot be opened: {reason}",
        expected="a file that can be read",
        mend="see to it that the file is there and that you may read it",
    )
