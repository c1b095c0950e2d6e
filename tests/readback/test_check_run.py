"""``check`` on a run folder: files against the record, and read back from disk."""

from __future__ import annotations

import json
import shutil

import pytest

from boardgen.cli.main import main
from boardgen.errors import InputError, Severity
from boardgen.pipeline import check_run, is_run


@pytest.fixture
def run_folder(run_of, tmp_path):
    folder = tmp_path / "run"
    shutil.copytree(run_of("lecture-keypad").folder, folder)
    return folder


def rules(result):
    return [(f.rule, f.items[-1]) for f in result.findings if f.severity is Severity.ERROR]


def test_a_fresh_run_is_clean(run_folder, capsys):
    assert is_run(run_folder)
    assert is_run(run_folder / "summary.json")
    assert main(["check", str(run_folder)]) == 0
    out, err = capsys.readouterr()
    assert out.splitlines()[-1].startswith("lecture-keypad-A: ")
    assert "error" not in out
    assert err == ""


def test_the_machine_answer_carries_the_evidence(run_folder, capsys):
    assert main(["check", str(run_folder / "summary.json"), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert not [row for row in answer["findings"] if row["rule"].startswith(("readback-", "run-"))]
    assert answer["exit_code"] == 0
    assert [name for name, check in answer["checks"].items() if check["passed"]] == [
        "recorded files",
        "read-back, files",
        "read-back, connections",
        "read-back, rules",
    ]
    evidence = answer["checks"]["read-back, connections"]["evidence"]
    assert evidence["joints as in cad/lecture-keypad.kicad_pcb"] == evidence["joints compared"] > 60


def test_a_changed_file_is_named_and_read_back(run_folder, capsys):
    path = run_folder / "fab" / "lecture-keypad-A.GTL"
    path.write_text(path.read_text().replace("%ADD15C,1.7", "%ADD15C,1.6"))
    assert main(["check", str(run_folder)]) == 1
    out = capsys.readouterr().out
    assert "error: run-file: fab/lecture-keypad-A.GTL: is not the file that was recorded" in out
    assert "error: readback-pad: fab/lecture-keypad-A.GTL: U1 pad 10 differs in size" in out
    assert "error: readback-layer: fab/lecture-keypad-A-fab.zip: lecture-keypad-A.GTL is not the file" in out


def test_a_missing_file_and_a_foreign_one_are_named(run_folder):
    (run_folder / "assembly" / "bom.csv").unlink()
    (run_folder / "fab" / "notes.txt").write_text("mine")
    result = check_run(run_folder)
    assert rules(result) == [("run-file", "assembly/bom.csv")]
    (foreign,) = [f for f in result.findings if f.severity is Severity.WARNING]
    assert foreign.message == "fab/notes.txt: is not of the run"
    files = result.checks[0].evidence
    assert (result.checks[0].passed, files["files"] - files["as recorded"]) == (False, 1)


def test_a_link_out_of_the_folder_is_not_followed(run_folder, tmp_path):
    secret = tmp_path / "secret"
    secret.write_text("not of the run")
    path = run_folder / "assembly" / "bom.csv"
    path.unlink()
    path.symlink_to(secret)
    result = check_run(run_folder)
    (told,) = [f.message for f in result.findings if f.severity is Severity.ERROR]
    assert told == "assembly/bom.csv: leads out of the run's folder"


def test_a_shift_of_all_fab_files_alike_is_found_by_the_cad_board(run_folder):
    record = json.loads((run_folder / "summary.json").read_text())
    for path in sorted((run_folder / "fab").iterdir()):
        if path.suffix in (".GTL", ".GBL"):
            text = path.read_text().replace("X42154000Y", "X42164000Y")
            path.write_text(text)
    assert record["board"]["origin_mm"] == [0.0, 50.5]
    assert check_run(run_folder).checks[0].passed


BAD_RECORDS = {
    "no JSON": ("{", "the record is not JSON"),
    "nothing": ("{}", "not the record of a run"),
    "deep": ("[" * 100_000, "the record is not JSON"),
    "list": ("[1, 2]", "not the record of a run"),
}


@pytest.mark.parametrize("case", sorted(BAD_RECORDS))
def test_a_broken_record_is_an_input_error(run_folder, case):
    text, words = BAD_RECORDS[case]
    (run_folder / "summary.json").write_text(text)
    with pytest.raises(InputError) as caught:
        check_run(run_folder)
    assert caught.value.message.startswith(words)
    assert main(["check", str(run_folder)]) == 2


@pytest.mark.parametrize("path", ["../secret", "/etc/passwd", "a/../../b", "a\\b", ""])
def test_a_record_that_names_files_elsewhere_is_refused(run_folder, path):
    record = json.loads((run_folder / "summary.json").read_text())
    record["files"][0]["path"] = path
    (run_folder / "summary.json").write_text(json.dumps(record))
    with pytest.raises(InputError) as caught:
        check_run(run_folder)
    assert caught.value.message == "not the record of a run"


def test_a_run_takes_no_revision(run_folder, capsys):
    assert main(["check", str(run_folder), "--revision", "B"]) == 2
    assert "--revision: a finished run has its revision; found B" in capsys.readouterr().err


def test_a_fab_class_that_is_not_known_is_said(run_folder):
    record = json.loads((run_folder / "summary.json").read_text())
    record["fab"] = "nobody-4l"
    (run_folder / "summary.json").write_text(json.dumps(record))
    result = check_run(run_folder)
    assert result.checks[0].passed
    (told,) = [f for f in result.findings if f.rule == "readback-rule"]
    assert told.severity is Severity.NOTE
    assert "nobody-4l" in told.message
    assert "read-back, rules" not in [check.name for check in result.checks]
