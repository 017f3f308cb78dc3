"""Work shared out to copies of this process, where there is so much of it that this is worth it.

The copies are made by fork, which takes milliseconds; a fresh interpreter would take longer to import its libraries
than a thousand records take to read. Threads do not help: most of the time passes in short steps between which the
interpreter's lock is asked for. A copy is sound here because no other thread of this program works at that moment and
the copies start none. Elsewhere than on Linux, on one processor, and where a copy dies, all of the work is done here.
"""

from __future__ import annotations

import dataclasses
import operator
import os
import pickle
import signal
import sys
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

Part = TypeVar("Part")
Answer = TypeVar("Answer")
Record = TypeVar("Record")

# below this many parts a process costs more than it saves
_WORTH_IT = 16
_work: Callable[[Any], Any] | None = None


def shared_out(work: Callable[[Part], Answer], parts: Sequence[Part]) -> Iterator[Answer]:
    """`work` of each part, in order, by two processes on Linux, else one part after another.

    Where a copy dies, the parts are worked on here.
    """
    done = 0
    if len(parts) >= _WORTH_IT and sys.platform == "linux":
        from concurrent.futures.process import BrokenProcessPool

        try:
            for answer in _by_processes(work, parts):
                yield answer
                done += 1
        except (BrokenProcessPool, OSError):
            pass
    for part in parts[done:]:
        yield work(part)


def _by_processes(work: Callable[[Part], Answer], parts: Sequence[Part]) -> Iterator[Answer]:
    # imported where they are needed: a small project starts without them
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(
        2, mp_context=multiprocessing.get_context("fork"), initializer=_take, initargs=(work,)
    ) as pool:
        with _threads_unmentioned():
            answers = pool.map(_do, parts, chunksize=4)
        yield from answers


def _take(work: Callable[[Any], Any]) -> None:
    global _work  # of the copy alone: the work itself need not be packed and sent
    _work = work


def _do(part: Any) -> Any:
    assert _work is not None
    return _work(part)


def quick_to_pack(record: type[Record]) -> type[Record]:
    """A frozen dataclass with slots, sent from one process to another without looking its fields up each time.

    The dataclass's own way asks for the names of the fields again for every single object.
    """
    names = tuple(field.name for field in dataclasses.fields(record))  # type: ignore[arg-type]
    values_of = operator.attrgetter(*names)
    setters = tuple(record.__dict__[name].__set__ for name in names)

    def pack(self: Record) -> Any:
        return values_of(self)

    def unpack(self: Record, state: Any) -> None:
        for put, value in zip(setters, state, strict=True):
            put(self, value)

    record.__getstate__ = pack  # type: ignore[method-assign,assignment]
    record.__setstate__ = unpack  # type: ignore[attr-defined]
    return record


@contextmanager
def _threads_unmentioned() -> Iterator[None]:
    """That other threads exist (waiting ones, of the libraries) is what Python warns of at a fork."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        yield


@contextmanager
def beside(
    work: Callable[[], Answer],
    *,
    pack: Callable[[Answer], bytes] = pickle.dumps,
    unpack: Callable[[bytes], Answer] = pickle.loads,
) -> Iterator[Callable[[], Answer]]:
    """Has one piece of work done by a copy of this process while this one goes on; what is given asks for the answer.

    The answer comes back as bytes. Where there is no copy, or it fails in whatever way, the work is done here when the
    answer is asked for, so that a fault shows as it would without a copy.
    """
    copy = _Copy.of(lambda: pack(work())) if _has_two_cores() else None

    def answer() -> Answer:
        told = None if copy is None else copy.answer()
        return work() if told is None else unpack(told)

    try:
        yield answer
    finally:
        if copy is not None:
            copy.end()


def _has_two_cores() -> bool:
    return sys.platform == "linux" and len(os.sched_getaffinity(0)) > 1


class _Copy:
    """A copy of this process that works, writes its answer into a pipe, and ends."""

    def __init__(self, process: int, pipe: int) -> None:
        self._process, self._pipe = process, os.fdopen(pipe, "rb")
        self._has_ended = False

    @classmethod
    def of(cls, work: Callable[[], bytes]) -> _Copy | None:
        reading, writing = os.pipe()
        try:
            with _threads_unmentioned():
                process = os.fork()
        except OSError:
            os.close(reading)
            os.close(writing)
            return None
        if process == 0:
            os.close(reading)
            _work_and_end(work, writing)
        os.close(writing)
        return cls(process, reading)

    def answer(self) -> bytes | None:
        """None where the copy gave none."""
        told = self._pipe.read()
        _, status = os.waitpid(self._process, 0)
        self._has_ended = True
        return told if status == 0 else None

    def end(self) -> None:
        """Whatever it still does is wanted no more."""
        self._pipe.close()
        if not self._has_ended:
            os.kill(self._process, signal.SIGKILL)
            os.waitpid(self._process, 0)


def _work_and_end(work: Callable[[], bytes], writing: int) -> None:
    """In the copy: nothing of what the process would do when it ends belongs to it (open files, messages)."""
    status = 1
    try:
        told = work()
        with os.fdopen(writing, "wb") as pipe:
            pipe.write(told)
        status = 0
    finally:
        os._exit(status)
