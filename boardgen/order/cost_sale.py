"""What a respin costs, and on what terms a few boards can be sold."""

from __future__ import annotations

import math
from decimal import Decimal, localcontext
from fractions import Fraction

from boardgen.order.cost_bill import board_lines, candidates, delivered, fee_lines, freight_lines
from boardgen.order.cost_model import EXACT, Bill, Line, RespinCost, RunFacts, SaleTerms, rounded, short
from boardgen.order.prices_model import Prices, Respin


def respin_cost(facts: RunFacts, prices: Prices) -> RespinCost | None:
    """Return what another revision costs: bare boards, freight, fees, hours, weeks; None without terms.

    Source of what counts: the project's notes of practice, respin = boards + freight + weeks. Raises
    InputError.
    """
    terms = prices.respin
    if terms is None:
        return None
    least = -(-terms.boards // facts.per_piece)
    with localcontext(prec=EXACT):
        bills = [_respin_bill(facts, prices, terms, n) for n in candidates(facts, prices, least)]
    return RespinCost(min(bills, key=lambda item: (item.total, item.ordered)), terms.weeks)


def _respin_bill(facts: RunFacts, prices: Prices, terms: Respin, pieces: int) -> Bill:
    bought = delivered(facts, prices, pieces)
    lines, gaps = board_lines(facts, prices, bought)
    if terms.freight is None:
        lines += freight_lines(facts, prices, bought)
    else:
        lines.append(Line("freight", "Freight", rounded(terms.freight, prices.decimals), "of a respin"))
    for name, hours, rate in (
        ("Design work", terms.hours, prices.work.rate),
        ("Waiting", terms.weeks, terms.per_week),
    ):
        if hours * rate:
            unit = "h" if name == "Design work" else "weeks"
            how = f"{short(hours)} {unit} at {short(rate, 6)}"
            lines.append(Line("work", name, rounded(hours * rate, prices.decimals), how))
    lines += fee_lines(prices, lines)
    kept = tuple(line for line in lines if line.amount or line.group == "boards")
    return Bill(terms.boards, bought * facts.per_piece, kept, gaps, prices.decimals)


def fixed_costs(prices: Prices, respin: RespinCost | None) -> tuple[tuple[str, Decimal], ...]:
    """Return what is paid once, by name."""
    found = [(name, rounded(amount, prices.decimals)) for name, amount in prices.sale.fixed]
    if prices.sale.respins and respin is not None:
        count = prices.sale.respins
        found.append(("A respin" if count == 1 else f"{count} respins", respin.total * count))
    return tuple(found)


def sale_terms(bill: Bill, prices: Prices, respin: RespinCost | None) -> SaleTerms:
    """Return price and break-even of boards that cost what those of *bill* do.

    From the project's notes of practice: a price is at least 2.5 times the cost of goods (the table may say
    another factor), and break-even n = fixed / (price - unit cost - fees), rounded up to whole boards.
    """
    sale = prices.sale
    step = Fraction(sale.round_to)
    steps = math.ceil(Fraction(sale.factor) * bill.unit / step)
    least = rounded(steps * step, prices.decimals)  # exact: the step has no more decimals
    price = least if sale.price is None else rounded(sale.price, prices.decimals)
    fee = rounded(sale.fee_flat + price * sale.fee_percent / 100, prices.decimals)
    margin = Fraction(price) - bill.unit - Fraction(fee)
    fixed = sum((amount for _name, amount in fixed_costs(prices, respin)), Decimal(0))
    sold = math.ceil(Fraction(fixed) / margin) if margin > 0 else None
    return SaleTerms(least, price, fee, margin, fixed, sold)
