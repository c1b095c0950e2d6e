"""The bill for a number of boards, and the cheapest order that meets a need."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import Decimal, localcontext

from boardgen.errors import InputError
from boardgen.order.cost_facts import like
from boardgen.order.cost_model import EXACT, Bill, Line, PartNeed, RunFacts, rounded, short
from boardgen.order.prices_model import BoardPrices, PartPrice, Prices, SizePrice, Sold


def shop_of(facts: RunFacts, prices: Prices) -> tuple[BoardPrices, SizePrice]:
    """Return the board list and the size in it that price this run's pieces; raises InputError for a gap."""
    shop = prices.board_list(facts.fab)
    if shop is None:
        known = sorted({fab for item in prices.boards for fab in item.fabs})
        raise InputError(
            "no board list serves the run's fab class",
            prices.where,
            "boards",
            found=facts.fab,
            allowed=", ".join(known),
        )
    short_mm, long_mm = sorted((facts.width_mm, facts.height_mm))
    for size in shop.sizes:
        if long_mm <= size.long_mm and short_mm <= size.short_mm:
            return shop, size
    raise InputError(
        f"no size of {shop.name} holds the board",
        prices.where,
        "boards.sizes",
        shop.line,
        found=f"{short(facts.width_mm)} x {short(facts.height_mm)} mm",
        allowed=", ".join(f"up to {size.words}" for size in shop.sizes),
    )


def most_boards(facts: RunFacts, prices: Prices) -> int:
    """Return the largest number of boards that the table prices."""
    shop, size = shop_of(facts, prices)
    last = size.steps.starts[-1] if size.sold is Sold.LOTS else shop.most
    return min(last, shop.most) * facts.per_piece


def delivered(facts: RunFacts, prices: Prices, pieces: int) -> int:
    """Return how many pieces are bought for *pieces*: the next lot, or the least order; raises InputError."""
    shop, size = shop_of(facts, prices)
    starts = size.steps.starts
    bought = max(pieces, starts[0])
    if size.sold is Sold.LOTS:
        bought = next((lot for lot in starts if lot >= pieces), shop.most + 1)
    if bought > shop.most:
        raise InputError(
            f"{shop.name} has no price for so many boards of up to {size.words}",
            prices.where,
            "boards",
            size.line,
            found=str(pieces),
            allowed=f"at most {most_boards(facts, prices) // facts.per_piece}",
        )
    return bought


def bill(facts: RunFacts, prices: Prices, boards: int, pieces: int | None = None) -> Bill:
    """Return what *boards* finished boards cost where *pieces* are ordered (by default just enough).

    Boards beyond *boards* are bought and not fitted. Raises InputError where the table has no price for
    such boards.
    """
    parts, missing = _part_lines(facts, prices, boards)
    return _bill(facts, prices, boards, _pieces(facts, boards) if pieces is None else pieces, parts, missing)


def cheapest(facts: RunFacts, prices: Prices, boards: int) -> Bill:
    """Return the least bill for *boards* boards over every number that may be ordered, the fewest of equals.

    Between steps every line grows with the number ordered, so only *boards* and the beginnings of steps
    need be looked at. Raises InputError.
    """
    parts, missing = _part_lines(facts, prices, boards)
    least = _pieces(facts, boards)
    bills = [
        _bill(facts, prices, boards, pieces, parts, missing) for pieces in candidates(facts, prices, least)
    ]
    return min(bills, key=lambda item: (item.total, item.ordered))


