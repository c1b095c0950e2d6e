"""Whatever is done to a file, reading it back ends in findings, never in a traceback."""

from __future__ import annotations

import io
import warnings
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from runkit import bundle_of, examined, files_of, out_files, path_of

from boardgen.board.model import Side
from boardgen.export.files import OutFile
from boardgen.readback import examine_run, read
from boardgen.readback.archive import check_zip

NAME = "pointer-handset"
ENDINGS = (".GTL", ".GKO", ".GTO", "-PTH.DRL", "-NPTH.DRL", ".IPC", ".kicad_pcb")
RULE = ("readback-", "run-")


@st.composite
def damage(draw):
    """Return a file's ending, and a function that damages its bytes."""
    ending = draw(st.sampled_from(ENDINGS))
    kind = draw(st.sampled_from(("cut", "delete", "repeat", "flip", "insert")))
    where, length = draw(st.floats(0, 1)), draw(st.integers(1, 60))
    junk = draw(
        st.one_of(
            st.binary(max_size=12),
            st.sampled_from(
                [b"%", b"*", b"D03*", b"G36*", b"G37*", b"X99999999999Y1D03*", b"(", b")", b'"', b"nan"]
            ),
        )
    )

    def apply(data: bytes) -> bytes:
        at = int(where * max(0, len(data) - 1))
        if kind == "cut":
            return data[:at]
        if kind == "delete":
            return data[:at] + data[at + length :]
        if kind == "repeat":
            return data[: at + length] + data[at:]
        if kind == "flip":
            return data[:at] + bytes([data[at] ^ (1 + length % 255)]) + data[at + 1 :] if data else data
        return data[:at] + junk + data[at:]

    return ending, apply


@settings(max_examples=30)
@given(damage())
def test_a_damaged_file_gives_findings_at_most(harm):
    ending, apply = harm

    def change(files):
        path = path_of(files, ending)
        files[path] = apply(files[path])

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        report = examined(NAME, change)
    assert all(f.rule.startswith(RULE) for f in report.findings)


@settings(max_examples=20)
@given(damage())
def test_a_damaged_file_is_no_traceback_without_the_board_either(harm):
    ending, apply = harm
    files = files_of(NAME)
    path = path_of(files, ending)
    files[path] = apply(files[path])
    fab = bundle_of(NAME).bound.fab
    report = examine_run(out_files(files), (Side.TOP, Side.BOTTOM), (0.0, 0.0), fab)
    assert all(f.rule.startswith(RULE) for f in report.findings)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xfe\x00",
        b"%" * 1000,
        b"G36*" * 500 + b"M02*",
        b"%SRX2000Y2000I1J1*%" + b"D10*X0Y0D03*" * 50,
    ],
)
def test_a_layer_of_rubbish_is_a_finding(data):
    geometry = read((OutFile("fab/x.GTL", data), OutFile("fab/x-PTH.DRL", data)))
    assert {f.items[0] for f in geometry.findings} == {"fab/x.GTL", "fab/x-PTH.DRL"}


HEAD = "%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.1*%\nD10*\n"
ENDLESS = {
    "copies": ("x.GTL", HEAD + "%SRX3000Y3000I1J1*%X1Y1D03*%SR*%M02*", "asks for 9000000 copies"),
    "repeats": (
        "x-PTH.DRL",
        "M48\nMETRIC\nT1C1\n%\nT1\nX1.0Y1.0\nR9999999X0.1\nM30\n",
        "asks for 9999999 copies",
    ),
    "one statement": ("x.GTL", HEAD + " " * 3_000_000, "a statement of more than 20000 characters"),
    "one line": ("x-PTH.DRL", "X1.0Y1.0" * 300_000, "a statement of more than 20000 characters"),
    "many statements": ("x.GTL", HEAD + "X1Y1D03*" * 400_001, "more than 400000 statements"),
    "size": ("x.GTL", HEAD + "X1Y1D03*\n" * 1_000_000, "larger than 8000000 bytes"),
}


@pytest.mark.parametrize("case", sorted(ENDLESS))
def test_what_could_be_read_without_end_is_refused(case):
    name, text, words = ENDLESS[case]
    (told,) = read((OutFile(f"fab/{name}", text.encode()),)).findings
    assert told.message.startswith(f"fab/{name}: cannot be read: {words}")


def test_a_cad_board_nested_too_deeply_is_a_finding():
    files = files_of(NAME)
    path = path_of(files, ".kicad_pcb")
    files[path] = b"(" * 100_000
    report = examined(NAME, lambda given: given.update(files))
    (told,) = report.findings
    assert told.rule == "readback-file"
    assert told.message == f"{path}: cannot be read: the lists are nested too deeply"


def packed(files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for path, data in files.items():
            archive.writestr(path.rsplit("/", 1)[-1], data)
    return OutFile("fab/x-fab.zip", out.getvalue())


def test_a_package_that_is_not_the_files_beside_it_is_told():
    files = {"fab/a.GTL": b"one", "fab/b.GBL": b"two"}
    assert check_zip((*out_files(files), packed(files))) == []
    changed = packed({"fab/a.GTL": b"One", "fab/c.GBL": b"two"})
    told = [f.message for f in check_zip((*out_files(files), changed))]
    assert told == [
        "fab/x-fab.zip: a.GTL is not the file beside it",
        "fab/x-fab.zip: b.GBL is not in it",
        "fab/x-fab.zip: c.GBL is not beside it",
    ]
    broken = OutFile("fab/x-fab.zip", b"PK no")
    assert [f.rule for f in check_zip((*out_files(files), broken))] == ["readback-file"]
