"""The readings of the lecture keypad tell the same device as its design file."""

from __future__ import annotations

from pathlib import Path

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.cli.main import main
from boardgen.design.bind import bind
from boardgen.design.load import load_design

DESIGN = Path(__file__).parents[2] / "designs" / "lecture-keypad"
FILES = [str(DESIGN / "readings" / name) for name in ("wires.csv", "keys.csv")]


def test_inferred_device_is_the_design(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["readings", *FILES]) == 0
    out, err = capsys.readouterr()
    assert "no contradictions, 0 things to measure next" in err
    head = 'name = "keypad-again"\nconnector = "dsub-25-socket-right-angle"\nmodule = "pico-2"\n'
    (tmp_path / "design.toml").write_text(head + out, encoding="utf-8")
    found, wanted = load_design(tmp_path), load_design(DESIGN)
    bind(found, load_catalog())
    assert found.device == wanted.device
    assert [(c.number, c.signal, c.kind, c.wire) for c in found.contacts] == [
        (c.number, c.signal, c.kind, c.wire) for c in wanted.contacts
    ]
    assert found.contacts[-1].note == "joined to contact 13 inside the device"
    assert [(m.rows, m.columns, m.drive, m.diodes, m.keys) for m in found.matrices] == [
        (m.rows, m.columns, m.drive, m.diodes, m.keys) for m in wanted.matrices
    ]


def test_files_in_any_order_give_the_same_device(capsys: pytest.CaptureFixture[str]) -> None:
    main(["readings", *FILES])
    first = capsys.readouterr().out
    main(["readings", *reversed(FILES)])
    assert capsys.readouterr().out == first
