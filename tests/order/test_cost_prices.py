"""Price tables: what is read from a right one, and one clear error for each wrong one."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from boardgen.catalog.tomlfile import parse_toml
from boardgen.errors import BoardgenError, InputError, InputErrors
from boardgen.order.prices import load_prices, prices_from
from boardgen.order.prices_model import Prices, Sold

DEMO = Path(__file__).parents[2] / "designs" / "prices.toml"
LEAST = """\
kind = "prices"
name = "a table"
currency = "EUR"
[[boards]]
name = "a shop"
[[boards.sizes]]
up_to_mm = [100, 100]
each = [[1, 2.00]]
"""


def read(text: str) -> Prices:
    return prices_from(parse_toml(text.encode(), "p.toml"))


def only_error(text: str) -> InputError:
    with pytest.raises(BoardgenError) as caught:
        read(text)
    found = caught.value
    errors = found.errors if isinstance(found, InputErrors) else (found,)
    assert len(errors) == 1, str(found)
    assert isinstance(errors[0], InputError)
    return errors[0]


def test_the_least_table_has_defaults():
    prices = read(LEAST)
    assert prices.decimals == 2
    assert not prices.invented
    assert prices.sale.factor == Decimal("2.5")
    assert prices.sale.round_to == Decimal("0.01")
    assert prices.work.rate == 0
    assert prices.respin is None
    (size,) = prices.boards[0].sizes
    assert (size.sold, size.steps.rows) == (Sold.EACH, ((1, Decimal("2.0")),))


def test_the_demo_table_is_marked_as_invented_in_the_file_and_where_it_is_used():
    prices = load_prices(DEMO)
    assert prices.invented
    text = DEMO.read_text("utf-8")
    assert "EVERY VALUE AND EVERY SHOP IN THIS FILE IS INVENTED" in text
    assert all("invented" in shop.name for shop in prices.boards)


@pytest.mark.parametrize("typed", ["0.1", "0.0935", "4.20", "1234567.891234", '"0.30"', "7"])
def test_amounts_are_taken_exactly_as_typed(typed):
    prices = read(LEAST.replace("2.00", typed))
    assert prices.boards[0].sizes[0].steps.at(1) == Decimal(typed.strip('"'))


def test_steps_hold_from_their_count_on():
    steps = read(LEAST.replace("[[1, 2.00]]", "[[1, 2], [10, 1.5], [50, 1]]")).boards[0].sizes[0].steps
    assert [steps.at(n) for n in (1, 9, 10, 49, 50, 9999)] == [2, 2, Decimal("1.5"), Decimal("1.5"), 1, 1]


PART = '[[parts]]\nmpn = "X"\n'
BAD = {
    "an unknown key": (LEAST + "colour = 1\n", "boards[1].sizes[1]", 9, "unknown key 'colour'"),
    "a misspelt key": (LEAST.replace("currency", "curency"), "", 3, "did you mean 'currency'"),
    "a negative price": (LEAST.replace("2.00", "-2"), "boards[1].sizes[1].each[1][2]", 8, "negative"),
    "no number": (LEAST.replace("2.00", "true"), "boards[1].sizes[1].each[1][2]", 8, "amount is wanted"),
    "a word": (LEAST.replace("2.00", '"dear"'), "boards[1].sizes[1].each[1][2]", 8, "amount is wanted"),
    "not finite": (LEAST.replace("2.00", "nan"), "boards[1].sizes[1].each[1][2]", 8, "not finite"),
    "too fine": (LEAST.replace("2.00", "0.1234567"), "boards[1].sizes[1].each[1][2]", 8, "6 decimals"),
    "absurd": (LEAST.replace("2.00", "1e12"), "boards[1].sizes[1].each[1][2]", 8, "over 10000000"),
    "steps overlap": (
        LEAST.replace("[[1, 2.00]]", "[[1, 2], [5, 1.8], [5, 1.7]]"),
        "boards[1].sizes[1].each",
        8,
        "two steps begin at 5",
    ),
    "steps out of order": (
        LEAST.replace("[[1, 2.00]]", "[[1, 2], [10, 1.8], [5, 1.9]]"),
        "boards[1].sizes[1].each",
        8,
        "step from 5 stands after the one from 10",
    ),
    "a gap below the first step": (
        LEAST.replace("[[1, 2.00]]", "[[5, 2]]"),
        "boards[1].sizes[1]",
        6,
        "no price for 1 to 4",
    ),
    "steps below the least order": (
        LEAST + "minimum = 5\n",
        "boards[1].sizes[1]",
        6,
        "none is sold below 5",
    ),
    "no steps": (LEAST.replace("[[1, 2.00]]", "[]"), "boards[1].sizes[1].each", 8, "not allowed"),
    "no price": (LEAST.replace("each = [[1, 2.00]]", ""), "boards[1].sizes[1]", 6, "there are 0"),
    "two ways": (LEAST + "lots = [[5, 9]]\n", "boards[1].sizes[1]", 6, "there are 2"),
    "a size within another": (
        LEAST + "[[boards.sizes]]\nup_to_mm = [50, 100]\neach = [[1, 1]]\n",
        "boards[1]",
        4,
        "sizes[2] lies within sizes[1]",
    ),
    "a size of nothing": (
        LEAST.replace("[100, 100]", "[100, 0]"),
        "boards[1].sizes[1].up_to_mm[2]",
        7,
        "not more than 0",
    ),
    "a gap in a part's breaks": (
        LEAST + PART + "breaks = [[10, 0.1]]\n",
        "parts[1]",
        9,
        "no price for 1 to 9",
    ),
    "a part without breaks": (LEAST + PART, "parts[1].breaks", 9, "the key is missing"),
    "a part without a name": (LEAST + "[[parts]]\nbreaks = [[1, 1]]\n", "parts[1]", 9, "there are 0"),
    "a part priced twice": (
        LEAST + (PART + "breaks = [[1, 1]]\n") * 2,
        "parts[2]",
        12,
        "a second price for one part: X",
    ),
    "a share of nothing": (
        LEAST + '[[fees]]\nname = "duty"\npercent = 3\n',
        "fees[1]",
        9,
        "percent and share_of go together",
    ),
    "respins without terms": (LEAST + "[sale]\nrespins = 1\n", "sale.respins", 10, "no table [respin]"),
    "a price finer than the currency": (LEAST + "[sale]\nprice = 9.995\n", "sale.price", 10, "currency's 2"),
    "parts weighed": (
        LEAST + '[[freight]]\nname = "f"\ngoods = "parts"\nper_kg = 3\n',
        "freight[1]",
        9,
        "freight of parts is flat",
    ),
    "a fraction of a count": (
        LEAST.replace("[[1, 2.00]]", "[[1.5, 2]]"),
        "boards[1].sizes[1].each[1][1]",
        8,
        "not allowed",
    ),
    "not a price table": (LEAST.replace('"prices"', '"fab"'), "kind", 1, "not allowed"),
    "a currency in words": (LEAST.replace("EUR", "euro"), "currency", 3, "not allowed"),
    "two lists for any fab": (
        LEAST + '[[boards]]\nname = "other"\nsizes = [{up_to_mm = [9, 9], each = [[1, 1]]}]\n',
        "boards[2]",
        9,
        "a second board list for any fab class",
    ),
    "an option told twice": (
        LEAST + '[[boards.options]]\noption = "finish"\nvalue = "ENIG"\n' * 2,
        "boards[1]",
        4,
        "two options are the same",
    ),
}


@pytest.mark.parametrize("case", sorted(BAD))
def test_each_fault_of_a_table_is_one_error_with_key_and_line(case):
    text, key, line, words = BAD[case]
    error = only_error(text)
    assert error.where == "p.toml"
    assert error.key == key
    assert error.line == line
    assert words in str(error)


def test_text_that_is_no_toml_names_its_line():
    error = only_error(LEAST + "[[parts]\n")
    assert error.line == 9


def test_a_table_that_is_not_there_is_said(tmp_path):
    with pytest.raises(InputError, match="there is no such price table"):
        load_prices(tmp_path / "none.toml")
    with pytest.raises(InputError, match="this is a folder"):
        load_prices(tmp_path)
