"""Files and folders put on disk whole or not at all, whatever befalls the process or another one.

A lock is the system's ``flock`` on a file: it goes with its process, so what a
killed process leaves is known to be stale, however old it is and whatever its
number. No clock and no process number is asked. A lock file is removed by who
holds it; who finds that the file under the name is no longer the one locked
begins again. Where the system has no ``flock`` nothing is locked; a file system
that refuses one is an OSError.

Data is handed to the disk (``fsync``) before a name leads to it, and the folder
after it, so that a power cut leaves the earlier thing or the new one as well.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from boardgen.errors import InputError, MachineError

try:
    import fcntl
except ImportError:  # pragma: no cover - a system without flock
    fcntl = None  # type: ignore[assignment]

_PART = "boardgen-part"
_TRIES = 50  # how often a lock file may vanish under our hands before we take it as held
_LONGEST = 200  # bytes of a file's name that leave room for ours beside it
_AT_FDCWD = -100
_EXCHANGE = 2  # of renameat2 (Linux) and of renamex_np (macOS): both names change places in one step


def reason(error: OSError) -> str:
    """Return why the machine refused, in its own words."""
    return error.strerror or type(error).__name__


@dataclass(slots=True)
class Lock:
    """A lock file that this process holds, open as *descriptor*."""

    path: Path
    descriptor: int

    def release(self, remove: bool = True) -> None:
        """Give the lock back; the file goes away first, unless it is to stay as a mark."""
        if remove:
            with contextlib.suppress(OSError):
                self.path.unlink()
        self.close()

    def close(self) -> None:
        """Give the lock back and leave whatever bears the file's name alone."""
        if self.descriptor >= 0:
            os.close(self.descriptor)
            self.descriptor = -1


def take_lock(path: Path, create: bool = True) -> Lock | None:
    """Return the lock *path*, made where it is not there and *create* says so; None where another holds it.

    Raises OSError where there is no such file or no permission, or where
    something that is no file bears the name.
    """
    flags = os.O_RDWR | (os.O_CREAT if create else 0)
    flags |= getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NONBLOCK", 0)
    for _ in range(_TRIES):
        descriptor = os.open(path, flags, 0o666)
        try:
            is_file = stat.S_ISREG(os.fstat(descriptor).st_mode)
            locked = is_file and _locked(descriptor)
            same = locked and _is_at(descriptor, path)
        except BaseException:
            os.close(descriptor)
            raise
        if same:
            return Lock(path, descriptor)
        os.close(descriptor)
        if not is_file:
            raise FileExistsError(17, "something that is no file is in the way", str(path))
        if not locked:
            return None
    return None


def _locked(descriptor: int) -> bool:
    if fcntl is None:  # pragma: no cover - a system without flock
        return True
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is_at(descriptor: int, path: Path) -> bool:
    """Whether the open file is still the one that bears the name *path*."""
    try:
        return os.path.samestat(os.fstat(descriptor), path.lstat())
    except FileNotFoundError:
        return False


def write_all(descriptor: int, data: bytes) -> None:
    """Write all of *data* to an open file; raises OSError."""
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(descriptor, rest) :]


