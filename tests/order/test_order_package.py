"""The order package of demo runs: what is in it, and every reason to refuse one."""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from demos import DESIGNS

from boardgen.catalog.load import load_catalog
from boardgen.errors import InputError
from boardgen.export.files import OutFile
from boardgen.export.holes import board_holes
from boardgen.export.run_folder import RECORD
from boardgen.order.naming import fab_name, renamed
from boardgen.order.package import order, package_files
from boardgen.order.preflight import ordered_run
from boardgen.order.prices import load_prices
from boardgen.order.profiles import load_profile
from boardgen.readback import examine_board

DEMO = "pointer-handset"


@pytest.fixture(scope="module")
def run(run_of):
    return run_of(DEMO).folder


@pytest.fixture
def copied(run, tmp_path):
    """A copy of the run that a test may spoil."""
    return Path(shutil.copytree(run, tmp_path / "runs" / run.name))


@pytest.fixture(autouse=True)
def at_home(monkeypatch):
    monkeypatch.chdir(DESIGNS.parent)


def all_files(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def edited(run: Path, change) -> None:
    """Change the record's data."""
    data = json.loads((run / RECORD).read_text())
    change(data)
    (run / RECORD).write_text(json.dumps(data))


def refused(run: Path, tmp_path: Path, message: str, **options) -> None:
    out = tmp_path / "out"
    with pytest.raises(InputError, match=f"^{message}"):
        order(run, options.pop("quantity", 5), out, **options)
    assert not out.exists()


def test_the_package_of_single_boards(run, tmp_path):
    result = order(run, 25, tmp_path)
    assert result.folder == tmp_path / f"{DEMO}-A-order-25"
    files = all_files(result.folder)
    form = json.loads(files["order.json"])
    assert (form["quantity"], form["delivery"], form["panel"]) == (25, "single boards", None)
    assert result.notes == ()
    listed = {row["path"]: row["sha256"] for row in form["files"]}
    archive = f"{DEMO}-A-order-25.zip"
    assert set(files) == {*listed, "order.json", archive}
    assert all(hashlib.sha256(files[path]).hexdigest() == digest for path, digest in listed.items())
    with zipfile.ZipFile(io.BytesIO(files[archive])) as packed:
        assert {name: packed.read(name) for name in packed.namelist()} == {
            path: data for path, data in files.items() if path != archive
        }
    fab = f"fab/{DEMO}-A-fab.zip"
    with zipfile.ZipFile(io.BytesIO(files[fab])) as packed:
        names = packed.namelist()
        assert names == sorted(names, key=str.casefold)
        for name in names:
            assert packed.read(name) == files[f"fab/{name}"]
            if not name.endswith("README.txt"):
                assert packed.read(name) == (run / "fab" / name).read_bytes()
    assert {name.rsplit(".", 1)[-1] for name in names} >= {
        "GTL",
        "GBL",
        "GTS",
        "GBS",
        "GTO",
        "GKO",
        "DRL",
        "IPC",
    }


def test_the_readme_has_every_field(run, tmp_path, built):
    result = order(run, 25, tmp_path)
    text = (result.folder / "README.txt").read_text()
    fields = {line[:15].strip(): line[15:].strip() for line in text.splitlines() if line[15:]}
    board = built(DEMO).bundle.board
    plated = sum(hole.plated for hole in board_holes(board))
    assert fields["Quantity"] == "25 boards, as single boards"
    assert fields["Board size"] == "{:.2f} x {:.2f} mm".format(
        result.values["width_mm"], result.values["height_mm"]
    )
    assert fields["Plated holes"].startswith(f"{plated}, finished +/- 0.08 mm")
    assert fields["Unplated holes"].startswith(f"{len(board_holes(board)) - plated}, ")
    assert fields["Smallest track"].startswith(
        f"{min(t.width for t in board.tracks).mm:.3f} mm (class limit 0.15"
    )
    assert (fields["Impedance"], fields["X-outs"]) == ("no", "no")
    for field in (
        "Copper layers",
        "Material",
        "Thickness",
        "Copper",
        "Finish",
        "Mask",
        "Legend",
        "Vias",
        "Outline",
    ):
        assert fields[field]


def test_the_same_order_gives_the_same_bytes_and_replaces_the_earlier_one(run, tmp_path):
    first = all_files(order(run, 5, tmp_path, bom="distributor").folder)
    other = all_files(order(run, 5, tmp_path).folder)
    again = all_files(order(run, 5, tmp_path, bom="distributor").folder)
    assert first == again
    assert first["assembly/bom.csv"] != other["assembly/bom.csv"]
    assert [p.name for p in tmp_path.iterdir()] == [f"{DEMO}-A-order-5"]


def test_the_runs_own_files_read_back_as_the_board_that_panels_copy(run):
    ordered = ordered_run(run)
    files = (*ordered.under("fab"), *(f for f in ordered.files if f.path.endswith(".kicad_pcb")))
    report = examine_board(files, ordered.board, None, ordered.fab)
    assert report.findings == ()
    agreed = dict(report.checks[0].evidence)
    assert agreed["printed lines as wanted"] > 20
    assert agreed["pads and vias as wanted"] > 50


def test_panels_go_into_the_package(run, tmp_path):
    result = order(run, 7, tmp_path, panel="2x2")
    files = all_files(result.folder)
    said = result.values["panel"]
    assert (said["panels"], said["boards"], said["boards_over"]) == (2, 8, 1)
    assert result.values["delivery"] == "panels"
    assert all(check["passed"] for check in result.values["panel_checks"].values())
    assert {"drawings/panel.svg", "drawings/panel.pdf", f"cad/{DEMO}-panel.kicad_pcb"} <= set(files)
    readme = files["README.txt"].decode()
    assert "Panels     2 panels of 4 boards, 2 x 2" in readme
    assert f"{DEMO}-panel-A.GTL" in readme
    assert b"R1-A1" in files["assembly/positions.csv"] or b"U1-A1" in files["assembly/positions.csv"]
    assert b"-A1" not in files["assembly/positions-board.csv"]
    for end in ("GTO", "GBO"):  # printed as on the single board, stroke by stroke
        single = (run / "fab" / f"{DEMO}-A.{end}").read_bytes()
        assert files[f"fab/{DEMO}-panel-A.{end}"].count(b"D01*") == 4 * single.count(b"D01*") > 0


def test_a_classs_file_names_are_used(run):
    ordered = ordered_run(run)
    fab = replace(
        ordered.fab, files=(("plated-holes", "{name}.TXT"), ("top-copper", "{name}_r{revision}.GTL"))
    )
    files, _values = package_files(replace(ordered, fab=fab), load_profile(), 3)
    names = {file.path for file in files}
    assert {f"fab/{DEMO}.TXT", f"fab/{DEMO}_rA.GTL", f"fab/{DEMO}-A.GBL"} <= names
    assert fab_name("fab/x-A-PTH.DRL", fab, "x", "A") == "x.TXT"
    with pytest.raises(InputError, match="gives two files one name; found one"):
        renamed(
            (OutFile("a.GTL", b""), OutFile("a.GBL", b"")),
            replace(fab, files=(("top-copper", "one"), ("bottom-copper", "one"))),
            "a",
            "A",
        )


@pytest.mark.parametrize("quantity", [0, -3, 100_001])
def test_an_absurd_quantity_is_refused(run, tmp_path, quantity):
    message = f"--quantity: a number of boards is wanted; found {quantity}; allowed: 1 to 100000$"
    refused(run, tmp_path, message, quantity=quantity)


def test_a_folder_that_is_no_run_is_refused(tmp_path):
    refused(tmp_path, tmp_path, f"{re.escape(tmp_path.as_posix())}: no run: it holds no summary.json$")


def test_a_run_of_another_version_is_refused(copied, tmp_path):
    edited(copied, lambda data: data.update(tool="boardgen 0.0.9"))
    refused(
        copied, tmp_path, ".*made by another version of the tool.*found boardgen 0.0.9; allowed: boardgen "
    )


def test_a_run_with_an_error_is_refused(copied, tmp_path):
    row = {
        "rule": "spacing", "severity": "error", "message": "too near", "at_mm": None, "layer": "",
        "items": [], "measured_mm": None, "limit_mm": None, "waived": "",
    }  # fmt: skip
    edited(copied, lambda data: data["findings"].append(row))
    refused(
        copied,
        tmp_path,
        ".*: the run has a finding of severity error and is not for fabrication; found spacing",
    )


def test_a_run_with_a_failed_or_missing_read_back_is_refused(copied, tmp_path):
    edited(copied, lambda data: data["checks"]["read-back, files"].update(passed=False))
    refused(copied, tmp_path, ".*: a check of the run failed; found read-back, files$")
    edited(copied, lambda data: data.update(checks={"rule check": {"passed": True, "evidence": {}}}))
    refused(copied, tmp_path, ".*: the run's files were never read back: generate it again$")


def test_a_tampered_file_is_refused(copied, tmp_path):
    place = copied / "fab" / f"{DEMO}-A.GTL"
    place.write_bytes(place.read_bytes().replace(b"D03*", b"D02*", 1))
    refused(copied, tmp_path, f"{re.escape(place.as_posix())}: the file is not the one the run recorded")
    place.unlink()
    refused(copied, tmp_path, f"{re.escape(place.as_posix())}: there is no such file$")


def test_files_that_agree_with_the_record_but_not_with_each_other_are_refused(copied, tmp_path):
    place = copied / "fab" / f"{DEMO}-A.GTL"
    data = re.sub(rb"(?m)^X\d+Y\d+D03\*\n", b"", place.read_bytes(), count=1)
    place.write_bytes(data)

    def record(summary) -> None:
        for row in summary["files"]:
            if row["path"].endswith(".GTL"):
                row.update(bytes=len(data), sha256=hashlib.sha256(data).hexdigest())

    edited(copied, record)
    refused(
        copied, tmp_path, ".*: the run's files do not read back clean, so it is not for fabrication; found "
    )


def test_a_changed_design_is_refused(run, tmp_path):
    design = Path(shutil.copytree(DESIGNS / DEMO, tmp_path / "design"))
    text = (design / "design.toml").read_text()
    (design / "design.toml").write_text(text + "\n# changed\n")
    refused(
        run, tmp_path, ".*: the design has changed since the run: generate it again; found ", design=design
    )
    message = ".*: --design: another design than the run's; found slide-remote; allowed: pointer-handset$"
    refused(run, tmp_path, message, design=DESIGNS / "slide-remote")


def test_a_design_not_at_hand_is_a_note(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (note,) = order(run, 2, tmp_path / "out").notes
    assert note.severity == "note"
    assert note.message.startswith("the design is not at hand (looked for designs/pointer-handset)")


def test_a_price_table_decides_between_panels_and_single_boards(run, tmp_path):
    table = (DESIGNS / "prices.toml").read_text()
    by_lot = tmp_path / "by-lot.toml"
    by_lot.write_text(table)
    result = order(run, 5, tmp_path / "a", panel="auto", prices=load_prices(by_lot))
    assert (result.values["delivery"], result.values["panel"]) == ("single boards", None)
    # where every piece costs the same whatever its size, as many boards as go on one are cheapest
    start, end = table.index("[[boards.sizes]]"), table.index("# What a value of an option adds")
    by_piece = tmp_path / "by-piece.toml"
    size = "[[boards.sizes]]\nup_to_mm = [400, 400]\neach = [[1, 9.00]]\n\n"
    by_piece.write_text(table[:start] + size + table[end:])
    prices = load_prices(by_piece)
    result = order(run, 4, tmp_path / "b", panel="auto", prices=prices)
    assert (result.values["panel"]["panels"], result.values["panel"]["boards"]) == (1, 4)
    assert (
        result.estimate.quotes[0].best.total
        < order(run, 4, tmp_path / "c", panel="2x1", prices=prices).estimate.quotes[0].best.total
    )


def test_an_unknown_profile_and_panel_are_refused(run, tmp_path):
    refused(run, tmp_path, "--bom: there is no profile 'nobody'", bom="nobody")
    refused(run, tmp_path, "--panel: no such panel; found 'many'", panel="many")
    refused(run, tmp_path, "--panel: no panel of 2 x 8 holds boards of ", panel="2x8")


def test_nobody_elses_folder_is_replaced(run, tmp_path):
    mine = tmp_path / f"{DEMO}-A-order-5"
    mine.mkdir()
    (mine / "letter.txt").write_text("mine")
    with pytest.raises(
        InputError, match=r"the folder that the package would replace is none: it holds no order\.json$"
    ):
        order(run, 5, tmp_path)
    assert all_files(tmp_path) == {f"{DEMO}-A-order-5/letter.txt": b"mine"}
    other = tmp_path / f"{DEMO}-A-order-6"
    other.write_text("a file")
    with pytest.raises(InputError, match=r"taken by something that is no folder$"):
        order(run, 6, tmp_path)
    assert other.read_text() == "a file"


def test_fab_classes_that_order_say_so():
    fabs = load_catalog().fabs
    assert {name for name, fab in fabs.items() if fab.panel is not None} == {"economy-2l", "fine-2l"}
