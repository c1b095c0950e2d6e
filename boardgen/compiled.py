"""One way to compile a kernel: cached where a cache can be written, plain otherwise."""

from __future__ import annotations

import contextlib
import importlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

Kernel = TypeVar("Kernel", bound=Callable[..., Any])

_BLAS = "scipy.linalg"


@contextlib.contextmanager
def _absent(name: str) -> Iterator[None]:
    """Let module *name* count as not installed, unless it is loaded already."""
    if name in sys.modules:
        yield
        return
    sys.modules[name] = None  # type: ignore[assignment] # how the import system is told so
    try:
        yield
    finally:
        del sys.modules[name]


# Before its first kernel, cached or not, numba looks whether kernels could multiply matrices. That look loads
# scipy.linalg, a twentieth of a whole run, for something that none of ours does.
with _absent(_BLAS):
    importlib.import_module("numba.np.arraymath")


def kernel(function: Kernel) -> Kernel:
    """Compile *function* for this machine at its first call.

    The machine code is kept beside the source, in NUMBA_CACHE_DIR or in the
    user's cache folder. Where none of them can be written numba refuses to
    cache at all; then the kernel is compiled anew in each process.
    """
    try:
        compiled: Any = numba.njit(cache=True)(function)
    except RuntimeError:
        compiled = numba.njit(cache=False)(function)
    return cast(Kernel, compiled)


def is_cold(function: Callable[..., Any]) -> bool:
    """Whether a kernel has no machine code cached yet, so that its first call compiles for seconds."""
    folder = getattr(getattr(function, "stats", None), "cache_path", None)
    if not folder:
        return True
    stem = function.__module__.rpartition(".")[2]
    return next(Path(folder).glob(f"{stem}.{function.__name__}-*.nbi"), None) is None
