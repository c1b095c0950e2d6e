"""Rows, pin-file lines, letters and text edits: what comparing and revising are made of."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.catalog.tomlfile import parse_toml
from boardgen.errors import InputError
from boardgen.revision.entries import BEGIN, END, mm_text, revised_text
from boardgen.revision.firmware import pin_lines
from boardgen.revision.letters import next_revision
from boardgen.revision.rows import changes, natural
from boardgen.units import Nm

WORDS = st.text("ab 1", max_size=4)
ROWS = st.dictionaries(
    st.sampled_from(["R1", "R2", "R10", "C1", "net"]),
    st.dictionaries(st.sampled_from("xyz"), WORDS),
    max_size=5,
)


@given(ROWS)
def test_rows_compared_with_themselves_show_nothing(rows):
    assert changes("parts", rows, rows) == []


@given(ROWS, ROWS)
def test_rows_compared_the_other_way_are_turned(a, b):
    assert [change.turned for change in changes("parts", a, b)] == changes("parts", b, a)


@given(ROWS, ROWS)
def test_a_thing_is_told_exactly_where_its_rows_differ(a, b):
    def said(rows, thing):
        return {key: value for key, value in rows[thing].items() if value} if thing in rows else None

    told = {change.thing for change in changes("parts", a, b)}
    assert told == {thing for thing in {*a, *b} if said(a, thing) != said(b, thing)}


def test_numbers_sort_as_numbers():
    assert sorted(["R10", "R2", "C1", "R1"], key=natural) == ["C1", "R1", "R2", "R10"]


def test_only_lines_that_a_compiler_sees_count():
    before = '#define BOARD_REVISION "A"\n#define PIN_X 3 /* contact 1 */\n#define PIN_Y 4\n'
    after = '#define BOARD_REVISION "B"\n#define PIN_X 3 /* contact 1, red wire */\n\n#define PIN_Y 5\n'
    found = pin_lines(before, after)
    assert [(line.line_before, line.before, line.line_after, line.after) for line in found] == [
        (3, "#define PIN_Y 4", 4, "#define PIN_Y 5")
    ]


def test_a_comment_over_several_lines_does_not_shift_numbers():
    text = "/* one\n * two */\n#define PIN_X 3\n"
    found = pin_lines(text, text.replace("X 3", "X 4"))
    assert [(line.line_before, line.line_after) for line in found] == [(3, 3)]


@given(st.lists(st.sampled_from([f"#define PIN_{c} {n}" for c in "ABC" for n in "12"]), max_size=6))
def test_equal_pin_files_have_no_lines(rows):
    assert pin_lines("\n".join(rows), "\n".join(rows)) == ()


def test_revision_letters_go_on():
    seen = ["A"]
    while seen[-1] != "ZZ":
        seen.append(next_revision(seen[-1]))
    assert len(seen) == 26 + 26 * 26
    assert len(set(seen)) == len(seen)
    assert seen[25:28] == ["Z", "AA", "AB"]
    assert sorted(seen, key=lambda text: (len(text), text)) == seen
    with pytest.raises(ValueError, match="after ZZ"):
        next_revision("ZZ")


@given(st.integers(-(10**12), 10**12))
def test_lengths_are_written_exactly(value):
    text = mm_text(Nm(value))
    assert isinstance(tomllib.loads(f"x = {text}")["x"], float)
    whole, _, rest = text.lstrip("-").partition(".")
    assert (-1 if text.startswith("-") else 1) * (int(whole) * 10**6 + int(rest.ljust(6, "0"))) == value


BLOCK = f'{BEGIN} A\n\n[stays]\nrevision = "A"\n\n{END}\n'


def _file(text):
    return parse_toml(text.encode(), "design.toml")


@settings(max_examples=60)
@given(
    st.lists(
        st.sampled_from(["# a comment", "", "title = 'it''s'", "  # odd   spacing", "x = 1"]), max_size=6
    ),
    st.sampled_from(["revision = 'A'", 'revision="A" # the first', '  revision  =  "A"   ']),
)
def test_all_but_the_revision_stays_letter_for_letter(rows, line):
    rows = [row for row in dict.fromkeys(rows) if "''" not in row]
    text = "\n".join(['name = "x"', *rows[:2], line, *rows[2:], "[holes]", "count = 4 # four"]) + "\n"
    made = revised_text(_file(text), "B", BLOCK)
    assert made.startswith(text.replace("'A'", '"B"').replace('"A"', '"B"').rstrip("\n"))
    assert made.endswith(BLOCK)
    assert tomllib.loads(made)["revision"] == "B"
    again = revised_text(_file(made), "C", BLOCK)
    assert again.count(BEGIN) == 1
    assert again == made.replace('"B"', '"C"')


def test_a_revision_left_out_is_put_below_the_name():
    made = revised_text(_file('# c\nname = "x"\nfab = "y"\n'), "B", BLOCK)
    assert made.startswith('# c\nname = "x"\nrevision = "B"\nfab = "y"\n')


def test_what_a_person_wrote_below_our_block_stays():
    text = f'name = "x"\nrevision = "B"\n\n{BLOCK}\n[board]\nsocketed = true\n'
    made = revised_text(_file(text), "C", BLOCK)
    assert made.startswith('name = "x"\nrevision = "C"\n\n[board]\nsocketed = true\n')
    assert made.count(BEGIN) == 1


def test_half_a_block_is_an_error():
    with pytest.raises(InputError, match="comment lines"):
        revised_text(_file(f'name = "x"\nrevision = "B"\n{BEGIN} A\n'), "C", BLOCK)


def test_a_revision_that_shares_its_line_is_an_error():
    with pytest.raises(InputError, match="on a line of its own"):
        revised_text(_file('name = "x"\nrevision = """A"""\n'), "B", BLOCK)
