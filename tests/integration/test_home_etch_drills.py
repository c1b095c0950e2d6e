"""A connector with holes that no drill at home has: the next drill is taken and said, the run is clean."""

from __future__ import annotations

import json
import re

from design_kit import contacts

from boardgen.catalog.load import load_catalog
from boardgen.cli.main import main
from boardgen.units import Size, mm

DESIGN = (
    'name = "etched"\nmodule = "xiao-samd21"\nconnector = "dsub-9-socket-right-angle"\nfab = "home-etch-1l"\n'
    + contacts("switch", [1, 2, 3, 4])
    + contacts("ground", [9])
)


def test_a_dsub_is_drilled_with_the_next_drill_that_home_has(tmp_path) -> None:
    catalog = load_catalog()
    stored = catalog.footprint(catalog.connector("dsub-9-socket-right-angle").footprint)
    assert {pad.hole for pad in stored.pads if pad.number.isdigit()} == {Size(mm("1.1"), mm("1.1"))}

    where = tmp_path / "etched"
    where.mkdir()
    (where / "design.toml").write_text(DESIGN)
    assert main(["generate", str(where), "--out", str(tmp_path / "out")]) == 0

    run = tmp_path / "out" / "etched-A"
    findings = json.loads((run / "summary.json").read_text())["findings"]
    notes = [f for f in findings if f["rule"] == "drill-choice" and f["items"] == ["J1"]]
    assert [f["severity"] for f in notes] == ["note"]
    assert "1.1" in notes[0]["message"]
    assert "1.3" in notes[0]["message"]
    assert "home-etch-1l" in notes[0]["message"]
    assert not [f for f in findings if f["severity"] == "error"]

    drilled = "".join(p.read_text() for p in sorted((run / "fab").glob("*.DRL")))
    tools = {float(d) for d in re.findall(r"^T\d+C([\d.]+)", drilled, re.MULTILINE)}
    assert 1.3 in tools
    assert tools <= {float(d) / 1e6 for d in catalog.fab("home-etch-1l").drills}
