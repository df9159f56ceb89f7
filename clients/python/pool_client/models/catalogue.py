"""The vendor's catalogue, what jobs cost and earned, and quotes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from pool_client.models.months import Replacement, UnitCost
from pool_client.models.vendor import SetAside


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """What a bundle covers beside itself: items by their codes, all items of families, all of vehicle classes."""

    items: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """Something that the vendor releases for credits. trade_only: sold to trade buyers only; road_restricted: what it
    does isn't lawful on public roads everywhere."""

    code: str
    name: str
    credits: int
    vehicle_class: str | None = None
    family: str | None = None
    covers: Covered = field(default_factory=Covered)
    trade_only: bool = False
    road_restricted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueListed:
    """A catalogue as it counts from a day on, without its items."""

    valid_from: date
    version: int
    item_count: int
    written_at: datetime
    written_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue(CatalogueListed):
    """A catalogue with its items."""

    items: tuple[Item, ...]
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueVersion:
    """What was said of a catalogue; without a count of items where it was withdrawn."""

    version: int
    written_at: datetime
    written_by: str
    item_count: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemChanged:
    """An item before and after."""

    before: Item
    after: Item


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What a catalogue says otherwise than an older one."""

    since: date
    new: tuple[Item, ...]
    gone: tuple[Item, ...]
    dearer: tuple[ItemChanged, ...]
    cheaper: tuple[ItemChanged, ...]
    altered: tuple[ItemChanged, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueProfile:
    """Which column of the vendor's catalogues, by its header word, says what of an item."""

    name: str
    code: str
    credits: str
    title: str | None = None
    vehicle_class: str | None = None
    family: str | None = None
    covers: str | None = None
    covers_families: str | None = None
    covers_classes: str | None = None
    trade_only: str | None = None
    road_restricted: str | None = None
    decimal: str = "."
    thousands: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueRead:
    """What a catalogue's file says; nothing of it is kept."""

    columns: Mapping[str, str]
    doubts: tuple[str, ...]
    other_sheets: tuple[str, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    items: tuple[Item, ...]
    set_aside: tuple[SetAside, ...]
    profile: CatalogueProfile | None = None
    sheet: str | None = None
    changes: Changes | None = None


class By(StrEnum):
    """What earnings are told by; total puts all together."""

    TOTAL = "total"
    MONTH = "month"
    MEMBER = "member"
    ITEM = "item"
    VEHICLE_CLASS = "vehicle_class"
    JOB = "job"


@dataclass(frozen=True, slots=True, kw_only=True)
class Earned:
    """What some uses cost and earned: margin is the price less the cost of those that have one."""

    uses: int
    credits: int
    cost: Decimal
    price: Decimal
    margin: Decimal
    unpriced_uses: int
    unpriced_credits: int
    unpriced_cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class EarnedRow(Earned):
    """The uses that have a name in common; None for all together, and for items without a vehicle class."""

    name: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Earnings:
    """What the uses of some months cost and earned."""

    by: By
    from_month: str
    to_month: str
    rows: tuple[EarnedRow, ...]
    total: Earned


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedUse:
    """A use beside the catalogue of its day."""

    entry: int
    on: date
    member: str
    item: str
    job: str
    quantity: int
    undone: int
    finding: str
    unmarked: bool
    cautions: tuple[str, ...]
    catalogue: date | None = None
    listed: int | None = None
    difference: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen(Item):
    """An item to be bought, and which of the wanted ones are had with it."""

    serves: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """The items that cost the fewest credits and with which all that is wanted is had."""

    catalogue: date
    chosen: tuple[Chosen, ...]
    credits: int
    singly: int
    proven: bool
    lower_bound: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospect:
    """What credits cost at a unit price, and what is left of the price for the job."""

    unit_price: UnitCost
    cost: Decimal
    margin: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """What a job would take and cost."""

    member: str
    on: date
    credits: int
    held: int
    missing: int
    cautions: tuple[str, ...]
    cover: Cover | None = None
    price: Decimal | None = None
    blended: Prospect | None = None
    replaced: Prospect | None = None
    replacement: Replacement | None = None