def write_new(path: Path, data: bytes) -> None:
    """Make the file *path* of *data*; raises OSError, also where something bears that name."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_CLOEXEC", 0), 0o666)
    try:
        write_all(descriptor, data)
    finally:
        os.close(descriptor)


def sync(path: Path) -> None:
    """Hand the file or folder *path* to the disk, where the system has the means; raises OSError."""
    try:
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_CLOEXEC", 0))
    except PermissionError:  # a folder, on systems that open none
        return
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in (22, 95):  # EINVAL, EOPNOTSUPP: a file system that keeps nothing
            raise
    finally:
        os.close(descriptor)


def sync_tree(folder: Path) -> None:
    """Hand every file under *folder* to the disk, then the folders from the innermost out; raises OSError."""
    for root, _folders, names in os.walk(folder, topdown=False):
        for name in sorted(names):
            sync(Path(root) / name)
        sync(Path(root))


def exchange(a: Path, b: Path) -> bool:
    """Let two things change names in one step where the system can; return whether it did."""
    try:
        library = ctypes.CDLL(None, use_errno=True)
        first, second = os.fsencode(a), os.fsencode(b)
        if sys.platform == "darwin":  # pragma: no cover
            return bool(library.renamex_np(first, second, _EXCHANGE) == 0)
        return bool(library.renameat2(_AT_FDCWD, first, _AT_FDCWD, second, _EXCHANGE) == 0)
    except (AttributeError, OSError, TypeError):
        return False


def discard(path: Path) -> bool:
    """Remove *path*, a file, a link (not what it leads to) or a whole folder; return whether it is gone.

    Folders that nobody may write in are opened up first. Never raises OSError.
    """
    with contextlib.suppress(OSError):
        if path.is_symlink() or not path.is_dir():
            path.unlink(missing_ok=True)
            return True
        for root, _folders, _names in os.walk(path):
            with contextlib.suppress(OSError):
                Path(root).chmod(0o700)
        shutil.rmtree(path, ignore_errors=True)
    return not os.path.lexists(path)


def write_whole(to: Path, data: bytes, replace: bool = True, key: str = "") -> None:
    """Write *data* as the file *to*, whole or not at all; without *replace* never over another file.

    The data is written beside *to* under a hidden name, which a killed process
    leaves and the next writer of *to* takes over. Behind a link it is the file led
    to that is replaced; a device or pipe is written to directly. *key* is the
    option that named the file. Raises InputError where the file is there already,
    MachineError where the machine refuses or another process is writing the file.
    """
    where = to.as_posix()
    try:
        target = to.resolve() if to.is_symlink() else to
        if target.exists() and not target.is_file() and not target.is_dir():
            target.write_bytes(data)
            return
        _write_beside(target, data, replace, where)
    except FileExistsError:
        raise InputError(
            "the file is there already", where, key, allowed="with --replace it is replaced"
        ) from None
    except OSError as error:
        raise MachineError(f"{where}: {reason(error)}") from None


def _write_beside(target: Path, data: bytes, replace: bool, where: str) -> None:
    if target.exists() and not os.access(target, os.W_OK):
        raise PermissionError(13, "Permission denied", where)
    lock = _part_of(target)
    if lock is None:
        raise MachineError(f"{where}: another boardgen is writing this file; try again when it is done")
    try:
        os.ftruncate(lock.descriptor, 0)
        write_all(lock.descriptor, data)
        os.fsync(lock.descriptor)
        if replace:
            lock.path.replace(target)
        else:
            _place(lock.path, target)
        sync(target.parent)
    except BaseException:
        if _is_at(lock.descriptor, lock.path):
            with contextlib.suppress(OSError):
                lock.path.unlink()
        raise
    finally:
        lock.close()


def _part_of(target: Path) -> Lock | None:
    """Return the locked file beside *target* that is to become it; None where another is at it."""
    name = target.name
    if len(os.fsencode(name)) > _LONGEST:
        name = hashlib.sha256(os.fsencode(name)).hexdigest()[:32]
    path = target.with_name(f".{name}.{_PART}")
    lock = take_lock(path)
    if lock is not None and os.fstat(lock.descriptor).st_nlink != 1:
        # left between giving the finished file its name and taking this one away: not ours to empty
        lock.release()
        lock = take_lock(path)
    return lock


def _place(aside: Path, to: Path) -> None:
    """Give the file the name *to* in one step, which fails where another has that name."""
    try:
        to.hardlink_to(aside)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if os.path.lexists(to):
            raise FileExistsError from None
        aside.replace(to)
    else:
        aside.unlink()


@contextlib.contextmanager
def scratch_folder(name: str) -> Iterator[Path]:
    """Give an empty folder in the system's place for temporary ones, and remove it at the end.

    Those of the same *name* and user that killed processes left are removed;
    those in use are locked, and stay. Raises OSError where none can be made.
    """
    base, prefix = Path(tempfile.gettempdir()), f"{name}-"
    with contextlib.suppress(OSError):
        for stale in sorted(base.glob(f"{prefix}*")):
            _remove_stale(stale)
    folder, descriptor = _own_folder(prefix)
    try:
        yield folder
    finally:
        discard(folder)
        if descriptor >= 0:
            os.close(descriptor)


def _open_folder(folder: Path) -> int:
    """Return *folder* open and locked, -1 where that cannot be."""
    flags = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0) | getattr(os, "O_NOFOLLOW", 0)
    try:
        descriptor = os.open(folder, flags | getattr(os, "O_CLOEXEC", 0))
    except OSError:
        return -1
    try:
        if _locked(descriptor) and _is_at(descriptor, folder):
            return descriptor
    except OSError:
        pass
    os.close(descriptor)
    return -1


def _remove_stale(folder: Path) -> None:
    if fcntl is None or not folder.is_dir() or folder.stat().st_uid != os.geteuid():
        return
    descriptor = _open_folder(folder)
    if descriptor >= 0:
        discard(folder)
        os.close(descriptor)


def _own_folder(prefix: str) -> tuple[Path, int]:
    """Return a new folder, locked; one that another process takes for stale at that moment is left to it."""
    for _ in range(_TRIES):
        folder = Path(tempfile.mkdtemp(prefix=prefix))
        descriptor = _open_folder(folder)
        if descriptor >= 0:
            return folder, descriptor
        if fcntl is None:  # pragma: no cover - a system without flock
            return folder, -1
    raise OSError(11, "no temporary folder can be locked")
