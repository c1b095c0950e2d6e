"""The wheel brings everything along and works away from the checkout."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

SHOW = """
import boardgen, json
from boardgen.catalog.load import load_catalog
from boardgen.footprint import library
catalog = load_catalog()
for name in library.names():
    assert library.load(name).pads or name.startswith("hole"), name
print(json.dumps({
    "home": boardgen.__file__,
    "library": str(library.own_folder()),
    "footprints": len(library.names()),
    "entries": [
        len(m)
        for m in (catalog.modules, catalog.connectors, catalog.components, catalog.fabs, catalog.logic)
    ],
    "problems": [str(p) for p in catalog.problems],
}))
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    if importlib.util.find_spec("hatchling") is None:
        pytest.skip("hatchling, which builds the wheel, is not installed")
    folder = tmp_path_factory.mktemp("wheel")
    pip = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(folder)]
    result = subprocess.run([*pip, str(ROOT)], capture_output=True, text=True, check=False)
    if "No module named pip" in result.stderr:
        pytest.skip("pip is not installed")
    assert result.returncode == 0, result.stderr
    (made,) = folder.glob("*.whl")
    return made


def test_the_wheel_holds_every_data_file(wheel):
    held = set(zipfile.ZipFile(wheel).namelist())
    prints = {f"boardgen/footprint/library/{p.name}" for p in (ROOT / "footprints").glob("*.kicad_mod")}
    data = {p.relative_to(ROOT).as_posix() for p in (ROOT / "boardgen/catalog/data").rglob("*.toml")}
    pages = {p.relative_to(ROOT).as_posix() for p in (ROOT / "boardgen").rglob("*.j2")}
    assert len(prints) > 90
    assert len(data) > 90
    assert "boardgen/export/report.html.j2" in pages
    assert prints | data | pages <= held
    assert not [name for name in held if name.startswith(("tests/", "designs/", "footprints/"))]


def test_installed_it_finds_its_catalogue_and_footprints_from_anywhere(wheel, tmp_path):
    target, elsewhere = tmp_path / "site", tmp_path / "elsewhere"
    elsewhere.mkdir()
    pip = [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--target", str(target), str(wheel)]
    subprocess.run(pip, check=True, capture_output=True)
    env = {**os.environ, "PYTHONPATH": str(target), "PYTHONDONTWRITEBYTECODE": "1"}

    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, *arguments], cwd=elsewhere, env=env, capture_output=True, text=True, check=True
        )

    shown = json.loads(run("-c", SHOW).stdout)
    assert Path(shown["home"]).is_relative_to(target)
    assert Path(shown["library"]) == target / "boardgen/footprint/library"
    assert shown["footprints"] == len(list((ROOT / "footprints").glob("*.kicad_mod")))
    kinds = ("modules", "connectors", "parts", "fabs", "logic")
    data = ROOT / "boardgen/catalog/data"
    assert shown["entries"] == [len(list((data / kind).glob("*.toml"))) for kind in kinds]
    assert shown["problems"] == []
    listing = run("-m", "boardgen", "catalog", "modules").stdout
    assert "pico-2" in listing
    assert list(elsewhere.iterdir()) == []
