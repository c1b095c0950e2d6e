"""Bills by hand, the cheapest order against every order tried, and what must hold of any bill."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from cost_kit import FACTS, RESISTOR, shop, table, with_parts
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.errors import InputError
from boardgen.order.cost import estimate, quantities_of
from boardgen.order.cost_bill import bill, cheapest, price_of, purchase, with_spares
from boardgen.order.cost_data import estimate_data
from boardgen.order.cost_model import Bill, PartNeed, RunFacts, rounded
from boardgen.order.cost_sale import respin_cost, sale_terms
from boardgen.order.prices_model import Prices, Steps

LOTS = "lots = [[5, 4.00], [10, 5.50], [20, 14.00], [30, 12.80]]"


def amounts(found: Bill) -> list[tuple[str, str, str]]:
    return [(line.group, line.name, str(line.amount)) for line in found.lines]


def test_a_whole_bill_by_hand():
    prices = table(
        shop("each = [[1, 2.00], [10, 1.50]], per_order = 12.00")
        + '[[boards.options]]\noption = "finish"\nvalue = "enig"\nper_order = 9\nper_board = 0.1\n'
        + "per_dm2 = 0.5\npercent = 10\n"
        + '[[parts]]\nmpn = "R-10K"\nbreaks = [[1, 0.1], [100, 0.012]]\nspares_least = 2\n'
        + '[[freight]]\nname = "parcel"\nflat = 5\nper_kg = 10\npackage_kg = 0.1\n'
        + '[[freight]]\nname = "letter"\ngoods = "parts"\nflat = 3.50\n'
        + '[[fees]]\nname = "duty"\npercent = 10\nshare_of = ["boards", "options", "freight"]\nflat = 1\n'
        + "[work]\nrate = 20\nboard_hours = 0.25\nbatch_hours = 1\n"
    )
    found = bill(with_parts(RESISTOR), prices, 4)
    # boards 4 x 2 + 12 = 20; finish 9 + 0.4 + 0.5 x 2 dm2 + 2 = 12.40; 14 resistors at 0.1 = 1.40, where
    # 100 at 0.012 are 1.20; 0.036 x 0.5 x 4 + 0.1 = 0.172 kg; duty on 20 + 12.40 + 6.72 + 3.50 = 42.62
    assert amounts(found) == [
        ("boards", "a shop", "20.00"),
        ("options", "finish ENIG", "12.40"),
        ("parts", "R1 R2 R3 R-10K", "1.20"),
        ("freight", "parcel", "6.72"),
        ("freight", "letter", "3.50"),
        ("work", "Work on the batch", "20.00"),
        ("work", "Work on the boards", "20.00"),
        ("fees", "duty", "5.26"),
    ]
    assert found.total == Decimal("89.08")
    assert found.per_board == Decimal("22.27")
    assert found.complete


def test_area_is_priced_by_the_boards_together_and_panels_count_as_pieces():
    prices = table(shop("per_dm2 = [[1, 4.00], [10, 3.00]], per_order = 10"))
    assert bill(FACTS, prices, 4).total == Decimal("18.00")  # 4 x 0.5 dm2 at 4, and 10
    assert bill(FACTS, prices, 10).total == Decimal("25.00")  # 10 x 0.5 at 3
    panels = FACTS.in_panels(Decimal(100), Decimal(100), 2)
    assert bill(panels, prices, 19).total == Decimal("40.00")  # 10 panels of 1 dm2 at 3, and 10
    assert bill(panels, prices, 19).ordered == 20


def test_boards_are_bought_in_whole_lots_and_a_larger_lot_may_be_cheaper():
    prices = table(shop(LOTS))
    asked = bill(FACTS, prices, 11)
    assert (asked.ordered, asked.total) == (20, Decimal("14.00"))
    best = cheapest(FACTS, prices, 11)
    assert (best.boards, best.ordered, best.total) == (11, 30, Decimal("12.80"))
    assert cheapest(FACTS, prices, 10).ordered == 10


def test_a_larger_order_may_be_cheaper_for_its_freight_alone():
    text = shop("each = [[1, 1]]") + '[[freight]]\nname = "f"\nby_boards = [[1, 10], [8, 2]]\n'
    best = cheapest(FACTS, table(text), 7)
    assert (best.ordered, best.total) == (8, Decimal("10.00"))
    panels = cheapest(FACTS.in_panels(Decimal(50), Decimal(50), 3), table(text), 4)
    assert (panels.ordered, panels.total) == (9, Decimal("5.00"))  # 3 panels, freight as for 8 boards


@pytest.mark.parametrize(
    ("wanted", "count", "amount"),
    [(1, 1, "0.10"), (8, 8, "0.80"), (9, 10, "0.80"), (11, 11, "0.88"), (70, 100, "5.00")],
)
def test_the_cheapest_purchase_of_a_part_by_hand(wanted, count, amount):
    prices = table(shop(LOTS) + '[[parts]]\nmpn = "X"\nbreaks = [[1, 0.1], [10, 0.08], [100, 0.05]]\n')
    assert purchase(prices.parts[0], wanted, 2) == (count, Decimal(amount))


def test_packs_are_bought_whole_and_spares_rounded_up():
    text = '[[parts]]\nmpn = "X"\nbreaks = [[25, 0.1]]\nminimum = 25\nmultiple = 10\nspares_percent = 5\n'
    price = table(shop(LOTS) + text).parts[0]
    assert purchase(price, 3, 2) == (30, Decimal("3.00"))
    assert [with_spares(price, n) for n in (1, 20, 21, 100)] == [2, 21, 23, 105]


@pytest.mark.parametrize(
    ("amount", "decimals", "found"),
    [
        ("0.005", 2, "0.01"),
        ("0.00499999", 2, "0.00"),
        ("2.5", 0, "3"),
        ("1.015", 2, "1.02"),
        ("7", 2, "7.00"),
    ],
)
def test_halves_are_rounded_up(amount, decimals, found):
    assert str(rounded(Decimal(amount), decimals)) == found


def test_a_part_is_found_by_number_then_id_then_pattern_then_footprint():
    lines = [
        '[[parts]]\nfootprint = "axial"\nbreaks = [[1, 4]]\n',
        '[[parts]]\nmpn = "R-*"\nbreaks = [[1, 3]]\n',
        '[[parts]]\nmpn = "R-1*"\nbreaks = [[1, 2]]\n',
        '[[parts]]\nid = "resistor"\nbreaks = [[1, 1]]\n',
        '[[parts]]\nmpn = "R-10K"\nbreaks = [[1, 0]]\n',
    ]
    need = replace(RESISTOR, entries=("resistor",))
    for count, amount in ((5, 0), (4, 1), (3, 2), (2, 3), (1, 4)):
        price = price_of(need, table(shop(LOTS) + "".join(lines[:count])))
        assert price is not None
        assert price.breaks.at(1) == amount
    assert price_of(need, table(shop(LOTS))) is None
    assert price_of(PartNeed("W1", 1, "", "wire", ""), table(shop(LOTS) + lines[1])) is None


def test_what_has_no_price_is_named_and_never_nought():
    prices = table(
        shop(LOTS, '[[boards.options]]\noption = "finish"\nvalue = "HASL"\n') + "[sale]\nprice = 99\n"
    )
    found = estimate(with_parts(RESISTOR), prices, (5,))
    assert found.missing == ("option finish ENIG", "R1 R2 R3 R-10K")
    assert not found.quotes[0].best.complete
    assert found.quotes[0].sale is None
    data = estimate_data(found)
    assert data["complete"] is False
    assert data["missing"] == list(found.missing)
    given_away = table(shop(LOTS) + '[[parts]]\nmpn = "R-10K"\nbreaks = [[1, 0]]\n')
    assert estimate(with_parts(RESISTOR), given_away, (5,)).missing == ()


def test_the_first_size_that_holds_the_board_prices_it_lying_or_turned():
    text = '[[boards]]\nname = "s"\n'
    text += "sizes = [{up_to_mm = [50, 99], each = [[1, 1]]}, {up_to_mm = [50, 100], each = [[1, 2]]}]\n"
    assert bill(FACTS, table(text), 1).total == 2


def test_gaps_of_a_table_are_one_clear_error():
    with pytest.raises(InputError, match=r"no size of a shop holds the board; found 101 x 50 mm"):
        bill(replace(FACTS, width_mm=Decimal(101)), table(shop(LOTS)), 5)
    with pytest.raises(InputError, match=r"no price for so many boards .*; found 31; allowed: at most 30"):
        bill(FACTS, table(shop(LOTS)), 31)
    with pytest.raises(InputError, match=r"no board list serves .*; found economy-2l; allowed: fine-2l"):
        bill(FACTS, table(shop(LOTS, 'fabs = ["fine-2l"]\n')), 5)
    with pytest.raises(InputError, match="at most 7"):
        bill(FACTS, table(shop("each = [[1, 1]]", "most = 7\n")), 8)


@pytest.mark.parametrize("text", ["", "0", "1,,5", "-5", "1.5", "five", "100001", "9" * 400, "1;5", "٣"])
def test_absurd_quantities_are_refused(text):
    with pytest.raises(InputError) as caught:
        quantities_of(text)
    assert caught.value.key == "--quantities"


def test_quantities_are_sorted_and_told_once():
    assert quantities_of("50, 1,5,5") == (1, 5, 50)


def test_the_usual_quantities_end_where_the_table_does():
    assert [quote.need for quote in estimate(FACTS, table(shop(LOTS))).quotes] == [1, 5, 10]


SALE = shop("each = [[1, 8]]") + "[respin]\nboards = 5\nweeks = 3\nhours = 4\nfreight = 20\nper_week = 10\n"
SALE += "[work]\nrate = 15\n[sale]\nround_to = 0.5\nfee_flat = 1\nfee_percent = 10\nrespins = 2\n"
SALE += 'fixed = [{name = "proto", amount = 50}]\n'


def test_respin_price_and_break_even_by_hand():
    prices = table(SALE)
    respin = respin_cost(FACTS, prices)
    assert respin is not None
    # 5 x 8 boards, 20 freight, 4 h x 15, 3 weeks x 10
    assert (respin.total, respin.weeks) == (Decimal("150.00"), 3)
    terms = sale_terms(bill(FACTS, prices, 3), prices, respin)
    # 2.5 x 8 = 20; fees 1 + 2; 20 - 8 - 3 = 9 a board; 50 + 2 x 150 fixed: 38.9 boards
    assert (terms.least, terms.price, terms.fee, terms.margin) == (20, 20, 3, 9)
    assert (terms.fixed, terms.break_even) == (350, 39)


def test_a_price_is_rounded_up_to_the_step_and_an_own_price_may_be_a_loss():
    prices = table(SALE.replace("[[1, 8]]", "[[1, 8.01]]"))
    assert str(sale_terms(bill(FACTS, prices, 1), prices, None).least) == "20.50"
    low = table(SALE.replace("round_to = 0.5", "price = 9"))
    terms = sale_terms(bill(FACTS, low, 1), low, None)
    assert (terms.least, terms.price, terms.break_even) == (20, 9, None)


def test_no_fixed_costs_are_brought_in_by_nothing():
    prices = table(shop("each = [[1, 8]]"))
    assert sale_terms(bill(FACTS, prices, 1), prices, None).break_even == 0


amount = st.decimals(0, 50, places=3)
counts = st.lists(st.integers(2, 60), unique=True, max_size=4).map(lambda rest: [1, *sorted(rest)])


@st.composite
def stepped(draw: st.DrawFn) -> str:
    return "[" + ", ".join(f"[{n}, {draw(amount)}]" for n in draw(counts)) + "]"


@st.composite
def worlds(draw: st.DrawFn) -> tuple[RunFacts, Prices]:
    way = draw(st.sampled_from(["lots", "each", "per_dm2"]))
    steps = draw(stepped())
    if way == "lots":
        steps = steps[:-1] + f", [90, {draw(amount)}]]"
    text = shop(f"{way} = {steps}, per_order = {draw(amount)}", "most = 90\n")
    text += f'[[boards.options]]\noption = "finish"\nvalue = "ENIG"\nper_board = {draw(amount)}\n'
    text += f"percent = {draw(amount)}\n"
    text += f'[[parts]]\nmpn = "R-10K"\nbreaks = {draw(stepped())}\nmultiple = {draw(st.integers(1, 20))}\n'
    text += f"spares_percent = {draw(amount)}\n"
    text += f'[[freight]]\nname = "f"\nby_boards = {draw(stepped())}\nper_kg = {draw(amount)}\n'
    text += f'[[fees]]\nname = "d"\npercent = {draw(st.decimals("0.001", 50, places=3))}\n'
    text += 'share_of = ["boards", "freight", "options", "parts"]\n'
    text += f"[work]\nrate = {draw(amount)}\nboard_hours = {draw(amount)}\n"
    panel = draw(st.sampled_from([1, 1, 2, 3]))
    return replace(with_parts(RESISTOR), per_piece=panel), table(text)


@settings(max_examples=60, deadline=None)
@given(worlds(), st.integers(1, 60))
def test_the_cheapest_order_is_that_of_every_order_tried(world, need):
    facts, prices = world
    least = -(-need // facts.per_piece)
    tried = [bill(facts, prices, need, pieces) for pieces in range(least, 91)]
    best = cheapest(facts, prices, need)
    assert best.total == min(item.total for item in tried)
    assert best.ordered == min(item.ordered for item in tried if item.total == best.total)
    assert need <= best.ordered


@settings(max_examples=60, deadline=None)
@given(worlds(), st.integers(1, 59))
def test_more_boards_never_cost_less_at_their_cheapest_order(world, need):
    facts, prices = world
    assert cheapest(facts, prices, need).total <= cheapest(facts, prices, need + 1).total


@settings(max_examples=60, deadline=None)
@given(worlds(), st.integers(1, 59))
def test_one_more_board_costs_less_only_where_a_step_begins(world, need):
    facts, prices = world
    one, two = bill(facts, prices, need), bill(facts, prices, need + 1)
    if two.total < one.total:
        starts = {*prices.boards[0].sizes[0].steps.starts, *prices.freight_steps()}
        assert any(one.ordered < start <= two.ordered for start in starts) or any(
            one.ordered < start * facts.per_piece <= two.ordered for start in starts
        )


@settings(max_examples=60, deadline=None)
@given(worlds(), st.integers(1, 60))
def test_contributions_sum_to_the_total_exactly(world, need):
    facts, prices = world
    found = cheapest(facts, prices, need)
    assert sum(line.amount for line in found.sorted_lines()) == found.total
    assert all(line.amount == rounded(line.amount, 2) >= 0 for line in found.lines)
    assert [line.amount for line in found.sorted_lines()] == sorted(
        (line.amount for line in found.lines), reverse=True
    )
    assert abs(Fraction(found.per_board) * need - Fraction(found.total)) <= Fraction(need, 200)


@settings(max_examples=200, deadline=None)
@given(stepped(), st.integers(1, 20), st.integers(1, 120))
def test_the_cheapest_purchase_is_that_of_every_number_tried(steps, multiple, wanted):
    text = f'[[parts]]\nmpn = "X"\nbreaks = {steps}\nmultiple = {multiple}\n'
    price = table(shop(LOTS) + text).parts[0]
    costs = {
        n: rounded(n * price.breaks.at(n), 2) for n in range(1, 260) if n >= wanted and n % multiple == 0
    }
    count, amount_ = purchase(price, wanted, 2)
    assert amount_ == min(costs.values())
    assert costs[count] == amount_


@settings(max_examples=100, deadline=None)
@given(st.decimals(-0, 10_000, places=6), st.integers(0, 4))
def test_rounding_is_by_at_most_half_a_unit(value, decimals):
    unit = Fraction(1, 10**decimals)
    off = Fraction(rounded(value, decimals)) - Fraction(value)
    assert -unit / 2 < off <= unit / 2


@settings(max_examples=60, deadline=None)
@given(
    st.integers(1, 30), st.decimals("0.01", 99, places=2), st.decimals(0, 500, places=2), st.integers(0, 60)
)
def test_break_even_is_the_least_number_that_brings_in_the_fixed_costs(need, each, fixed, percent):
    text = shop(f"each = [[1, {each}]]")
    text += f'[sale]\nfee_percent = {percent}\nfixed = [{{name = "x", amount = {fixed}}}]\n'
    prices = table(text)
    terms = sale_terms(cheapest(FACTS, prices, need), prices, None)
    assert terms.least >= Decimal("2.5") * each
    assert terms.least - Decimal("0.01") < Decimal("2.5") * each
    if terms.break_even is None:
        assert terms.margin <= 0
    else:
        assert terms.break_even * terms.margin >= fixed
        assert terms.break_even == 0 or (terms.break_even - 1) * terms.margin < fixed


def test_steps_answer_with_the_last_that_began():
    assert Steps(((1, Decimal(3)), (4, Decimal(2)))).at(4) == 2
