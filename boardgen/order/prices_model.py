"""What a price table says, as frozen values: money and lengths are exact decimals, counts are integers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

MOST = 100_000  # boards, and parts of one kind on a board times that
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Steps:
    """Amounts by quantity: each holds from its count up to the next one's. Counts grow."""

    rows: tuple[tuple[int, Decimal], ...]

    @property
    def starts(self) -> tuple[int, ...]:
        """The counts at which a step begins."""
        return tuple(count for count, _amount in self.rows)

    def at(self, count: int) -> Decimal:
        """Return the amount that holds for *count*, which is no less than the first step's."""
        return next(amount for start, amount in reversed(self.rows) if start <= count)


class Sold(StrEnum):
    """How boards of a size are sold."""

    LOTS = "lots"  # in these numbers only; the amount buys the lot
    EACH = "each"  # from so many on, for each board
    AREA = "per_dm2"  # from so many on, for each dm2 of all boards


@dataclass(frozen=True, slots=True)
class SizePrice:
    """Boards that fit *long_mm* by *short_mm*, lying or turned; *per_order* is added once."""

    long_mm: Decimal
    short_mm: Decimal
    sold: Sold
    steps: Steps
    per_order: Decimal
    line: int | None = None

    @property
    def words(self) -> str:
        """The size in words."""
        return f"{self.long_mm.normalize():f} x {self.short_mm.normalize():f} mm"


@dataclass(frozen=True, slots=True)
class Surcharge:
    """What a value of an option adds to the boards' price; *percent* is of the boards without options."""

    option: str
    value: str
    per_order: Decimal
    per_board: Decimal
    per_dm2: Decimal
    percent: Decimal


@dataclass(frozen=True, slots=True)
class BoardPrices:
    """One fab's list. *fabs* are the fab classes it serves (none: any), *most* its largest order."""

    name: str
    fabs: tuple[str, ...]
    sizes: tuple[SizePrice, ...]
    surcharges: tuple[Surcharge, ...]
    most: int
    grams_per_dm2: Decimal | None
    line: int | None = None


@dataclass(frozen=True, slots=True)
class PartPrice:
    """A part's price by quantity; exactly one of *mpn*, *entry*, *footprint* is given.

    In *mpn* and *footprint* a star stands for any letters. *multiple* is the pack it is sold in. Of every
    order *spares_percent* and no fewer than *spares_least* parts are spare.
    """

    mpn: str
    entry: str
    footprint: str
    breaks: Steps
    multiple: int
    spares_percent: Decimal
    spares_least: int

    @property
    def words(self) -> str:
        """What the price is for."""
        return self.mpn or self.entry or self.footprint


@dataclass(frozen=True, slots=True)
class Freight:
    """Freight of the *goods* ("boards" or "parts"): *flat*, by boards delivered, and by their weight."""

    name: str
    goods: str
    flat: Decimal
    by_boards: Steps | None
    per_kg: Decimal
    package_kg: Decimal


@dataclass(frozen=True, slots=True)
class Fee:
    """Duty, tax or a handling fee: *flat*, and *percent* of the lines in the groups *share_of*."""

    name: str
    flat: Decimal
    percent: Decimal
    share_of: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Work:
    """Hours of work at *rate* an hour."""

    rate: Decimal = ZERO
    board_hours: Decimal = ZERO
    batch_hours: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Respin:
    """What another revision takes: so many boards, hours of design, weeks (at *per_week* where they cost).

    *freight* is the freight of those boards, None for what the table's freight says.
    """

    boards: int
    weeks: Decimal
    hours: Decimal
    per_week: Decimal
    freight: Decimal | None


@dataclass(frozen=True, slots=True)
class Sale:
    """A small sale: price at least *factor* times cost of goods, a multiple of *round_to*; fees each sale.

    *price* is the seller's own, None for the least one. *fixed* costs are paid once, whatever is sold;
    *respins* of them at the cost of a respin.
    """

    factor: Decimal = Decimal("2.5")
    price: Decimal | None = None
    round_to: Decimal = Decimal("0.01")
    fee_flat: Decimal = ZERO
    fee_percent: Decimal = ZERO
    fixed: tuple[tuple[str, Decimal], ...] = ()
    respins: int = 0


@dataclass(frozen=True, slots=True)
class Prices:
    """A price table. *decimals* are those of the currency; *where* names the file, *digest* its sha256."""

    name: str
    currency: str
    decimals: int
    invented: bool
    as_of: str
    boards: tuple[BoardPrices, ...]
    parts: tuple[PartPrice, ...] = ()
    freight: tuple[Freight, ...] = ()
    fees: tuple[Fee, ...] = ()
    work: Work = field(default_factory=Work)
    respin: Respin | None = None
    sale: Sale = field(default_factory=Sale)
    where: str = ""
    digest: str = ""

    def board_list(self, fab: str) -> BoardPrices | None:
        """Return the list for the fab class *fab*: the first that names it, else the first for any."""
        named = next((item for item in self.boards if fab in item.fabs), None)
        return named or next((item for item in self.boards if not item.fabs), None)

    def freight_steps(self) -> Iterator[int]:
        """Yield the counts of boards at which freight changes."""
        for item in self.freight:
            if item.by_boards is not None:
                yield from item.by_boards.starts
