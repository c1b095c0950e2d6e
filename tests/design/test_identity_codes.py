"""Codes of identification straps: one of its own for each revision, none for boards without straps."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

import json
from pathlib import Path
from unittest import mock

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.catalog.load import load_catalog
from boardgen.catalog.tomlfile import TomlFile, parse_toml
from boardgen.design import identity
from boardgen.design.bind import bind
from boardgen.design.load import design_from
from boardgen.design.model import NO_STRAPS, Design
from boardgen.design.needs import strap_pins
from boardgen.errors import BoardgenError, InputError, InputErrors
from boardgen.export.run_folder import RECORD
from boardgen.pipeline.record import MAX_RECORD
from boardgen.revision.nextcode import next_code

BASE = 'name = "x"\nconnector = "box-header-2x5"\nmodule = "pico-2"\nrevision = "C"\n[[contacts]]\nnumber = 1\nkind = "switch"\nsignal = "KEY"\n'


def read(text: str, folder: Path = Path("nowhere"), revision: str | None = None) -> Design:
    return design_from(parse_toml(text.encode(), "d.toml"), folder, revision)


def messages(text: str, folder: Path = Path("nowhere")) -> list[str]:
    with pytest.raises(BoardgenError) as caught:
        read(text, folder)
    error = caught.value
    return [str(item) for item in error.errors] if isinstance(error, InputErrors) else [str(error)]


def record(folder: Path, revision: str, told: object) -> None:
    place = folder / "history" / revision
    place.mkdir(parents=True)
    (place / "summary.json").write_text(json.dumps({"revision": revision, "identity": told}), "utf-8")


@pytest.fixture
def history(tmp_path: Path) -> Path:
    """A before there were straps, B with code 1, and this revision's own record, which does not count."""
    record(tmp_path, "A", None)
    record(tmp_path, "B", {"code": 1, "pull": "up"})
    record(tmp_path, "C", {"code": 2, "pull": "up"})
    return tmp_path


def test_no_table_no_straps(history: Path) -> None:
    assert read(BASE, history).identity is None


def test_the_lowest_free_code_is_taken(history: Path) -> None:
    found = read(BASE + "[identity]\nbits = 2\n", history).identity
    assert found is not None
    assert (found.code, found.bits, found.pull, found.ohms) == (2, 2, "up", 2200.0)
    assert (found.earlier, found.line) == ((("B", 1),), 9)
    assert found.signals == ("BOARD_ID0", "BOARD_ID1")
    assert [found.bit(place) for place in range(2)] == [0, 1]
    first = read(BASE + "[identity]\nbits = 2\n").identity
    assert first is not None
    assert first.code == 1


def test_another_revision_on_the_command_line_counts_the_others(history: Path) -> None:
    found = read(BASE + "[identity]\nbits = 2\n", history, "D").identity
    assert found is not None
    assert found.code == 3


def test_the_digest_follows_the_history(history: Path) -> None:
    text = BASE + "[identity]\nbits = 2\n"
    assert read(text, history).digest != read(text).digest
    assert read(BASE, history).digest == read(BASE).digest


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            "bits = 2\ncode = 1",
            "d.toml:11: identity.code: revision B has that code already; found 1; allowed: 2, 3",
        ),
        (
            "bits = 2\ncode = 0",
            "d.toml:11: identity.code: that code is read on boards without straps and kept for them; found 0; allowed: 2, 3",
        ),
        (
            "bits = 2\ncode = 4",
            "d.toml:11: identity.code: the code does not fit in 2 bits; found 4; allowed: 2, 3",
        ),
        (
            "bits = 1",
            "d.toml:10: identity.bits: earlier revisions have every code of 1 bit; found 1; allowed: 2 to 8",
        ),
        (
            'bits = 2\npull = "down"',
            "d.toml:11: identity.pull: boards of revision B are read with the pull-ups on; with the others firmware would read another code there; found down; allowed: up",
        ),
    ],
)
def test_what_is_wrong_is_said_once(table: str, message: str, history: Path) -> None:
    assert messages(BASE + f"[identity]\n{table}\n", history) == [message]


def test_a_contact_may_not_have_a_straps_name() -> None:
    text = BASE.replace('"KEY"', '"board_id1"') + "[identity]\nbits = 2\n"
    (said,) = messages(text)
    assert said.startswith("d.toml:8: contacts")
    assert said.endswith("board_id1 is the name of an identification strap")
    assert read(text.replace("bits = 2", "bits = 1")).identity is not None


@pytest.mark.parametrize(
    "table", ["bits = 0", "bits = 9", "bits = true", "bits = 2\ncode = 1.0", "bits = 2\nohms = 0", "code = 1"]
)
def test_forms_that_cannot_be(table: str) -> None:
    (text,) = messages(BASE + f"[identity]\n{table}\n")
    assert text.startswith("d.toml:")
    assert "identity" in text


