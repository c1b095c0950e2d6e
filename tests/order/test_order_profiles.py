"""Profiles of lists: those that come along, a user's own, and what is wrong with a broken one."""

from __future__ import annotations

import csv
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.errors import InputError, InputErrors
from boardgen.export.bom import BOM_COLUMNS, POSITION_COLUMNS
from boardgen.export.files import OutFile
from boardgen.order.lists import bom_file, parts_of, position_file, positions_of, to_order
from boardgen.order.profiles import DATA, load_profile, profile_names

PARTS = OutFile(
    "assembly/bom.csv",
    (
        ",".join(BOM_COLUMNS) + "\n"
        'R1 R2 R10,3,10k,resistor,Maker,RC-10K,,,"a resistor, small"\n'
        "U1,1,Pico 2,module-pico-2,,,,,the module\n"
        "J1,1,D-sub,dsub-25,Maker,DS-25,,,\n"
    ).encode(),
)
POSITIONS = OutFile(
    "assembly/positions.csv",
    (
        ",".join(POSITION_COLUMNS) + "\n"
        "R1,10k,SOT-23,1.000,2.500,270.0,Top,SMT\n"
        "J1,D-sub,dsub-25,3.000,4.000,0.0,Bottom,THT\n"
    ).encode(),
)


def rows(file: OutFile, delimiter: str = ",") -> list[list[str]]:
    return list(csv.reader(io.StringIO(file.data.decode()), delimiter=delimiter))


def test_each_profile_loads_and_is_named_as_its_file():
    assert profile_names() == ("assembly-house", "distributor", "plain")
    for name in profile_names():
        profile = load_profile(name)
        assert profile.id == name
        assert profile.name
        assert profile.description


def test_the_plain_list_counts_for_all_boards():
    made = rows(bom_file("bom.csv", parts_of(PARTS), load_profile("plain"), 7))
    assert made[0][:6] == ["Line", "Designators", "Per board", "Total", "To order", "Value"]
    assert made[1][:6] == ["1", "R1 R2 R10", "3", "21", "21", "10k"]
    assert made[1][-1] == "a resistor, small"
    assert [row[0] for row in made[1:]] == ["1", "2", "3"]


def test_the_distributors_list_has_spares_and_part_numbers_alone():
    made = rows(bom_file("bom.csv", parts_of(PARTS), load_profile("distributor"), 7))
    assert [row[:4] for row in made[1:]] == [
        ["RC-10K", "26", "Maker", "R1 R2 R10"],
        ["DS-25", "8", "Maker", "J1"],
    ]


def test_the_assembly_houses_lists():
    profile = load_profile("assembly-house")
    assert rows(bom_file("bom.csv", parts_of(PARTS), profile, 7))[1][:4] == [
        "10k",
        "R1,R2,R10",
        "resistor",
        "3",
    ]
    assert rows(position_file("p.csv", positions_of(POSITIONS), profile))[1:] == [
        ["R1", "1.000mm", "2.500mm", "Top", "270.0", "SOT-23", "SMT"],
        ["J1", "3.000mm", "4.000mm", "Bottom", "0.0", "dsub-25", "THT"],
    ]


OWN = """
kind = "order-profile"
id = "mine"
name = "Mine"
[bom]
separator = "semicolon"
joiner = "comma space"
columns = [{ title = "Refs", holds = "designators" }, { title = "Shop", holds = "fixed", text = "here" }]
[positions]
types = ["SMT"]
sides = ["T", "B"]
columns = [{ title = "Ref", holds = "designator" }, { title = "Turn", holds = "rotation" },
           { title = "Side", holds = "side" }]
[[positions.turns]]
package = "sot-*"
degrees = 180.0
"""


def test_a_users_own_profile_drops_in(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(OWN)
    profile = load_profile(str(path))
    assert rows(bom_file("b", parts_of(PARTS), profile, 1), ";")[:2] == [
        ["Refs", "Shop"],
        ["R1, R2, R10", "here"],
    ]
    assert rows(position_file("p", positions_of(POSITIONS), profile), ";") == [
        ["Ref", "Turn", "Side"],
        ["R1", "90.0", "T"],
    ]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            ('holds = "designators"', 'holds = "refs"'),
            "bom.columns[1].holds: the value is not allowed; found 'refs'",
        ),
        (('joiner = "comma space"', 'joiner = "x"'), "bom.joiner: the value is not allowed; found 'x'"),
        (('title = "Shop"', 'title = "refs"'), "bom: two columns have one title"),
        (('kind = "order-profile"', 'kind = "fab"'), "kind: the value is not allowed; found 'fab'"),
        (("degrees = 180.0", "degree = 180.0"), "unknown key 'degree', did you mean 'degrees'?"),
    ],
)
def test_a_broken_profile_is_named_with_its_line(tmp_path, change, message):
    path = tmp_path / "mine.toml"
    assert change[0] in OWN
    path.write_text(OWN.replace(*change))
    with pytest.raises((InputError, InputErrors), match=re.escape(message)):
        load_profile(str(path))


def test_an_unknown_profile_names_those_there_are():
    message = (
        "--bom: there is no profile 'distributer', did you mean 'distributor'?; "
        "allowed: assembly-house, distributor, plain, or a file of your own (NAME.toml)"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        load_profile("distributer")
    with pytest.raises(InputError, match=r"^none\.toml: there is no such profile$"):
        load_profile("none.toml")


def test_a_list_with_other_columns_is_not_guessed_at():
    with pytest.raises(
        InputError, match=r"^x\.csv: the list has other columns; found A, B; allowed: Designator"
    ):
        parts_of(OutFile("x.csv", b"A,B\n1,2\n"))


@given(
    st.sampled_from(profile_names()),
    st.sampled_from(["R1", "C12", "D3", "U1", "J1", "Q9"]),
    st.integers(1, 10**6),
)
def test_spares_are_never_fewer_than_none(name, ref, total):
    ordered = to_order(load_profile(name), ref, total)
    assert total <= ordered <= total * 1.2 + 6


def test_profiles_are_data():
    assert {path.stem for path in DATA.glob("*.toml")} == set(profile_names())
