"""The catalogue in hand: lazy reading, the user's folders, and each fault word for word."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

from pathlib import Path

import pytest

from boardgen.catalog.load import DATA, load_catalog, matching, read_entry
from boardgen.catalog.model import Connector, Module
from boardgen.catalog.pads import pad_problems
from boardgen.errors import BoardgenError, InputError, InputErrors

PICO = (DATA / "modules" / "pico-2.toml").read_text()
FAB = (DATA / "fabs" / "economy-2l.toml").read_text()

CONNECTOR = """\
kind = "connector"
id = "mine"
name = "My plug"
footprint = "mine"
group = "own"
gender = "plug"
mounting = "straight"
body_mm = [-5, -5, 5, 5]
height_mm = 8
manufacturer = "TI"
mpn = "1"
contacts = [
  { number = "1", x_mm = -1.27, y_mm = 0 },
  { number = "2", x_mm = 1.27, y_mm = 0 },
]
[[sources]]
document = "a drawing"
"""

FOOTPRINT = """\
(footprint "mine" (version 20240108) (generator "test") (layer "F.Cu")
  (pad "1" thru_hole circle (at -1.27 0) (size 1.8 1.8) (drill 1) (layers "*.Cu" "*.Mask"))
  (pad "{second}" thru_hole circle (at 1.27 0) (size 1.8 1.8) (drill 1) (layers "*.Cu" "*.Mask")))
