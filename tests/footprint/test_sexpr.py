import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.errors import InputError
from boardgen.footprint.sexpr import Sym, degrees, dump, length, parse, to_degrees, to_length
from boardgen.units import mm

BARE = st.from_regex(r"[A-Za-z0-9_.*&$#<>-]{1,12}", fullmatch=True).map(Sym)
TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\r\x00"), max_size=20)
NODES = st.recursive(
    st.lists(BARE | TEXTS, max_size=4),
    lambda inner: st.lists(BARE | TEXTS | inner, max_size=5),
    max_leaves=30,
)


def typed(node):
    """The node with each atom's type beside it: 'a' and a differ in a file."""
    if isinstance(node, list):
        return [typed(item) for item in node]
    return (isinstance(node, Sym), str(node))


@given(NODES)
def test_what_is_dumped_parses_to_the_same_node(node):
    text = dump(node)
    assert typed(parse(text)) == typed(node)
    assert dump(parse(text)) == text
    assert text.endswith("\n")


def test_long_lists_break_and_short_ones_stay_on_their_line():
    node = [Sym("a"), "b c", *[[Sym("pad"), i, length(mm("1.54"))] for i in range(12)]]
    lines = dump(node).splitlines()
    assert lines[0] == '(a "b c"'
    assert lines[1] == "  (pad 0 1.54)"
    assert lines[-1] == ")"
    assert len(lines) == 14


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "f:1: the file is empty; allowed: one list in brackets"),
        ("\n\n(a\n (b", "f:4: the file ends inside the list that starts with 'b'"),
        ("(a))", "f:1: text outside the one list the file must hold; allowed: one list in brackets"),
        ("x", "f:1: text outside the one list the file must hold; allowed: one list in brackets"),
        ("(a)\n(b)", "f:2: text outside the one list the file must hold; allowed: one list in brackets"),
        ('(a\n"b)', "f:2: a quoted text is never closed"),
        ("(" * 65, "f:1: the lists are nested too deeply; allowed: at most 64 levels"),
    ],
)
def test_broken_text_is_named_with_its_line(text, message):
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        parse(text, "f")


@given(st.text(alphabet='()" \\\nab1.', max_size=40))
def test_any_text_parses_or_is_an_input_error(text):
    try:
        node = parse(text, "f")
    except InputError as error:
        node, line = None, error.line
    assert line > 0 if node is None else typed(parse(dump(node))) == typed(node)


def test_a_million_brackets_do_not_exhaust_the_stack():
    with pytest.raises(InputError, match="nested too deeply"):
        parse("(" * 1_000_000)


def test_a_bare_word_that_cannot_stand_bare_is_refused():
    with pytest.raises(ValueError, match="cannot be written as a bare word"):
        dump([Sym("a b")])


@given(st.integers(-(10**10), 10**10))
def test_lengths_pass_exactly(value):
    assert to_length(length(value)) == value


@pytest.mark.parametrize("text", ["nan", "inf", "1e99", "", "1.2.3", "0x10", "--1", "1e5", "10001"])
def test_a_length_that_is_none_is_refused(text):
    with pytest.raises(ValueError, match=r"is not a number|is out of range"):
        to_length(text)


def test_angles_have_no_negative_zero():
    assert [degrees(v) for v in (0.0, -0.0, 90.0, -22.5, 1e-9)] == ["0", "0", "90", "-22.5", "0"]
    assert to_degrees("-22.5") == -22.5