@pytest.mark.parametrize(
    "told",
    [7, {"code": 0, "pull": "up"}, {"code": True, "pull": "up"}, {"code": 256, "pull": "up"}, {"code": 1}],
)
def test_a_record_that_tells_nonsense(told: object, tmp_path: Path) -> None:
    record(tmp_path, "A", told)
    with pytest.raises(InputError) as caught:
        read(BASE + "[identity]\nbits = 2\n", tmp_path)
    assert caught.value.key.startswith("identity")
    assert caught.value.where.endswith("history/A/summary.json")


def test_a_record_that_is_none(tmp_path: Path) -> None:
    place = tmp_path / "history" / "A"
    place.mkdir(parents=True)
    (place / "summary.json").write_text("{", "utf-8")
    with pytest.raises(InputError, match="not JSON"):
        read(BASE + "[identity]\nbits = 2\n", tmp_path)
    (place / "summary.json").write_text("[]", "utf-8")
    with pytest.raises(InputError, match="not the record"):
        read(BASE + "[identity]\nbits = 2\n", tmp_path)


def test_a_record_outside_is_not_followed(tmp_path: Path) -> None:
    record(tmp_path / "other", "A", {"code": 1, "pull": "up"})
    design = tmp_path / "design"
    design.mkdir()
    (design / "history").symlink_to(tmp_path / "other" / "history")
    with pytest.raises(InputError, match="leads out"):
        read(BASE + "[identity]\nbits = 2\n", design)


def test_the_record_is_the_one_that_runs_write() -> None:
    assert identity.RECORD == RECORD
    assert identity.MAX_RECORD == MAX_RECORD


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            "bits = 8",
            "d.toml:5: identity.bits: nano-328p has too few pins for the identification straps",
        ),
        ('bits = 1\npart = "resistor-080"', "d.toml:5: identity.part: the catalogue has no resistor"),
        ('bits = 1\npart = "diode-1n4148"', "d.toml:5: identity.part: the catalogue has no resistor"),
    ],
)
def test_what_the_catalogue_has_not(table: str, message: str) -> None:
    keys = "".join(f'[[contacts]]\nnumber = {n}\nkind = "switch"\nsignal = "K{n}"\n' for n in range(1, 14))
    text = f'name = "x"\nconnector = "box-header-2x10"\nmodule = "nano-328p"\n\n[identity]\n{table}\n{keys}'
    with pytest.raises(InputErrors) as caught:
        bind(read(text), load_catalog())
    (error,) = caught.value.errors
    assert str(error).startswith(message)
    assert error.found
    assert error.allowed


def test_straps_stand_on_no_pin_that_decides_at_boot() -> None:
    for module in load_catalog().modules.values():
        for pull in ("up", "down"):
            for pin in strap_pins(module, pull):
                assert pull in pin.pulls
                assert pin.can_read
                assert (pin.strap, pin.shared, pin.onboard) == ("", "", ())


@given(st.data())
def test_codes_of_any_history_are_unique_and_never_that_of_no_straps(data: st.DataObject) -> None:
    """Revisions are opened one after the other; some state a code, some leave it open, bits may be added."""
    bits, past = data.draw(st.integers(1, 3)), []
    for place in range(data.draw(st.integers(1, 12))):
        revision = chr(ord("A") + place)
        taken = {code for code, _ in past}
        bits = min(8, bits + data.draw(st.sampled_from([0, 0, 0, 1])))
        stated = data.draw(st.none() | st.integers(0, 2**bits))
        told = tuple(identity.PastCode(name, code, "up") for code, name in past)
        text = f"[identity]\nbits = {bits}\n" + ("" if stated is None else f"code = {stated}\n")
        file = parse_toml((BASE.replace('"C"', f'"{revision}"') + text).encode(), "d.toml")
        try:
            design = _with(file, told)
        except InputErrors as error:
            (only,) = error.errors
            wrong = stated in taken or stated == NO_STRAPS or (stated or 0) >= 2**bits
            assert wrong or (stated is None and len(taken) >= 2**bits - 1)
            assert only.key in ("identity.code", "identity.bits")
            continue
        assert design.identity is not None
        code = design.identity.code
        assert code not in taken
        assert NO_STRAPS < code < 2**bits
        assert stated is not None or code == min(set(range(1, 2**bits)) - taken)
        past.append((code, revision))
        told_by_run = {"revision": revision, "identity": {"code": code}}
        if len({*taken, code} & set(range(1, 2**bits))) == 2**bits - 1:
            with pytest.raises(InputError, match="have every code"):
                next_code(design, told_by_run)
            continue
        following = next_code(design, told_by_run)
        assert following is not None
        assert following[0] == code
        assert following[1] not in {*taken, code, NO_STRAPS}
    codes = [code for code, _ in past]
    assert len(codes) == len(set(codes))


def _with(file: TomlFile, past: tuple[identity.PastCode, ...]) -> Design:
    """Load *file* as though its history told *past*."""
    with mock.patch("boardgen.design.load.past_codes", return_value=past):
        return design_from(file, Path("nowhere"))