"""


def test_our_own_entries_all_read_and_their_ids_are_their_files() -> None:
    catalog = load_catalog()
    assert catalog.problems == ()
    for kind, entries in (
        ("modules", catalog.modules),
        ("connectors", catalog.connectors),
        ("parts", catalog.components),
        ("fabs", catalog.fabs),
        ("logic", catalog.logic),
    ):
        files = sorted(path.stem for path in (DATA / kind).glob("*.toml"))
        assert list(entries) == files
        assert all(catalog.entry(name) is entry for name, entry in entries.items())


def test_a_kind_asked_for_the_wrong_way_and_unknown_ids() -> None:
    catalog = load_catalog()
    with pytest.raises(InputError) as caught:
        catalog.module("economy-2l")
    assert str(caught.value) == "'economy-2l' is a fab class, not a module"
    with pytest.raises(InputError) as caught:
        catalog.module("pico2")
    assert str(caught.value) == "there is no module 'pico2' in the catalogue, did you mean 'pico-2'?"
    with pytest.raises(InputError) as caught:
        catalog.entry("zzzzzz")
    assert str(caught.value) == "there is no catalogue entry 'zzzzzz'"
    with pytest.raises(InputError) as caught:
        load_catalog([Path("no/such/folder")])
    assert str(caught.value) == "no/such/folder: there is no such catalogue folder"


def test_the_users_folder_wins_flat_or_by_kind(tmp_path: Path) -> None:
    flat, kinds = tmp_path / "flat", tmp_path / "kinds"
    flat.mkdir()
    (kinds / "modules").mkdir(parents=True)
    (flat / "pico-2.toml").write_text(PICO.replace('name = "Pico 2"', 'name = "Flat"', 1))
    (kinds / "modules" / "pico-2.toml").write_text(PICO.replace('name = "Pico 2"', 'name = "Kinds"', 1))
    assert load_catalog().module("pico-2").name == "Pico 2"
    assert load_catalog([flat]).module("pico-2").name == "Flat"
    assert load_catalog([kinds, flat]).module("pico-2").name == "Kinds"
    assert load_catalog([flat, kinds]).modules["pico-2"].name == "Flat"


def test_a_bad_entry_is_named_and_does_not_stop_the_rest(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(CONNECTOR.replace("gender", "gendre"))
    catalog = load_catalog([tmp_path])
    assert "pico-2" in catalog.modules
    where = f"{tmp_path.as_posix()}/mine.toml"
    (unknown,) = catalog.problems
    assert str(unknown).startswith(
        f"{where}:6: unknown key 'gendre', did you mean 'gender'?; allowed: body_mm, "
    )
    with pytest.raises(InputErrors) as caught:
        catalog.connector("mine")
    assert caught.value.errors == catalog.problems


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            ('id = "mine"', 'id = "other"'),
            "f.toml:2: id: the id must be the file's name; found 'other'; allowed: 'mine'",
        ),
        (
            ('kind = "connector"\n', ""),
            "f.toml: kind: the key is missing; allowed: connector, fab, logic, module, part",
        ),
        (
            ('"connector"', '"conector"'),
            "f.toml:1: kind: the value is not allowed; found 'conector'; allowed: connector, fab, logic, module, part",
        ),
        (('number = "2"', 'number = "1"'), "f.toml:12: contacts: contact number '1' is there twice"),
        (
            ("height_mm = 8", "height_mm = nan"),
            "f.toml:9: height_mm: the value is not allowed; found nan; allowed: a finite number",
        ),
        (
            ("body_mm = [-5, -5, 5, 5]", "body_mm = [-5, -5, 5, 5e9]"),
            "f.toml:8: body_mm[4]: the value is not allowed; found 5000000000.0; allowed: at most 500",
        ),
    ],
)
def test_faults_of_one_entry(tmp_path: Path, change: tuple[str, str], message: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(CONNECTOR.replace(*change))
    with pytest.raises(BoardgenError) as caught:
        read_entry(path, "f.toml")
    assert str(caught.value) == message


def test_a_connector_without_contacts_needs_a_family(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    text = CONNECTOR[: CONNECTOR.index("contacts")] + CONNECTOR[CONNECTOR.index("[[sources]]") :]
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_entry(path, "f.toml")
    assert str(caught.value) == "f.toml: contacts: contacts or a family is needed"
    path.write_text(text + '[family]\nname = "dsbu"\n')
    with pytest.raises(InputError) as caught:
        read_entry(path, "f.toml")
    assert str(caught.value).startswith(
        "f.toml:14: family.name: there is no such family, did you mean 'dsub'"
    )


def test_an_entry_in_the_wrong_folder(tmp_path: Path) -> None:
    (tmp_path / "fabs").mkdir()
    (tmp_path / "fabs" / "mine.toml").write_text(CONNECTOR)
    (problem,) = load_catalog([tmp_path]).problems
    assert str(problem) == f"{tmp_path.as_posix()}/fabs/mine.toml:1: kind: a connector in the folder fabs"


@pytest.mark.parametrize("inside", ["", "footprints"])
def test_a_users_footprint_is_found_and_held_against_the_entry(tmp_path: Path, inside: str) -> None:
    (tmp_path / "mine.toml").write_text(CONNECTOR)
    (tmp_path / inside).mkdir(exist_ok=True)
    (tmp_path / inside / "mine.kicad_mod").write_text(FOOTPRINT.format(second="2"))
    catalog = load_catalog([tmp_path])
    entry = catalog.entry("mine")
    assert isinstance(entry, Connector)
    assert catalog.footprint("mine").numbers() == ("1", "2")
    assert catalog.footprint("mine") is catalog.footprint("mine")
    assert pad_problems(entry, catalog) == ()


def test_a_contact_without_a_pad_is_named(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(CONNECTOR)
    (tmp_path / "mine.kicad_mod").write_text(FOOTPRINT.format(second="3"))
    catalog = load_catalog([tmp_path])
    (problem,) = pad_problems(catalog.entry("mine"), catalog)
    where = f"{tmp_path.as_posix()}/mine.toml"
    assert str(problem) == f"{where}: contacts: no pad in footprint mine for 2"


def test_words_filter_in_any_case() -> None:
    catalog = load_catalog()
    found = matching(catalog.modules, ["PICO"])
    assert [entry.id for entry in found] == ["pico-2"]
    assert isinstance(found[0], Module)
    assert matching(catalog.modules, ["pico", "nothing like it"]) == ()
    assert len(matching(catalog.modules, [])) == len(catalog.modules)


@pytest.mark.parametrize("kind", ["modules", "connectors", "parts"])
def test_every_entry_of_ours_has_its_pads(kind: str) -> None:
    catalog = load_catalog()
    for path in sorted((DATA / kind).glob("*.toml")):
        assert pad_problems(catalog.entry(path.stem), catalog) == (), path.stem
