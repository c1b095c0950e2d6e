"""Every planted contradiction is named, with the readings that clash; nothing else is."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

import pytest
from bench_sheets import DIODES, HEAD, IDLE, KEYS, MATRIX, WIRES, lines_of, messages, of_rule, table, tell


@pytest.mark.parametrize(
    ("readings", "message", "lines"),
    [
        pytest.param(
            [*MATRIX, "K16, 1, 6, open"],
            "key 'K16' gives two results between contacts 1 and 6 in the same polarity",
            [5, 14],
            id="two results",
        ),
        pytest.param(
            [*MATRIX, "BAD, 1, 2, 2.0"],
            "no two sides: 3 keys join contacts in a ring of odd length ('BAD' 1-2, 'K16' 1-6, 'K26' 2-6); "
            "'BAD' is left out of the matrix",
            [14, 5, 8],
            id="key between two rows",
        ),
        pytest.param(
            [*MATRIX, "TWIN, 2, 7, 2.0"],
            "keys 'K27' and 'TWIN' close the same contacts 2 and 7: they cannot be told apart",
            [9, 14],
            id="two keys at one crossing",
        ),
        pytest.param(
            [*MATRIX, "K11, 1, 9, -40"],
            "-40 ohm is negative: a voltage or a charge stands on the pair; the line is not used",
            [14],
            id="negative",
        ),
        pytest.param(
            [*MATRIX, "K11, 1, 9, 5000M"],
            "5000 Mohm is more than a meter shows: open, or a slip of the unit; the line is not used",
            [14],
            id="absurd ohms",
        ),
        pytest.param(
            [*MATRIX, "K11, 1, 9, 48 V"],
            "48 V is no drop that a meter's diode range shows (0.05 to 5 V); the line is not used",
            [14],
            id="absurd volts",
        ),
        pytest.param(
            [*MATRIX, "K11, 1, 26, open"],
            "contact 26 is not on dsub-9-socket-right-angle, which has 1 to 9; the line is not used",
            [14],
            id="no such contact",
        ),
        pytest.param(
            [*MATRIX, "K11, 6, 6, 2"],
            "a contact is measured against itself; the line is not used",
            [14],
            id="itself",
        ),
        pytest.param(
            [*DIODES, "K27, 7, 2, 0.6 V", "K27, 2, 7, open"],
            "key 'K27' conducts from 2 to 7 in one reading and from 7 to 2 in another: the leads were exchanged once",
            [24, 13, 14, 23],
            id="leads exchanged",
        ),
        pytest.param(
            [*DIODES[:-1], "K38, 8, 3, 0.6 V"],
            "key 'K38' shows a diode's drop both ways between contacts 3 and 8",
            [21, 22],
            id="a diode both ways",
        ),
    ],
)
def test_key_readings(readings: list[str], message: str, lines: list[int]) -> None:
    found = tell(table(KEYS, *readings))
    clashes = found.contradictions
    assert [clash.message for clash in clashes] == [message]
    assert lines_of(clashes[0]) == lines


@pytest.mark.parametrize(
    ("idle", "message", "lines"),
    [
        pytest.param(
            ["1, 2, 0.3", "2, 1, open"],
            "contacts 1 and 2 are joined one way and open the other",
            [5, 6],
            id="one way",
        ),
        pytest.param(
            ["1, 2, 0.3", "1, 2, 900"],
            "contacts 1 and 2 at rest give two results",
            [5, 6],
            id="two results",
        ),
        pytest.param(
            ["1, 2, 0.3", "2, 3, 0.3", "1, 3, open"],
            "contacts 1 and 3 are open in one reading and joined by others",
            [7, 5, 6],
            id="open but joined",
        ),
        pytest.param(
            ["1, 2, 0.3", "2, 3, 0.3", "1, 3, 470"],
            "contacts 1 and 3 have a resistance in one reading and are joined by others",
            [7, 5, 6],
            id="resistance but joined",
        ),
        pytest.param(
            ["1, 2, 1000", "2, 3, 1000", "1, 3, open"],
            "contacts 1 and 3 are open in one reading, but others lead from one to the other through about 2 kohm",
            [7, 5, 6],
            id="open but led to",
        ),
        pytest.param(
            ["1, 2, 1000", "2, 3, 1000", "1, 3, 9000"],
            "9 kohm between contacts 1 and 3 does not fit the other resistances: they give 2 kohm",
            [7, 5, 6],
            id="no network reads like that",
        ),
        pytest.param(
            ["1, 2, 1.9 V", "2, 1, 1.8 V"],
            "contacts 1 and 2 show a diode's drop both ways at rest",
            [5, 6],
            id="a diode both ways",
        ),
        pytest.param(
            ["1, 2, 0.3", "1, 5, 1000", "2, 5, 5000"],
            "contacts 1 and 5 or their joined ones give two results",
            [6, 7],
            id="joined contacts differ",
        ),
    ],
)
def test_idle_readings(idle: list[str], message: str, lines: list[int]) -> None:
    found = tell(table(IDLE, *idle))
    assert [clash.message for clash in found.contradictions] == [message]
    assert lines_of(found.contradictions[0]) == lines


def test_key_closed_at_rest() -> None:
    found = tell(table(IDLE, "4, 5, 0.3"), table(KEYS, "HELP, 4, 5, 0.4"))
    assert [(c.message, lines_of(c)) for c in found.contradictions] == [
        ("key 'HELP' is measured as closed between contacts that are closed at rest", [7, 5])
    ]


def test_key_that_changes_nothing() -> None:
    found = tell(table(IDLE, "4, 5, 820"), table(KEYS, "HELP, 4, 5, 815"))
    assert not found.contradictions
    assert [(c.message, lines_of(c)) for c in of_rule(found, "taken")] == [
        (
            "1 reading with a key held is what the device shows at rest, and is taken as no contact of that key",
            [7],
        )
    ]


def test_two_wires_and_two_signals() -> None:
    found = tell(table(WIRES, "1, red, A", "1, blue, A", "2, green, B", "3, grey, B"))
    assert [(c.message, lines_of(c)) for c in found.contradictions] == [
        ("contact 1 has two wires: red and blue", [5, 6]),
        ("signal 'B' is written at contacts 2 and 3, not joined", [7, 8]),
    ]


def test_no_wire_where_readings_lead() -> None:
    found = tell(table(WIRES, "1, -", "6, red"), table(KEYS, *MATRIX))
    assert [(c.message, lines_of(c)) for c in found.contradictions] == [
        ("contact 1 is written to have no wire, but readings lead to it", [5, 8])
    ]


def test_unused_contact_where_readings_lead() -> None:
    found = tell(table(WIRES, "1, red, NC"), table(KEYS, *MATRIX))
    assert [(c.message, lines_of(c)) for c in found.contradictions] == [
        ("contact 1 is written to be unused, but readings lead to it", [5, 7])
    ]


def test_stated_rows_on_two_sides() -> None:
    found = tell(table(KEYS, *MATRIX), head=HEAD + "rows, 1, 2, 6\n")
    assert [c.message for c in found.contradictions] == [
        "contacts 1, 2 are stated to be on one side of the matrix and 6 on the other, but the keys say otherwise"
    ]
    assert found.matrices[0].rows == ("ROW1", "ROW2", "ROW3")


def test_a_row_that_also_closes_to_ground() -> None:
    found = tell(table(WIRES, "9, black, GND"), table(KEYS, *MATRIX, "LOCK, 1, 9, 3"))
    assert [c.message for c in found.contradictions] == [
        "contact 1 is a matrix line, and also the far end of key 'LOCK' to ground"
    ]


def test_lone_bad_reading_is_told_apart() -> None:
    """One slip in a full matrix: that key alone is asked for again, and all others stand."""
    slip = [line.replace("K27, 2, 7", "K27, 2, 1") for line in MATRIX]
    found = tell(table(KEYS, *slip))
    assert len(found.contradictions) == 1
    assert 9 in lines_of(found.contradictions[0])
    assert messages(found, "measure-next")[0] == (
        "measure 'K27' (1-2) again: if that reading is wrong, the others fit"
    )
    [matrix] = found.matrices
    assert matrix.rows == ("ROW1", "ROW2", "ROW3")
    assert [key for _, _, key in matrix.keys] == ["K16", "K17", "K18", "K26", "K28", "K36", "K37", "K38"]


def test_contradictions_leave_the_rest_alone() -> None:
    clean, clash = tell(table(KEYS, *MATRIX)), tell(table(KEYS, *MATRIX, "BAD, 1, 2, 2.0"))
    assert clean.contacts == clash.contacts
    assert clean.matrices == clash.matrices
    assert messages(clash, "measure-next")[0] == (
        "measure 'BAD' (1-2) again: if that reading is wrong, the others fit"
    )
