"""Design files: what is read, what is derived, and each message word for word."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from design_mutants import mutants
from hypothesis import HealthCheck, given, settings

from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.load import design_catalogs, design_from, load_design
from boardgen.design.model import ContactKind, Design, OutlineKind
from boardgen.design.schema import DesignForm, json_schema
from boardgen.errors import BoardgenError, InputError, InputErrors
from boardgen.units import mm, point_mm

ROOT = Path(__file__).parents[2]
DEMOS = ("lecture-keypad", "pointer-handset", "slide-remote", "dome-fader", "chart-ball")

HEAD = 'name = "x"\nconnector = "c"\n'
ROW = '[[contacts]]\nnumber = 1\nkind = "row"\nsignal = "R0"\n'
COLUMN = '[[contacts]]\nnumber = 2\nkind = "column"\nsignal = "C0"\n'
BASE = HEAD + ROW + COLUMN  # 10 lines


def read(text: str, folder: Path = Path()) -> Design:
    return design_from(parse_toml(text.encode(), "d.toml"), folder)


def messages(text: str, folder: Path = Path()) -> list[str]:
    with pytest.raises(BoardgenError) as caught:
        read(text, folder)
    error = caught.value
    return [str(item) for item in error.errors] if isinstance(error, InputErrors) else [str(error)]


def test_what_is_left_out_is_derived() -> None:
    design = read(
        BASE + '[[contacts]]\nnumber = "A3"\nkind = "ground"\n[[contacts]]\nnumber = 4\nkind = "unused"\n'
    )
    assert [c.signal for c in design.contacts] == ["R0", "C0", "GND", ""]
    assert [c.number for c in design.contacts] == ["1", "2", "A3", "4"]
    assert [c.line for c in design.contacts] == [3, 7, 11, 14]
    assert (design.title, design.revision, design.module, design.fab) == ("x", "A", "auto", "economy-2l")
    (matrix,) = design.matrices
    assert (matrix.name, matrix.rows, matrix.columns, matrix.keys) == ("keys", ("R0",), ("C0",), ())
    assert design.outline.kind is OutlineKind.DERIVED
    assert design.holes is None
    assert len(design.digest) == 64


def test_keys_of_a_matrix_by_crossing() -> None:
    text = BASE + '[[contacts]]\nnumber = 3\nkind = "column"\nsignal = "C1"\n'
    design = read(text + '[[matrices]]\nkeys = [["a", ""]]\n')
    assert design.matrices[0].keys == (("R0", "C0", "a"),)


def test_bom_and_crlf_make_the_same_design_but_another_digest() -> None:
    plain = read(BASE)
    other = design_from(parse_toml(b"\xef\xbb\xbf" + BASE.replace("\n", "\r\n").encode(), "d.toml"), Path())
    assert other.contacts == plain.contacts
    assert other.digest != plain.digest


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            BASE.replace('"x"', '"../x"', 1),
            [
                "d.toml:1: name: the value is not allowed; found '../x'; allowed: lower-case letters, "
                "digits and hyphens, at most 48, no path"
            ],
        ),
        (
            BASE.replace("signal", "signl", 1),
            [
                "d.toml:6: contacts[1]: unknown key 'signl', did you mean 'signal'?; allowed: current_a, "
                "direction, flyback, function, inductive, kind, logic, note, number, ohms, rail, signal, source, sure, way, wire"
            ],
        ),
        (
            BASE.replace('"row"', '"rwo"'),
            [
                "d.toml:5: contacts[1].kind: the value is not allowed; found 'rwo'; allowed: row, column, "
                "switch, analog, digital, lamp, relay, buzzer, supply, ground, shield, unused"
            ],
        ),
        (HEAD, ["d.toml: contacts: the key is missing"]),
        (
            HEAD + "contacts = []\n",
            ["d.toml:3: contacts: the value is not allowed; found a list of 0; allowed: at least 1 item"],
        ),
        (
            BASE.replace("number = 2", "number = 1"),
            ["d.toml:8: contacts[2].number: contact 1 is already given in line 3"],
        ),
        (
            BASE.replace("number = 2", "number = true"),
            ["d.toml:8: contacts[2].number: the value is not allowed; found true; allowed: a text"],
        ),
        (
            BASE.replace('"C0"', '"r0"'),
            ["d.toml:10: contacts[2].signal: the signal differs only in case from R0 of contact 1 (line 3)"],
        ),
        (
            BASE.replace('"C0"', '"R0"'),
            ["d.toml:10: contacts[2].signal: signal R0 is a column here but a row at contact 1 (line 3)"],
        ),
        (
            BASE.replace('"C0"', '"R0"').replace("column", "row"),
            ["d.toml:10: contacts[2].signal: signal R0 is already on contact 1 (line 3)"],
        ),
        (
            BASE.replace('"C0"', '"GND"'),
            ["d.toml:10: contacts[2].signal: GND is the name of ground; a column needs another"],
        ),
        (
            BASE + '[[contacts]]\nnumber = 3\nkind = "lamp"\nsignal = "L"\n',
            ["d.toml:11: contacts[3]: a lamp contact needs current_a, its steady current in A"],
        ),
        (
            BASE + '[[contacts]]\nnumber = 3\nkind = "supply"\n',
            ["d.toml:11: contacts[3]: a supply contact needs a rail, the one the board gives"],
        ),
        (
            BASE + '[[contacts]]\nnumber = 3\nkind = "switch"\nrail = "5V"\n',
            [
                "d.toml:11: contacts[3]: a switch contact needs a signal",
                "d.toml:14: contacts[3].rail: a switch contact has no rail; "
                "allowed: for supply, lamp, relay, buzzer, digital, analog",
            ],
        ),
        (
            BASE + '[[contacts]]\nnumber = 3\nkind = "digital"\nsignal = "D"\n',
            ["d.toml:11: contacts[3]: a digital contact needs a direction; allowed: in, out, both"],
        ),
        (
            BASE
            + '[[contacts]]\nnumber = 3\nkind = "supply"\nsignal = "P"\nrail = "5V"\n'
            + '[[contacts]]\nnumber = 4\nkind = "supply"\nsignal = "P"\nrail = "3V3"\n',
            ["d.toml:19: contacts[4].signal: signal P is rail 3V3 here but 5V at contact 3 (line 11)"],
        ),
        (
            BASE + '[[fixed]]\nsignal = "R0"\npin = 4\n[[fixed]]\nsignal = "C0"\npin = "4"\n',
            ["d.toml:16: fixed[2].pin: pin 4 is fixed for both R0 (line 11) and C0"],
        ),
        (
            BASE + '[[fixed]]\nsignal = "R0"\npin = 4\n[[fixed]]\nsignal = "R0"\npin = "5"\n',
            ["d.toml:15: fixed[2].signal: R0 is already fixed in line 11"],
        ),
        (
            BASE + '[[fixed]]\nsignal = "R9"\npin = 4\n',
            ["d.toml:12: fixed[1].signal: there is no signal 'R9' on the contacts"],
        ),
        (
            BASE.replace("R0", "ROW_0") + '[[groups]]\nname = "g"\nsignals = ["ROW0", "C0"]\n',
            [
                "d.toml:13: groups[1].signals[1]: there is no signal 'ROW0' on the contacts, did you mean 'ROW_0'?"
            ],
        ),
        (
            BASE + '[[groups]]\nname = "g"\nsignals = ["R0", "R0"]\n',
            ["d.toml:13: groups[1].signals[2]: R0 already stands in group g"],
        ),
        (
            BASE + '[[matrices]]\nrows = ["C0"]\ncolumns = ["Q"]\n',
            [
                "d.toml:12: matrices[1].rows[1]: C0 is a column contact, not a row",
                "d.toml:13: matrices[1].columns[1]: there is no signal 'Q' on the contacts",
            ],
        ),
        (
            BASE + '[[matrices]]\nkeys = [["a", "b"], ["c"]]\n',
            [
                "d.toml:12: matrices[1].keys: keys needs one list a row; found 2 lists; allowed: 1, one a row",
                "d.toml:12: matrices[1].keys: there are 3 keys on 1 crossing",
                "d.toml:12: matrices[1].keys[1]: a list of keys needs one name a column; found 2 names; "
                'allowed: 1, "" where no key is',
            ],
        ),
        (
            BASE + '[[waivers]]\npin = "2"\nreason = "why not"\n[[waivers]]\npin = 2\nreason = "again"\n',
            ["d.toml:15: waivers[2].pin: pin 2 is already waived in line 11"],
        ),
        (
            BASE + "[holes]\ndiameter_mm = 4.0\nhead_mm = 3\n",
            [
                "d.toml:13: holes.head_mm: the screw's head is smaller than its hole; found 3; allowed: at least 4"
            ],
        ),
        (
            BASE + "[holes]\ndiameter_mm = nan\ncount = 1e99\n",
            [
                "d.toml:12: holes.diameter_mm: the value is not allowed; found nan; allowed: a finite number",
                "d.toml:13: holes.count: the value is not allowed; found 1e+99; allowed: a whole number",
            ],
        ),
        (
            BASE + "[outline]\nwidth_mm = inf\nheight_mm = -3\n",
            [
                "d.toml:12: outline.width_mm: the value is not allowed; found inf; allowed: a finite number",
                "d.toml:13: outline.height_mm: the value is not allowed; found -3; allowed: more than 0",
            ],
        ),
        (
            BASE + "[outline]\nwidth_mm = 1e9\nheight_mm = 2\n",
            [
                "d.toml:12: outline.width_mm: the value is not allowed; found 1000000000.0; allowed: at most 500"
            ],
        ),
        (
            BASE + "[outline]\nwidth_mm = 50\nheight_mm = 2\n",
            ["d.toml:13: outline.height_mm: the board is too small; found 2; allowed: at least 5"],
        ),
        (
            BASE + "[outline]\nwidth_mm = 50\n",
            ["d.toml:11: outline: width_mm and height_mm go together, height_mm is missing"],
        ),
        (
            BASE + "[outline]\nwidth_mm = 50\nheight_mm = 40\nmargin_mm = 2\n",
            [
                "d.toml:11: outline: the outline is given in more than one way; "
                "found margin_mm, width_mm and height_mm; allowed: one of them"
            ],
        ),
        (
            BASE + "[outline]\nwidth_mm = 50\nheight_mm = 40\ncorner_radius_mm = 21\n",
            [
                "d.toml:14: outline.corner_radius_mm: the corners are rounder than the board; allowed: at most 20"
            ],
        ),
        (
            BASE + "[outline]\npoints_mm = [[0, 0], [30, 30], [30, 0], [0, 30]]\n",
            ["d.toml:12: outline.points_mm: the outline crosses itself near (15.00, 15.00) mm"],
        ),
        (
            BASE + "[outline]\npoints_mm = [[0, 0], [30, 0], [30, 30], [0, 0]]\n",
            ["d.toml:12: outline.points_mm: the outline passes twice through (0, 0) mm"],
        ),
        (
            BASE + "[outline]\npoints_mm = [[0, 0], [30, 0], [30, 1]]\n",
            ["d.toml:12: outline.points_mm: the outline is 1.00 mm high, 5 to 500 mm are possible"],
        ),
        (
            BASE + '[outline]\ndxf = "../a.dxf"\n',
            [
                "d.toml:12: outline.dxf: the drawing must lie in the design's folder; found '../a.dxf'; "
                "allowed: a .dxf file, its path without .."
            ],
        ),
        (
            BASE + '[outline]\ndxf = "a.dxf"\n',
            ["nowhere/a.dxf: there is no such drawing"],
        ),
        (
            BASE.replace('"x"', '"x"\ntitle = "a\\u202eb"', 1),
            [
                "d.toml:2: title: the text holds a character that cannot be printed (U+202E); "
                "found 'a\\u202eb'"
            ],
        ),
        (
            'revision = "a/b"\n' + BASE,
            [
                "d.toml:1: revision: the value is not allowed; found 'a/b'; allowed: one or two capital letters"
            ],
        ),
        (
            "[contacts]\n" + HEAD,
            [
                "d.toml:1: contacts: the value is not allowed; found a table; allowed: a list",
                "d.toml: name: the key is missing",
                "d.toml: connector: the key is missing",
            ],
        ),
    ],
)
def test_every_fault_is_named(text: str, expected: list[str]) -> None:
    assert sorted(messages(text, Path("nowhere"))) == sorted(expected)


def test_shared_signals_may_stand_on_several_contacts() -> None:
    text = HEAD
    for n in (1, 2):
        text += f'[[contacts]]\nnumber = {n}\nkind = "ground"\n'
    for n in (3, 4):
        text += f'[[contacts]]\nnumber = {n}\nkind = "supply"\nrail = "5V"\n'
    for n in (5, 6):
        text += f'[[contacts]]\nnumber = {n}\nkind = "shield"\n'
    design = read(text)
    assert [c.signal for c in design.contacts] == ["GND", "GND", "5V", "5V", "SHIELD", "SHIELD"]
    assert design.matrices == ()


def test_a_drawn_outline_starts_at_zero() -> None:
    design = read(BASE + "[outline]\npoints_mm = [[-5, 5], [25, 5], [25, 45], [-5, 45]]\n")
    wish = design.outline
    assert wish.kind is OutlineKind.POLYGON
    assert (wish.width, wish.height) == (mm(30), mm(40))
    assert wish.shape is not None
    assert wish.shape.outer[0].start == point_mm(0, 0)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        load_design(tmp_path / "no")
    assert str(caught.value) == f"{(tmp_path / 'no').as_posix()}: there is no such file"
    with pytest.raises(InputError) as caught:
        load_design(tmp_path)
    assert str(caught.value) == f"{(tmp_path / 'design.toml').as_posix()}: there is no such file"


def test_catalogue_folder_beside_the_design(tmp_path: Path) -> None:
    assert design_catalogs(tmp_path, (Path("mine"),)) == (Path("mine"),)
    (tmp_path / "catalog").mkdir()
    assert design_catalogs(tmp_path, (Path("mine"),)) == (Path("mine"), tmp_path / "catalog")
    assert design_catalogs(tmp_path / "design.toml") == (tmp_path / "catalog",)


@pytest.mark.parametrize("name", DEMOS)
def test_the_demos_read(name: str) -> None:
    design = load_design(ROOT / "designs" / name)
    assert design.name == name
    assert design.revision == "A"
    kinds = {kind: sum(c.kind is kind for c in design.contacts) for kind in ContactKind}
    counts = {
        "lecture-keypad": {ContactKind.ROW: 8, ContactKind.COLUMN: 5},
        "pointer-handset": {ContactKind.ANALOG: 2, ContactKind.SWITCH: 4, ContactKind.LAMP: 1},
        "slide-remote": {ContactKind.SWITCH: 16, ContactKind.LAMP: 4},
        "dome-fader": {ContactKind.DIGITAL: 3, ContactKind.SUPPLY: 1},
        "chart-ball": {ContactKind.DIGITAL: 4, ContactKind.SWITCH: 2},
    }[name]
    assert {kind: kinds[kind] for kind in counts} == counts


def test_schema_names_every_key_of_the_form() -> None:
    schema = json_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert set(schema["properties"]) == set(DesignForm.model_fields)
    assert schema["additionalProperties"] is False
    assert set(schema["required"]) == {"name", "connector", "contacts"}
    number = schema["$defs"]["ContactForm"]["properties"]["number"]
    assert [kind["type"] for kind in number["anyOf"]] == ["string", "integer"]
    assert json.loads(json.dumps(schema)) == schema


def test_tracks_keep_to_45_degrees_unless_any_angle_is_asked_for() -> None:
    assert not read(BASE).any_angle
    assert not read(BASE + '[board]\ntrack_angles = "45"\n').any_angle
    assert read(BASE + '[board]\ntrack_angles = "any"\n').any_angle
    assert messages(BASE + '[board]\ntrack_angles = "30"\n') == [
        "d.toml:12: board.track_angles: the value is not allowed; found '30'; allowed: 45, any"
    ]


@given(mutants())
@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_mutated_files_give_a_design_or_a_named_error(raw: bytes) -> None:
    try:
        design = design_from(parse_toml(raw, "d.toml"), Path("nowhere"))
        text = ""
    except BoardgenError as error:
        design, text = None, str(error)
    if design is None:
        assert all(re.match(r"d\.toml(:\d+)?: \S|nowhere/", line) for line in text.split("\n"))
    else:
        assert re.fullmatch(r"[a-z0-9-]+", design.name)
        assert len({c.number for c in design.contacts}) == len(design.contacts)
