"""The one place that puts a run on disk: written aside, then swapped in as a whole.

While a run is at work it holds a lock. Beside the run folder ``NAME`` stand, hidden,

    .NAME.boardgen-lock   held from before the work until all is tidy; left by a process that was killed
    .NAME.boardgen-new    the run being written; after the swap, the earlier one on its way out
    .NAME.boardgen-old    the earlier run, whole, between the two renames of a system that cannot swap
    .NAME.boardgen-gone   an earlier run being removed

What a process that dies leaves, by where it dies:

1. before the swap: the earlier run, untouched, and rubbish as ``new``;
2. in the swap: where the system swaps two names in one step (renameat2, renamex_np) there is no such place.
   Elsewhere the name is free between two renames, the earlier run stands whole as ``old``, and the next run
   puts it back before it does anything else;
3. after the swap: the new run, whole, and rubbish as ``new`` or ``gone``.

Files and folders are handed to the disk before the swap and the folder that holds the run after it, so a
power cut ends in one of the same three ways. The next run into the same output folder, under any name, takes
the lock of every dead run there, puts back or removes what it left, and removes the lock file; the lock of a
live process cannot be taken, and its folders stay. ``old`` is never removed in place, so that under this name
there is always a whole run.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from boardgen.errors import InputError, MachineError
from boardgen.export.files import OutFile
from boardgen.filing import Lock, discard, exchange, reason, sync, sync_tree, take_lock, write_new

RECORD = "summary.json"
_LOCK = ".boardgen-lock"
_TRIES = 5  # how often the output folder may vanish before it is locked


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


@dataclass(frozen=True, slots=True)
class RunPlace:
    """Where one run goes: the folder *name* in *out*, and the hidden names beside it."""

    out: Path
    name: str

    @property
    def final(self) -> Path:
        """The run folder."""
        return self.out / self.name

    def beside(self, what: str) -> Path:
        """Return the hidden name for *what*: lock, new, old or gone."""
        return self.out / f".{self.name}.boardgen-{what}"

    def write(self, files: Sequence[OutFile]) -> Path:
        """Write *files* as the run folder, whole or not at all, and return it.

        An earlier run is replaced in one step and stays untouched if anything
        fails. To be called with the lock held (:func:`hold_run`). Raises
        MachineError when the machine refuses.
        """
        fresh = self.beside("new")
        try:
            fresh.mkdir()
            for file in files:
                path = fresh / _inside(file.path)
                path.parent.mkdir(parents=True, exist_ok=True)
                write_new(path, file.data)
            sync_tree(fresh)
            self._swap(fresh)
            sync(self.out)
        except OSError as error:
            raise MachineError(f"{self.final}: the run could not be written: {reason(error)}") from None
        return self.final

    def _swap(self, fresh: Path) -> None:
        if not self.final.exists():
            fresh.rename(self.final)
        elif not exchange(fresh, self.final):
            self.final.rename(self.beside("old"))
            fresh.rename(self.final)

    def settle(self) -> bool:
        """Put an earlier run back where its name is free, remove what is stale; return whether all is tidy.

        Only for who holds the lock. Raises OSError where the earlier run cannot be put back.
        """
        old, gone = self.beside("old"), self.beside("gone")
        tidy = discard(gone)
        if old.is_dir() and not os.path.lexists(self.final):
            old.rename(self.final)
            sync(self.out)
        elif os.path.lexists(old) and tidy:
            with contextlib.suppress(OSError):
                old.rename(gone)
            tidy = discard(gone) and not os.path.lexists(old)
        return discard(self.beside("new")) and tidy


def _inside(path: str) -> str:
    """Return *path*; raises InputError where it would lead out of the run's folder."""
    parts = PurePosixPath(path).parts
    if not parts or parts[0] == "/" or ".." in parts or "\0" in path or "\\" in path:
        raise InputError("a file of the run would lie outside its folder", found=repr(path[:80]))
    return path


@contextlib.contextmanager
def hold_run(out: Path, name: str) -> Iterator[RunPlace]:
    """Hold the place of the run *name* in *out* against other processes while it is made.

    Makes *out*, and takes it away again where nothing was written. What dead
    processes left in *out* is settled first. Raises MachineError where another
    process holds the place, or the machine refuses.
    """
    place = RunPlace(out, name)
    try:
        made, lock = _enter(place)
    except OSError as error:
        raise MachineError(f"{place.final}: the run could not be written: {reason(error)}") from None
    tidy = False
    try:
        try:
            _settle_dead(out, place)
            place.settle()
        except OSError as error:
            raise MachineError(
                f"{place.final}: the earlier run cannot be put back: {reason(error)}"
            ) from None
        yield place
    finally:
        try:
            with contextlib.suppress(OSError):
                tidy = place.settle()
        finally:
            lock.release(remove=tidy)
        for folder in made:
            with contextlib.suppress(OSError):
                folder.rmdir()  # only where nothing is in it


def _enter(place: RunPlace) -> tuple[list[Path], Lock]:
    """Return the folders that had to be made, innermost first, and the lock."""
    for left in range(_TRIES, -1, -1):
        made = []
        folder = place.out
        while not folder.exists() and folder.parent != folder:
            made.append(folder)
            folder = folder.parent
        try:
            place.out.mkdir(parents=True, exist_ok=True)
            lock = take_lock(place.beside("lock"))
        except FileNotFoundError:  # another process has just tidied the same folder away
            if left:
                continue
            raise
        if lock is None:
            raise MachineError(
                f"{place.name}: another boardgen is writing this run; try again when it is done"
            )
        return made, lock
    raise AssertionError("not reached")


def _settle_dead(out: Path, own: RunPlace) -> None:
    """Settle what dead runs of other names left in *out*; what cannot be settled is left as it is."""
    for path in sorted(out.glob(f".*{_LOCK}")):
        name = path.name[1 : -len(_LOCK)]
        if not name or name == own.name:
            continue
        with contextlib.suppress(OSError):
            lock = take_lock(path, create=False)
            if lock is not None:
                tidy = False
                try:
                    tidy = RunPlace(out, name).settle()
                finally:
                    lock.release(remove=tidy)


def write_run(out: Path, name: str, files: Sequence[OutFile]) -> Path:
    """Write *files* as the run folder ``out/name``, whole or not at all, and return the folder.

    An earlier run under that name is replaced in one step and stays untouched
    if anything fails. Raises MachineError when the machine refuses.
    """
    with hold_run(out, name) as place:
        return place.write(files)
