"""A piece of work done on the machine's other core while this one goes on."""

from __future__ import annotations

import contextlib
import ctypes
import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


def _can_fork() -> bool:
    """Whether a second process is worth it and safe: fork, no other thread, more than one core."""
    return hasattr(os, "fork") and threading.active_count() == 1 and (os.cpu_count() or 1) > 1


_DIE_WITH_PARENT = 1  # PR_SET_PDEATHSIG of prctl


def _end_with(parent: int) -> None:
    """Let this process end when *parent* is killed, where the system can: it holds the locks as well."""
    if sys.platform == "linux":
        with contextlib.suppress(AttributeError, OSError):
            ctypes.CDLL(None).prctl(_DIE_WITH_PARENT, signal.SIGKILL, 0, 0, 0)
        if os.getppid() != parent:  # it was killed before that
            os._exit(1)


class Beside(Generic[T]):
    """Starts *work* at once, in a forked process where that is safe, and hands over its answer.

    *work* must be pure. Where it cannot be forked, or the other process fails
    for any reason, :meth:`answer` does the work here, so that errors come up
    as they always do.
    """

    def __init__(self, work: Callable[[], T]) -> None:
        self._work = work
        self._child: tuple[int, int] | None = None
        if not _can_fork():
            return
        reader, writer = os.pipe()
        parent = os.getpid()
        pid = os.fork()
        if pid == 0:  # the other process: never returns, runs no exit handlers
            status = 1
            try:
                _end_with(parent)
                os.close(reader)
                with os.fdopen(writer, "wb") as pipe:
                    pickle.dump(work(), pipe, pickle.HIGHEST_PROTOCOL)
                status = 0
            finally:
                os._exit(status)
        os.close(writer)
        self._child = (pid, reader)

    def answer(self) -> T:
        """Return what the work gave, waiting for it where need be."""
        if self._child is not None:
            pid, reader = self._child
            self._child = None
            with os.fdopen(reader, "rb") as pipe:
                data = pipe.read()
            _pid, status = os.waitpid(pid, 0)
            if status == 0:
                answer: T = pickle.loads(data)
                return answer
        return self._work()
