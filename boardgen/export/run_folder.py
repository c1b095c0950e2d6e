"""The one place that puts a run on disk: written aside, then swapped in as a whole."""

from __future__ import annotations

import contextlib
import ctypes
import os
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path

from filelock import FileLock, Timeout

from boardgen.errors import InputError, MachineError
from boardgen.export.files import OutFile

_AT_FDCWD = -100
_EXCHANGE = 2  # renameat2 flag: both names change places in one step


def _reason(error: OSError) -> str:
    return error.strerror or type(error).__name__


def _exchange(a: Path, b: Path) -> bool:
    """Swap two folders in one step where the system can; return whether it did."""
    try:
        call = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError):
        return False
    return bool(call(_AT_FDCWD, os.fsencode(a), _AT_FDCWD, os.fsencode(b), _EXCHANGE) == 0)


def _swap_in(fresh: Path, final: Path, aside: Path) -> None:
    """Put *fresh* under the name *final*; what stood there ends up as *aside*."""
    if not final.exists():
        fresh.rename(final)
        return
    if _exchange(fresh, final):
        fresh.rename(aside)
        return
    final.rename(aside)
    try:
        fresh.rename(final)
    except OSError:
        aside.rename(final)
        raise


@contextlib.contextmanager
def _locked(lock_path: Path, name: str) -> Iterator[None]:
    lock = FileLock(lock_path)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        raise MachineError(
            f"{name}: another boardgen is writing this run; try again when it is done"
        ) from None
    try:
        yield
    finally:
        lock.release()


RECORD = "summary.json"


def check_writable(out: Path, name: str = "") -> None:
    """Raise where *out* can't hold the run *name*, before any work is done; creates nothing.

    What stands there already must be an earlier run: it is about to be replaced
    as a whole, and nobody's own folder or file may go that way.
    """
    final = out / name
    if name and (final.exists() or final.is_symlink()):
        if final.is_symlink() or not final.is_dir():
            raise InputError("the run folder's name is taken by something that is no folder", str(final))
        if not (final / RECORD).is_file() and any(final.iterdir()):
            raise InputError(
                f"the folder that the run would replace is no run: it holds no {RECORD}", str(final)
            )
    place = out
    while not place.exists():
        if place.parent == place:
            break
        place = place.parent
    if not place.is_dir():
        raise InputError("the output folder's path leads through a file", where=str(out), found=str(place))
    if not os.access(place, os.W_OK | os.X_OK):
        raise MachineError(f"{out}: no permission to write in {place}")


def write_run(out: Path, name: str, files: Sequence[OutFile]) -> Path:
    """Write *files* as the run folder ``out/name``, whole or not at all, and return the folder.

    An earlier run under that name is replaced in one step and stays untouched
    if anything fails. Raises MachineError when the machine refuses.
    """
    final = out / name
    fresh, aside = out / f".{name}.new", out / f".{name}.old"
    try:
        out.mkdir(parents=True, exist_ok=True)
        with _locked(out / f".{name}.lock", name):
            for stale in (fresh, aside):
                if stale.exists():
                    shutil.rmtree(stale)
            try:
                for file in files:
                    path = fresh / file.path
                    path.parent.mkdir(parents=True, exist_ok=True)
                    path.write_bytes(file.data)
                _swap_in(fresh, final, aside)
            except BaseException:
                shutil.rmtree(fresh, ignore_errors=True)
                raise
            shutil.rmtree(aside, ignore_errors=True)
    except OSError as error:
        raise MachineError(f"{final}: the run could not be written: {_reason(error)}") from None
    return final
