"""A package onto the disk, all of it or nothing: a fresh folder, reopened and checked, then swapped in."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path, PurePosixPath

from reportgen.compose.records import Document, Package
from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.render.delivered import (
    MANIFEST,
    check_document,
    check_page,
    check_workbook,
    differing_files,
    manifest_text,
    read_outputs,
)

# Processes import the drawing library anew: with fewer figures than this, two of them were no faster than one.
_FIGURES_WORTH_A_PROCESS = 100
_SHOWN_FILES = 8


def deliver(
    package: Package, target: Path, *, house: bytes | None, extras: Callable[[Path], None] | None = None
) -> None:
    """Write the package to `target`. What stood there before stays whole until the new one is, and if anything fails.

    Args:
        target: a folder that is new, empty, or an earlier package that nobody has edited.
        house: a Word file whose styles the documents wear.
        extras: writes more files (such as PDF) into the fresh folder, before the manifest is made.
    Raises: UnreadableInput when `target` holds what must not be lost; ValueError when a written file is not whole.
    """

    def write(folder: Path) -> None:
        _write(package, folder, house)
        if extras is not None:
            extras(folder)

    _replace(target, package.facts, write, lambda folder: _check(package, folder))


def deliver_files(files: Iterable[tuple[str, bytes]], target: Path, *, facts: Mapping[str, object]) -> None:
    """Write loose files to a folder as carefully as a package: whole or not at all, with a manifest.

    Args:
        files: (path inside the folder, content); taken one by one, so that they need not all be held at once.
    Raises: UnreadableInput when `target` holds what must not be lost; ValueError for a name that leads out of it.
    """

    def write(folder: Path) -> None:
        names = []
        for name, content in files:
            names.append(name)
            _check_names([*names, MANIFEST])
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)

    _replace(target, facts, write, _check_manifest)


def write_new_file(target: Path, content: bytes) -> None:
    """One file, whole or not at all, under a name that nothing has yet. Raises: UnreadableInput."""
    if target.exists() or target.is_symlink():
        raise UnreadableInput(
            [
                Problem(
                    place=Place(file=target.name),
                    found="a folder of that name" if target.is_dir() else "a file of that name",
                    expected="a new name: what somebody or another program wrote into it must not be lost",
                    mend="name another file, or move this one away",
                )
            ]
        )
    write_file(target, content)


def write_file(target: Path, content: bytes) -> None:
    """One file, whole or not at all; what stood there stays unless the new one is whole."""
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, fresh = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(fresh).chmod(0o644)  # not only for its owner, as temporary files are
        Path(fresh).replace(target)
    except BaseException:
        Path(fresh).unlink(missing_ok=True)
        raise


def _replace(
    target: Path, facts: Mapping[str, object], write: Callable[[Path], None], check: Callable[[Path], None]
) -> None:
    """A fresh folder beside the target, written and checked, then swapped in."""
    target = Path(os.path.abspath(target))
    problems = _in_the_way(target)
    if problems:
        raise UnreadableInput(problems)
    target.parent.mkdir(parents=True, exist_ok=True)
    workshop = Path(tempfile.mkdtemp(prefix=f".{target.name}.", dir=target.parent))
    try:
        fresh = workshop / "fresh"
        fresh.mkdir()  # not the workshop itself, which only its owner may read
        write(fresh)
        (fresh / MANIFEST).write_text(manifest_text(facts, fresh), encoding="utf-8", newline="\n")
        check(fresh)
        _swap_in(fresh, target, workshop / "earlier")
    finally:
        shutil.rmtree(workshop, ignore_errors=True)


def _write(package: Package, folder: Path, house: bytes | None) -> None:
    from reportgen.render.excel import workbook_bytes
    from reportgen.render.page import page_text

    names = [*(document.file_name for document in package.documents), package.workbook.file_name]
    _check_names([*names, package.status.file_name, MANIFEST])
    contents = [*_drawn(package.documents, house), workbook_bytes(package.workbook)]
    for name, content in zip(names, contents, strict=True):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    page = folder / package.status.file_name
    page.parent.mkdir(parents=True, exist_ok=True)
    page.write_text(page_text(package.status), encoding="utf-8", newline="\n")


def _drawn(documents: tuple[Document, ...], house: bytes | None) -> list[bytes]:
    from reportgen.compose.records import Figure
    from reportgen.render.word import word_bytes

    figures = sum(isinstance(block, Figure) for document in documents for block in document.blocks)
    if figures < _FIGURES_WORTH_A_PROCESS or len(documents) < 2:
        return [word_bytes(document, house=house) for document in documents]
    from joblib import Parallel, cpu_count, delayed

    drawn: list[bytes] = Parallel(n_jobs=min(cpu_count(), 4, len(documents)))(
        delayed(word_bytes)(document, house=house) for document in documents
    )
    return drawn


def _check_names(names: list[str]) -> None:
    """Names stay inside the folder and differ on file systems that do not tell capitals apart."""
    for name in names:
        path = PurePosixPath(name)
        if not name or path.is_absolute() or ".." in path.parts or "\\" in name:
            raise ValueError(f"file name {name!r} leads out of the package")
    folded = [name.casefold() for name in names]
    twice = sorted({name for name in folded if folded.count(name) > 1})
    if twice:
        raise ValueError(f"file names given twice: {twice!r}")


def _check(package: Package, folder: Path) -> None:
    for document in package.documents:
        check_document(folder / document.file_name, document)
    check_workbook(folder / package.workbook.file_name)
    check_page(folder / package.status.file_name)
    _check_manifest(folder)


def _check_manifest(folder: Path) -> None:
    if differing_files(folder, read_outputs(folder) or {}):
        raise ValueError("the manifest just written does not hold for the files beside it")


def _swap_in(fresh: Path, target: Path, earlier: Path) -> None:
    """Two renames. If the second fails, or is interrupted, the first is taken back."""
    there = target.exists()
    if there:
        target.rename(earlier)
    try:
        fresh.rename(target)
    except BaseException:
        if there and not target.exists():
            with contextlib.suppress(OSError):
                earlier.rename(target)
        raise


def _in_the_way(target: Path) -> tuple[Problem, ...]:
    """Why `target` must not be replaced, if it must not."""
    place = Place(file=target.name or str(target))
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        return (
            Problem(
                place=place,
                found="a file or a link, not a folder",
                expected="a folder for the documents: a new name, an empty folder or an earlier package",
                mend="name another folder, or move what stands there",
            ),
        )
    if not target.exists() or not any(target.iterdir()):
        return ()
    outputs = read_outputs(target)
    if outputs is None:
        return (
            Problem(
                place=place,
                found=f"a folder with files of another origin (no {MANIFEST} of an earlier package)",
                expected="a new name, an empty folder or an earlier package",
                mend="name another folder: replacing this one would lose what is in it",
            ),
        )
    edited = differing_files(target, outputs)
    if not edited:
        return ()
    shown = ", ".join(edited[:_SHOWN_FILES])
    more = f" and {len(edited) - _SHOWN_FILES} more" if len(edited) > _SHOWN_FILES else ""
    return (
        Problem(
            place=place,
            found=f"files that were edited or added since the package was built: {shown}{more}",
            expected="an earlier package as it was built",
            mend="move those files elsewhere so that no edit is lost, or name another folder",
        ),
    )
