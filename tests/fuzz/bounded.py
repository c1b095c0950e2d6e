"""Run a reader in a process of its own, with little time and memory to spare."""

from __future__ import annotations

import os
import resource
import signal
from collections.abc import Callable
from pathlib import Path

from boardgen.errors import BoardgenError

SECONDS = 5  # of CPU time
MEGABYTES = 500  # more than the process has when it begins
PATIENCE = 120  # seconds on the wall, for what waits without working


def _address_space() -> int:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmSize:"):
            return int(line.split()[1]) * 1024
    raise RuntimeError("no VmSize")


def _limited(work: Callable[[], object]) -> str:
    space = _address_space() + MEGABYTES * 1024 * 1024
    resource.setrlimit(resource.RLIMIT_AS, (space, space))
    used = resource.getrusage(resource.RUSAGE_SELF)
    seconds = int(used.ru_utime + used.ru_stime) + SECONDS
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.alarm(PATIENCE)
    try:
        work()
    except BoardgenError as error:
        return f"refused with {error.exit_code}: {error}"
    except BaseException as error:
        return f"crash: {type(error).__name__}: {str(error)[:200]}"
    return "read"


def bounded(work: Callable[[], object]) -> str:
    """Return how *work* ended in a forked process of bounded time and memory.

    "read"; "refused with CODE: ..." (a BoardgenError); "crash: ..." (any other
    exception, MemoryError too); "killed by SIGNAL" (SIGXCPU: too slow,
    SIGALRM: it hung).
    """
    reader, writer = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            os.close(reader)
            said = _limited(work).encode("utf-8", "backslashreplace")
            os.write(writer, said[:4000])
        finally:
            os._exit(0)
    os.close(writer)
    with os.fdopen(reader, "rb") as pipe:
        said = pipe.read().decode("utf-8")
    code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    return said or f"killed by {signal.Signals(-code).name if code < 0 else code}"
