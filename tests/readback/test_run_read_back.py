"""Read-back as a stage of ``generate``: its findings join the run and decide the exit code."""

from __future__ import annotations

import json
import zipfile

from demos import DESIGNS

from boardgen.cli.main import main
from boardgen.export.files import OutFile
from boardgen.export.run_record import fabrication_files
from boardgen.pipeline import files as stage

CHECKS = ("read-back, files", "read-back, connections", "read-back, rules")


def test_a_run_carries_the_evidence(run_of):
    summary = run_of("slide-remote").summary
    checks = summary["checks"]
    assert [checks[name]["passed"] for name in CHECKS] == [True, True, True]
    evidence = checks["read-back, connections"]["evidence"]
    assert evidence["joints as in netlist"] == evidence["joints compared"] > 80
    report = (run_of("slide-remote").folder / "report.html").read_text()
    assert all(name in report for name in CHECKS)


def test_a_fault_in_the_files_fails_the_run(monkeypatch, tmp_path, capsys):
    def faulty(bundle):
        return tuple(
            OutFile(f.path, f.data.replace(b"%ADD15C,1.7", b"%ADD15C,1.6")) if f.path.endswith(".GTL") else f
            for f in fabrication_files(bundle)
        )

    monkeypatch.setattr(stage, "fabrication_files", faulty)
    assert main(["generate", str(DESIGNS / "lecture-keypad"), "--out", str(tmp_path)]) == 1
    assert "error: readback-pad: fab/lecture-keypad-A.GTL: U1 pad" in capsys.readouterr().out
    folder = tmp_path / "lecture-keypad-A"
    summary = json.loads((folder / "summary.json").read_text())
    assert summary["for_fabrication"] is False
    assert "readback-pad" in {row["rule"] for row in summary["findings"]}
    assert summary["checks"]["read-back, files"]["passed"] is False
    assert "readback-pad" in (folder / "report.html").read_text()
    readme = (folder / "fab" / "lecture-keypad-A-README.txt").read_text()
    assert "NOT FOR FABRICATION" in readme
    with zipfile.ZipFile(folder / "fab" / "lecture-keypad-A-fab.zip") as archive:
        assert archive.read("lecture-keypad-A-README.txt").decode() == readme
