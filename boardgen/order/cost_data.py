"""An estimate as plain data for JSON: amounts are texts, so that they stay exact."""

from __future__ import annotations

from typing import Any

from boardgen.order.cost_model import Bill, Estimate, Line, Quote, SaleTerms, rounded, short, shown


def estimate_data(found: Estimate) -> dict[str, Any]:
    """Return *found* as JSON has it."""
    respin = found.respin
    return {
        "design": found.facts.design,
        "revision": found.facts.revision,
        "prices": {"name": found.table, "invented": found.invented, "as_of": found.as_of},
        "currency": found.currency,
        "rounding": f"each line half up to {found.decimals} decimals, totals exact sums of lines",
        "fab_class": found.facts.fab,
        "shop": found.shop,
        "complete": not found.missing,
        "missing": list(found.missing),
        "notes": list(found.notes),
        "quantities": [_quote(quote, found) for quote in found.quotes],
        "respin": None if respin is None else {"weeks": short(respin.weeks), **bill_data(respin.bill)},
        "fixed": [{"name": name, "amount": shown(amount)} for name, amount in found.fixed],
    }


def _quote(quote: Quote, found: Estimate) -> dict[str, Any]:
    return {
        "boards": quote.need,
        "as_asked": {"ordered": quote.plain.ordered, "total": shown(quote.plain.total)},
        "saved_by_ordering_more": shown(quote.saved),
        "cheapest": bill_data(quote.best),
        "sale": _sale(quote.sale, found),
    }


def bill_data(bill: Bill) -> dict[str, Any]:
    """Return a bill as JSON has it, its lines from the dearest."""
    return {
        "boards": bill.boards,
        "ordered": bill.ordered,
        "total": shown(bill.total),
        "per_board": shown(bill.per_board),
        "complete": bill.complete,
        "missing": list(bill.missing),
        "lines": [_line(line, bill) for line in bill.sorted_lines()],
    }


def _line(line: Line, bill: Bill) -> dict[str, Any]:
    return {
        "group": line.group,
        "name": line.name,
        "amount": shown(line.amount),
        "share_percent": share_of(line, bill),
        "detail": line.detail,
    }


def share_of(line: Line, bill: Bill) -> str:
    """Return the line's share of the bill in percent, one decimal."""
    return shown(rounded(line.amount * 100 / bill.total, 1)) if bill.total else "0.0"


def _sale(sale: SaleTerms | None, found: Estimate) -> dict[str, Any] | None:
    if sale is None:
        return None
    return {
        "least_price": shown(sale.least),
        "price": shown(sale.price),
        "fee": shown(sale.fee),
        "margin": shown(rounded(sale.margin, found.decimals)),
        "fixed": shown(sale.fixed),
        "break_even": sale.break_even,
    }
