"""Pin files refuse firmware that was written for another pin map: compiled by gcc, imported by Python."""

from __future__ import annotations

import importlib.util
import json
import shutil
import subprocess

import pytest

from boardgen.export.firmware import firmware_files


@pytest.fixture
def pins(built, tmp_path):
    """The folder of a demo's pin files, and its pin map's digest."""
    bundle = built("slide-remote").bundle
    for file in firmware_files(bundle):
        (tmp_path / file.path.rpartition("/")[2]).write_bytes(file.data)
    return tmp_path, bundle.pinmap.digest()


def compiled(folder, *defines: str) -> subprocess.CompletedProcess[str]:
    source = folder / "main.c"
    source.write_text('#include "slide_remote_pins.h"\nint main(void) { return 0; }\n')
    command = ["gcc", "-std=c99", "-pedantic", "-Wall", "-Werror", "-fsyntax-only", *defines, str(source)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc here")
def test_the_header_builds_with_its_own_pin_map_and_with_no_other(pins):
    folder, digest = pins
    assert compiled(folder).returncode == 0
    assert compiled(folder, f"-DPINS_WRITTEN_FOR=0x{digest}ULL").returncode == 0
    other = f"{int(digest, 16) ^ 1:012x}"
    refused = compiled(folder, f"-DPINS_WRITTEN_FOR=0x{other}ULL")
    assert refused.returncode != 0
    assert "this firmware was written for another pin map than BOARD_PIN_MAP" in refused.stderr


def test_the_module_starts_with_its_own_pin_map_and_with_no_other(pins):
    folder, digest = pins
    spec = importlib.util.spec_from_file_location("pins_of_demo", folder / "slide_remote_pins.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.check_pins(digest)
    with pytest.raises(RuntimeError, match=rf"^written for pin map 000000000000, these pins are {digest}$"):
        module.check_pins("000000000000")


def test_the_json_says_what_to_compare(pins):
    folder, digest = pins
    data = json.loads((folder / "slide_remote_pins.json").read_text())
    assert data["pin_map"] == digest
    assert data["check"] == "refuse to start unless pin_map is the one the firmware was written for"
