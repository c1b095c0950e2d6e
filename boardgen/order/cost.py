"""What a run costs by a user's price table: the door for ``cost``, ``order`` and ``compare``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path

from boardgen.catalog.load import load_catalog
from boardgen.errors import InputError
from boardgen.order.cost_bill import bill, cheapest, most_boards, shop_of
from boardgen.order.cost_facts import facts_of_run, run_facts
from boardgen.order.cost_model import GROUPS, Estimate, Quote, RunFacts, shown
from boardgen.order.cost_sale import fixed_costs, respin_cost, sale_terms
from boardgen.order.model import Ordered
from boardgen.order.prices_model import MOST, Prices

QUANTITIES = (1, 5, 10, 50)


def checked_count(count: int, key: str) -> int:
    """Return *count*; raises InputError where nobody orders that many."""
    if not 1 <= count <= MOST:
        raise InputError(
            "a number of boards is wanted", key=key, found=str(count)[:30], allowed=f"1 to {MOST}"
        )
    return count


def quantities_of(text: str, key: str = "--quantities") -> tuple[int, ...]:
    """Return the numbers in *text* such as "1,5,10", sorted; raises InputError."""
    words = [word.strip() for word in text.split(",")]
    if not all(word.isascii() and word.isdecimal() and len(word) < 10 for word in words) or len(words) > 50:
        raise InputError(
            "numbers of boards are wanted", key=key, found=repr(text[:60]), allowed="at most 50, as 1,5,10"
        )
    return tuple(sorted({checked_count(int(word), key) for word in words}))


def usual_quantities(facts: RunFacts, prices: Prices) -> tuple[int, ...]:
    """Return the numbers of boards looked at where none are named, as far as sold; raises InputError."""
    most = most_boards(facts, prices)
    return tuple(n for n in QUANTITIES if n <= most)


def estimate(facts: RunFacts, prices: Prices, quantities: Sequence[int] | None = None) -> Estimate:
    """Return what *quantities* boards cost, each by itself (default: 1, 5, 10, 50 as far as sold).

    Raises InputError where the table has no price for such boards or so many.
    """
    shop, _size = shop_of(facts, prices)
    wanted = quantities or usual_quantities(facts, prices)
    respin = respin_cost(facts, prices)
    return Estimate(
        facts=facts,
        shop=shop.name,
        currency=prices.currency,
        decimals=prices.decimals,
        table=prices.name,
        invented=prices.invented,
        as_of=prices.as_of,
        quotes=tuple(quote(facts, prices, n) for n in wanted),
        respin=respin,
        fixed=fixed_costs(prices, respin),
        notes=facts.notes,
    )


def quote(facts: RunFacts, prices: Prices, need: int) -> Quote:
    """Return the bills for *need* boards: as asked, and at the cheapest order; raises InputError."""
    best = cheapest(facts, prices, need)
    sale = sale_terms(best, prices, respin_cost(facts, prices)) if best.complete else None
    return Quote(need, bill(facts, prices, need), best, sale)


def estimate_run(
    run: Path, prices: Prices, quantities: Sequence[int] | None = None, catalogs: Sequence[Path] = ()
) -> Estimate:
    """Return what the run at *run* costs; raises InputError or MachineError."""
    return estimate(facts_of_run(run, prices, catalogs), prices, quantities)


def order_facts(ordered: Ordered, prices: Prices, catalogs: Sequence[Path] = ()) -> RunFacts:
    """Return what of a run in hand has a price, as single boards; for ``order``. Raises InputError."""
    bom = ordered.file("assembly/bom.csv")
    catalog = load_catalog(tuple(catalogs))
    return run_facts(ordered.record, ordered.summary, bom, ordered.fab, prices, catalog, ordered.stem)


def order_total(facts: RunFacts, prices: Prices, quantity: int) -> Decimal | None:
    """Return the least bill for *quantity* boards, None where the table does not sell them."""
    try:
        return cheapest(facts, prices, quantity).total
    except InputError:
        return None


def cost_of_run(run: Path, prices: Prices, quantity: int, catalogs: Sequence[Path] = ()) -> Mapping[str, str]:
    """Return the costs of *quantity* boards of the run in words, by group; for ``compare``.

    What has no price is a row of its own. Raises InputError or MachineError.
    """
    found = estimate_run(run, prices, (quantity,), catalogs)
    best = found.quotes[0].best
    rows = {f"{group} for {quantity}": f"{shown(best.group(group))} {found.currency}" for group in GROUPS}
    rows[f"total for {quantity}"] = f"{shown(best.total)} {found.currency}"
    rows["per board"] = f"{shown(best.per_board)} {found.currency}"
    rows |= {f"without a price: {name}": "not in the total" for name in best.missing}
    return rows
