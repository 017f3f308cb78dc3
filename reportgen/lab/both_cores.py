"""Work on many files shared out to two processes, where so many files are worth it."""

from __future__ import annotations

import multiprocessing
import sys
import warnings
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

Part = TypeVar("Part")
Answer = TypeVar("Answer")

# below this many parts a process costs more than it saves
_WORTH_IT = 16
_work: Callable[[Any], Any] | None = None


def shared_out(work: Callable[[Part], Answer], parts: Sequence[Part]) -> Iterator[Answer]:
    """`work` of each part, in order, by two processes on Linux, else one part after another.

    The processes are copies of this one (fork), which takes milliseconds; a fresh interpreter would take longer to
    import its libraries than a thousand records take to read. Threads do not help: most of the time of a record passes
    in short steps between which the interpreter's lock is asked for. A copy is sound here because no other thread of
    this program works at that moment and the copies start none. Where a copy dies, the parts are worked on here.
    """
    done = 0
    if len(parts) >= _WORTH_IT and sys.platform == "linux":
        try:
            for answer in _by_processes(work, parts):
                yield answer
                done += 1
        except (BrokenProcessPool, OSError):
            pass
    for part in parts[done:]:
        yield work(part)


def _by_processes(work: Callable[[Part], Answer], parts: Sequence[Part]) -> Iterator[Answer]:
    with ProcessPoolExecutor(
        2, mp_context=multiprocessing.get_context("fork"), initializer=_take, initargs=(work,)
    ) as pool:
        with warnings.catch_warnings():
            # that other threads exist (waiting ones, of the libraries) is what this warning is about
            warnings.simplefilter("ignore", DeprecationWarning)
            answers = pool.map(_do, parts, chunksize=4)
        yield from answers


def _take(work: Callable[[Any], Any]) -> None:
    global _work  # of the copy alone: the work itself need not be packed and sent
    _work = work


def _do(part: Any) -> Any:
    assert _work is not None
    return _work(part)
