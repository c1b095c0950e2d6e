"""What boards cost, as frozen values. Money is an exact Decimal in the table's currency.

Rounding: every line of a bill is rounded once, half up, to the currency's smallest unit; totals are exact
sums of lines. Costs per board are quotients, rounded half up only where they are shown.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

EXACT = 100  # digits: more than products of the longest amounts, lengths and counts have
GROUPS = ("boards", "options", "parts", "freight", "fees", "work")


def rounded(amount: Decimal | Fraction, decimals: int) -> Decimal:
    """Return *amount* at so many decimals, half up; exact before that, whatever its digits."""
    exact = Fraction(amount) * 10**decimals
    whole = (2 * exact.numerator + exact.denominator) // (2 * exact.denominator)
    return Decimal(whole).scaleb(-decimals)


def shown(amount: Decimal) -> str:
    """Return *amount* without an exponent."""
    return f"{amount:f}"


def short(amount: Decimal, places: int = 4) -> str:
    """Return *amount* with at most so many decimals and no idle zeros."""
    text = f"{amount.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True, slots=True)
class PartNeed:
    """A row of the run's parts list: what one board takes. *entries* are catalogue ids that stand for it."""

    refs: str
    per_board: int
    value: str
    footprint: str
    mpn: str
    note: str = ""
    entries: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The part in words."""
        named = self.mpn or self.value or self.footprint
        return f"{self.refs} {named}" if named else self.refs


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What of a run has a price: lengths of a piece in mm (exact), values of the fab's options, parts.

    A piece is what the fab counts: a board, or a panel of *per_piece* boards. *grams* is a piece's weight.
    """

    design: str
    revision: str
    fab: str
    width_mm: Decimal
    height_mm: Decimal
    grams_per_dm2: Decimal
    options: tuple[tuple[str, str], ...]
    parts: tuple[PartNeed, ...]
    notes: tuple[str, ...] = ()
    per_piece: int = 1

    @property
    def dm2(self) -> Decimal:
        """Area of a piece in dm2, of the rectangle round it."""
        return self.width_mm * self.height_mm / 10_000

    def in_panels(self, width_mm: Decimal, height_mm: Decimal, boards: int) -> RunFacts:
        """Return the same run, made in panels of that size with so many boards on each."""
        return replace(self, width_mm=width_mm, height_mm=height_mm, per_piece=boards)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a bill: *detail* says how the amount comes about."""

    group: str
    name: str
    amount: Decimal
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Bill:
    """What *boards* finished boards cost when *ordered* boards are bought; *missing* has no price."""

    boards: int
    ordered: int
    lines: tuple[Line, ...]
    missing: tuple[str, ...]
    decimals: int

    @property
    def complete(self) -> bool:
        """Whether everything has a price."""
        return not self.missing

    @property
    def total(self) -> Decimal:
        """The exact sum of the lines."""
        return sum((line.amount for line in self.lines), Decimal(0).scaleb(-self.decimals))

    @property
    def unit(self) -> Fraction:
        """The exact cost of a finished board."""
        return Fraction(self.total) / self.boards

    @property
    def per_board(self) -> Decimal:
        """The cost of a finished board, rounded half up."""
        return rounded(self.unit, self.decimals)

    def group(self, name: str) -> Decimal:
        """Return the sum of a group's lines."""
        return sum((line.amount for line in self.lines if line.group == name), Decimal(0))

    def sorted_lines(self) -> tuple[Line, ...]:
        """Return the lines, the dearest first."""
        place = {group: n for n, group in enumerate(GROUPS)}
        return tuple(sorted(self.lines, key=lambda line: (-line.amount, place[line.group], line.name)))


@dataclass(frozen=True, slots=True)
class RespinCost:
    """What another revision costs: its bill, and the weeks it takes."""

    bill: Bill
    weeks: Decimal

    @property
    def total(self) -> Decimal:
        """All of it."""
        return self.bill.total


@dataclass(frozen=True, slots=True)
class SaleTerms:
    """A small sale at a batch's unit cost. *least* is factor x unit cost, rounded up; *price* the one used.

    *fee* is what a sale costs, *margin* what one leaves (exact), *fixed* what must come in.
    *break_even* boards sold bring it in, None where no number does.
    """

    least: Decimal
    price: Decimal
    fee: Decimal
    margin: Fraction
    fixed: Decimal
    break_even: int | None


@dataclass(frozen=True, slots=True)
class Quote:
    """A number of boards wanted, with the order as it stands and the cheapest one (the same or larger).

    Without a price for everything there are no terms of *sale*: they would be too low.
    """

    need: int
    plain: Bill
    best: Bill
    sale: SaleTerms | None

    @property
    def saved(self) -> Decimal:
        """What ordering more saves."""
        return self.plain.total - self.best.total


@dataclass(frozen=True, slots=True)
class Estimate:
    """All that ``cost`` tells of a run."""

    facts: RunFacts
    shop: str
    currency: str
    decimals: int
    table: str
    invented: bool
    as_of: str
    quotes: tuple[Quote, ...]
    respin: RespinCost | None
    fixed: tuple[tuple[str, Decimal], ...] = ()
    notes: tuple[str, ...] = field(default=())

    @property
    def missing(self) -> tuple[str, ...]:
        """What has no price, named once."""
        found = dict.fromkeys(name for quote in self.quotes for name in quote.best.missing)
        return tuple(found)
