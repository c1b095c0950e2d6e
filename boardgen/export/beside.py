"""A piece of work done on the machine's other core while this one goes on."""

from __future__ import annotations

import os
import pickle
import threading
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


def _can_fork() -> bool:
    """Whether a second process is worth it and safe: fork, no other thread, more than one core."""
    return hasattr(os, "fork") and threading.active_count() == 1 and (os.cpu_count() or 1) > 1


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
        pid = os.fork()
        if pid == 0:  # the other process: never returns, runs no exit handlers
            status = 1
            try:
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