def candidates(facts: RunFacts, prices: Prices, least: int) -> Sequence[int]:
    """Return the numbers of pieces from *least* on at which an order may become cheaper."""
    shop, size = shop_of(facts, prices)
    freight = (-(-start // facts.per_piece) for start in prices.freight_steps())
    last = most_boards(facts, prices) // facts.per_piece
    later = {start for start in (*size.steps.starts, *freight) if least < start <= min(last, shop.most)}
    return (least, *sorted(later))


def _pieces(facts: RunFacts, boards: int) -> int:
    return -(-boards // facts.per_piece)


def _bill(
    facts: RunFacts,
    prices: Prices,
    boards: int,
    pieces: int,
    parts: Sequence[Line],
    missing: Sequence[str],
) -> Bill:
    bought = delivered(facts, prices, pieces)
    with localcontext(prec=EXACT):
        return _priced(facts, prices, boards, bought, parts, missing)


def _priced(
    facts: RunFacts,
    prices: Prices,
    boards: int,
    bought: int,
    parts: Sequence[Line],
    missing: Sequence[str],
) -> Bill:
    made, gaps = board_lines(facts, prices, bought)
    lines = [*made, *parts, *freight_lines(facts, prices, bought)]
    if parts or missing:
        lines += [
            Line("freight", item.name, rounded(item.flat, prices.decimals), "flat")
            for item in prices.freight
            if item.goods == "parts"
        ]
    lines += _work_lines(prices, boards)
    lines += fee_lines(prices, lines)
    kept = tuple(line for line in lines if line.amount or line.group in ("boards", "parts"))
    return Bill(boards, bought * facts.per_piece, kept, (*gaps, *missing), prices.decimals)


def board_lines(facts: RunFacts, prices: Prices, bought: int) -> tuple[list[Line], tuple[str, ...]]:
    """Return the lines of *bought* bare pieces with their options, and the options without a price."""
    shop, size = shop_of(facts, prices)
    amount, area = size.steps.at(bought), facts.dm2 * bought
    base = amount * {Sold.LOTS: Decimal(1), Sold.EACH: Decimal(bought), Sold.AREA: area}[size.sold]
    what = "panels" if facts.per_piece > 1 else "boards"
    how = {
        Sold.LOTS: f"a lot of {bought} {what}",
        Sold.EACH: f"{bought} {what} at {short(amount, 6)}",
        Sold.AREA: f"{bought} {what}, {short(area)} dm2 at {short(amount, 6)}",
    }[size.sold]
    if size.per_order:
        base += size.per_order
        how += f", {short(size.per_order, 6)} an order"
    base = rounded(base, prices.decimals)
    lines = [Line("boards", shop.name, base, f"{how}, up to {size.words}")]
    gaps: list[str] = []
    for option, value in facts.options:
        offered = [item for item in shop.surcharges if item.option == option]
        match = next((item for item in offered if item.value.casefold() == value.casefold()), None)
        if match is not None:
            extra = match.per_order + match.per_board * bought + match.per_dm2 * area
            extra += base * match.percent / 100
            lines.append(Line("options", f"{option} {value}", rounded(extra, prices.decimals)))
        elif offered:
            gaps.append(f"option {option} {value}")
    return lines, tuple(gaps)


def freight_lines(facts: RunFacts, prices: Prices, bought: int) -> list[Line]:
    """Return the freight of *bought* pieces, for what they weigh and how many boards they are."""
    shop, _size = shop_of(facts, prices)
    grams = facts.grams_per_dm2 if shop.grams_per_dm2 is None else shop.grams_per_dm2
    weight = grams * facts.dm2 * bought / 1000
    lines = []
    for item in prices.freight:
        if item.goods != "boards":
            continue
        amount, how = item.flat, [f"{short(item.flat, 6)} flat"] if item.flat else []
        if item.by_boards is not None:
            amount += item.by_boards.at(bought * facts.per_piece)
            how.append(f"for {bought * facts.per_piece} boards")
        if item.per_kg:
            amount += item.per_kg * (weight + item.package_kg)
            how.append(f"{short(weight + item.package_kg, 3)} kg at {short(item.per_kg, 6)}")
        lines.append(Line("freight", item.name, rounded(amount, prices.decimals), ", ".join(how)))
    return lines


def fee_lines(prices: Prices, lines: Sequence[Line]) -> list[Line]:
    """Return the fees on *lines*."""
    found = []
    for fee in prices.fees:
        base = sum((line.amount for line in lines if line.group in fee.share_of), Decimal(0))
        amount = fee.flat + base * fee.percent / 100
        how = f"{short(fee.percent)} % of {', '.join(fee.share_of)}" if fee.percent else "flat"
        found.append(Line("fees", fee.name, rounded(amount, prices.decimals), how))
    return found


def _work_lines(prices: Prices, boards: int) -> list[Line]:
    work, found = prices.work, []
    for name, hours in (("on the batch", work.batch_hours), ("on the boards", work.board_hours * boards)):
        if hours:
            how = f"{short(hours)} h at {short(work.rate, 6)}"
            found.append(Line("work", f"Work {name}", rounded(hours * work.rate, prices.decimals), how))
    return found


def _part_lines(facts: RunFacts, prices: Prices, boards: int) -> tuple[list[Line], tuple[str, ...]]:
    lines, missing = [], []
    for need in facts.parts:
        price = price_of(need, prices)
        if price is None:
            missing.append(need.words)
            continue
        wanted = with_spares(price, need.per_board * boards)
        count, amount = purchase(price, wanted, prices.decimals)
        how = f"{count} at {short(price.breaks.at(count), 6)}"
        if count > need.per_board * boards:
            how += f", {need.per_board * boards} needed"
        lines.append(Line("parts", need.words, amount, how))
    return lines, tuple(missing)


def price_of(need: PartNeed, prices: Prices) -> PartPrice | None:
    """Return a part's price: by its order number, its catalogue id, a pattern (longest), its footprint."""
    ways = [
        [item for item in prices.parts if item.mpn and item.mpn == need.mpn],
        [item for item in prices.parts if item.entry in need.entries],
        _longest((item.mpn, item) for item in prices.parts if need.mpn and like(item.mpn, need.mpn)),
        _longest(
            (item.footprint, item)
            for item in prices.parts
            if need.footprint and like(item.footprint, need.footprint)
        ),
    ]
    return next((found[0] for found in ways if found), None)


def _longest(fitting: Iterable[tuple[str, PartPrice]]) -> list[PartPrice]:
    """Return the prices whose pattern fits, the most particular first."""
    return [item for _pattern, item in sorted(fitting, key=lambda pair: (-len(pair[0]), pair[0]))]


def with_spares(price: PartPrice, total: int) -> int:
    """Return *total* and its spares."""
    return total + max(price.spares_least, math.ceil(total * price.spares_percent / 100))


def purchase(price: PartPrice, wanted: int, decimals: int) -> tuple[int, Decimal]:
    """Return how many parts to buy so that *wanted* cost least, and what they cost.

    More are bought where the next break makes that cheaper; packs are bought whole.
    """
    counts = {-(-max(wanted, start) // price.multiple) * price.multiple for start in price.breaks.starts}
    priced = ((rounded(count * price.breaks.at(count), decimals), count) for count in counts)
    amount, count = min(priced)
    return count, amount
