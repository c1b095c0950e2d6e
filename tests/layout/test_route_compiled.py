"""Kernels compile with and without a place to cache them."""

from __future__ import annotations

import importlib
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
import pytest

from boardgen.compiled import is_cold, kernel
from boardgen.layout.route import warm
from boardgen.layout.route.kernels import breaches, negotiate, tighten


def double(x: int) -> int:
    return 2 * x


def test_without_a_cache_folder_a_kernel_is_compiled_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = numba.njit
    asked: list[bool] = []

    def no_place(*, cache: bool) -> Callable[[Any], Any]:
        asked.append(cache)
        if cache:
            # what numba says where neither package, NUMBA_CACHE_DIR nor home can be written
            raise RuntimeError("cannot cache function 'double': no locator available")
        return plain(cache=False)

    with monkeypatch.context() as patched:
        patched.setattr(numba, "njit", no_place)
        made = kernel(double)
    assert asked == [True, False]
    assert made(21) == 42


def test_warming_up_compiles_every_kernel_once() -> None:
    warm()
    before = [len(k.signatures) for k in (negotiate, tighten, breaches)]
    warm()
    assert [len(k.signatures) for k in (negotiate, tighten, breaches)] == before
    assert all(count >= 1 for count in before)


def test_a_kernel_is_cold_until_its_code_is_cached(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    code = tmp_path / "fresh_kernel.py"
    code.write_text(
        "from boardgen.compiled import is_cold, kernel\n\n\n@kernel\ndef twice(x):\n    return 2 * x\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    module = importlib.import_module("fresh_kernel")
    assert is_cold(module.twice)
    assert module.twice(21) == 42
    assert not is_cold(module.twice)
    assert is_cold(len)  # nothing of numba's: never cached


LOADED = """
import sys
import numpy
from boardgen.matching import cheapest_pairing
costs = numpy.array([[4.0, 1.0], [2.0, 3.0]])
print(cheapest_pairing(costs), "scipy.linalg" in sys.modules)
import scipy.linalg
print(scipy.linalg.norm([3.0, 4.0]))
"""


def test_a_kernel_runs_without_the_library_for_matrices_which_loads_as_ever_later() -> None:
    run = subprocess.run([sys.executable, "-c", LOADED], capture_output=True, text=True, check=True)
    assert run.stdout.splitlines() == ["[1 0] False", "5.0"]
