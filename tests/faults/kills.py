"""Kill real runs at seeded moments and look at what is left; a command of its own.

    python -m tests.faults.kills --folder EMPTY --moments 200 --seed 1

This process loads the program once, then forks each run. Two moments in three are a share of the time of
a whole ``generate``; the third kind is a numbered file operation, of those made while the run's files are
put on disk (there the files are at hand, so that the process does nothing else). The signal is SIGKILL. Some
are run as on a system that cannot swap two names, some without an earlier run. After each kill:

- under the run's name is the earlier run to the byte, or the new one whole; nothing, where there was none
  or where the system cannot swap, and then the earlier run stands whole beside it;
- the next run into the folder succeeds (a whole ``generate`` each fourth time) and leaves its own folder
  alone there, nothing hidden, nothing in the place for temporary files.

It prints one JSON object: how many moments, how they ended, and what went wrong (``faults``, none).
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from faultkit import NAME, but_timings, design, tree

EVENTS = {"open", "os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.chmod", "os.scandir", "shutil.rmtree"}
PLAIN = 4  # one kill in so many is on a system without swap; another such share has no earlier run


class FileCounter:
    """Counts file operations under a folder, and kills this process before one of them."""

    def __init__(self) -> None:
        self.under = ""
        self.count = 0
        self.last = -1

    def __call__(self, event: str, arguments: tuple[Any, ...]) -> None:
        if not self.under or event not in EVENTS:
            return
        first = arguments[0] if arguments else ""
        if not isinstance(first, str | os.PathLike) or not os.fspath(first).startswith(self.under):
            return
        if self.count == self.last:
            os.kill(os.getpid(), signal.SIGKILL)
        self.count += 1


COUNTER = FileCounter()


def run(where: Path, out: Path, swap: bool, said: Path) -> int:
    """Do one ``generate`` in this process and return its exit code; what it says goes into *said*."""
    from boardgen.cli.main import main
    from boardgen.export import run_folder

    if not swap:
        run_folder.exchange = lambda _a, _b: False
    with said.open("w") as words:
        os.dup2(words.fileno(), 1)
        os.dup2(words.fileno(), 2)
    return main(["generate", str(where), "--out", str(out)])


def put(run: dict[str, bytes | None], out: Path, swap: bool, last: int = -1, told: Path | None = None) -> int:
    """Put the files of *run* on disk as ``generate`` does; killed before file operation *last*."""
    from boardgen import filing
    from boardgen.export import run_folder
    from boardgen.export.files import OutFile

    if not swap:
        run_folder.exchange = lambda _a, _b: False
    sync = filing.sync

    def counted_sync(path: Path) -> None:
        COUNTER("open", (path,))
        sync(path)

    filing.sync = run_folder.sync = counted_sync
    files = tuple(OutFile(path, data) for path, data in run.items() if data is not None)
    COUNTER.under, COUNTER.last = str(out), last
    run_folder.write_run(out, NAME, files)
    if told is not None:
        told.write_text(str(COUNTER.count))
    return 0


def forked(work: Callable[[], int]) -> int:
    """Return the process that does *work* and exits with what it returns."""
    pid = os.fork()
    if pid == 0:
        code = 99
        try:
            code = work()
        finally:
            os._exit(code)
    return pid


def code_of(pid: int) -> int:
    """Wait for the process; return its exit code, or minus the signal that ended it."""
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


def patient(work: Callable[[], int]) -> int:
    """Return the exit code of a process that does *work*.

    The second process of a killed run may hold its place some ms longer.
    """
    for _ in range(50):
        code = code_of(forked(work))
        if code not in (3, 99):
            return code
        time.sleep(0.05)
    return code


def kill_all(folder: Path, moments: int, seed: int) -> dict[str, Any]:
    """Do what the module says in the empty *folder*."""
    draw = random.Random(seed)
    early, late = design(folder / "early", "Early"), design(folder / "late", "Late")
    out, scratch, said, told = (folder / name for name in ("out", "tmp", "said", "told"))
    scratch.mkdir()
    os.environ["TMPDIR"] = tempfile.tempdir = str(scratch)
    sys.addaudithook(COUNTER)
    import boardgen.pipeline
    import boardgen.readback  # noqa: F401 - loaded once, for all runs

    assert code_of(forked(lambda: run(early, out, True, said))) == 0, said.read_text()
    first = tree(out / NAME)
    before = time.monotonic()
    assert code_of(forked(lambda: run(late, out, True, said))) == 0, said.read_text()
    seconds = time.monotonic() - before
    second = tree(out / NAME)
    wanted = but_timings(second)
    operations = {}
    for swap, fresh in ((True, False), (False, False), (True, True)):
        if fresh:
            shutil.rmtree(out)
        assert code_of(forked(lambda swap=swap: put(second, out, swap, told=told))) == 0
        operations[swap, fresh] = int(told.read_text())
    assert patient(lambda: put(first, out, True)) == 0
    ends: Counter[str] = Counter()
    faults: list[str] = []
    for n in range(moments):
        swap, fresh = n % PLAIN != 1, n % PLAIN == 2
        if fresh:
            shutil.rmtree(out)
        earlier = tree(out / NAME) if not fresh else None
        if n % 3 == 2:
            last = draw.randrange(operations[swap, fresh])
            where = f"moment {n}: before file operation {last} of {operations[swap, fresh]}"
            code = code_of(forked(lambda swap=swap, last=last: put(second, out, swap, last)))
        else:
            moment = draw.random() * seconds
            where = f"moment {n}: after {moment:.3f} s of {seconds:.3f}"
            begun = time.monotonic()
            pid = forked(lambda swap=swap: run(late, out, swap, said))
            time.sleep(moment)
            os.kill(pid, signal.SIGKILL)
            code = code_of(pid)
            if code == 0:  # it was done before that: runs take less time than the first one did
                seconds = min(seconds, 0.9 * (time.monotonic() - begun))
        where += ("" if swap else ", no swap") + (", no earlier run" if fresh else "")
        ended = "killed" if code == -signal.SIGKILL else f"ended with {code}"
        there = tree(out / NAME) if (out / NAME).exists() else None
        if there is not None and there == earlier:
            ends[f"{ended}, the earlier run stands"] += 1
        elif there is not None and but_timings(there) == wanted:
            json.loads(there["timings.json"] or b"")
            ends[f"{ended}, the new run stands"] += 1
        elif there is None and fresh:
            ends[f"{ended}, no run as before"] += 1
        elif there is None and not swap and tree(out / f".{NAME}.boardgen-old") == earlier:
            ends[f"{ended}, the earlier run stands beside its name"] += 1
        else:
            faults.append(f"{where}: {ended}, and what is left is neither run")
        if code not in (0, -signal.SIGKILL):
            faults.append(f"{where}: {ended}: {said.read_text()[-300:]}")
        whole = n % 4 == 0
        code = (
            patient(lambda: run(early, out, True, said)) if whole else patient(lambda: put(first, out, True))
        )
        if code != 0:
            faults.append(f"{where}: the next run ends with {code}: {said.read_text()[-300:]}")
        left = sorted(p.name for p in out.iterdir())
        if whole:
            left += sorted(p.name for p in scratch.iterdir())
        if left != [NAME]:
            faults.append(f"{where}: the next run leaves {left}")
    return {
        "moments": moments,
        "seed": seed,
        "file_operations": sorted(operations.values()),
        "seconds_of_a_run": round(seconds, 2),
        "ends": dict(sorted(ends.items())),
        "faults": faults,
    }


def main() -> int:
    """Read the options, kill, print."""
    parser = argparse.ArgumentParser(description="Kill real runs at seeded moments.")
    parser.add_argument("--folder", type=Path, required=True)
    parser.add_argument("--moments", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    found = kill_all(given.folder, given.moments, given.seed)
    print(json.dumps(found, indent=2))
    return 1 if found["faults"] else 0


if __name__ == "__main__":
    sys.exit(main())
