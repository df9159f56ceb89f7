"""The hand-written files of the network: terms, shops, column profile, price ladder and catalogue, as plain values.

Knows where the files stand and what their columns are called. What happened in the three months is not known here.
"""

import csv
import tomllib
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"
MONTHS = ("2026-08", "2026-09", "2026-10")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """A shop, its account at the vendor, and what it held when the book began."""

    code: str
    name: str
    handle: str
    uses_per_day: float
    held: int
    cost: str
    due: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A line of the vendor's catalogue."""

    code: str
    name: str
    credits: int
    off_road_only: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """All of it. pool, opening and profile are as the service's API takes them, shops apart."""

    pool: dict[str, Any]
    opening: dict[str, Any]
    profile: dict[str, Any]
    shops: tuple[Shop, ...]
    catalogue: tuple[Item, ...]
    ladder: tuple[tuple[int, Decimal], ...]

    @property
    def began_on(self) -> date:
        """The pool's first day."""
        began_on: date = self.pool["began_on"]
        return began_on

    @property
    def custodian(self) -> str:
        """The shop in whose account the stock sits."""
        custodian: str = self.pool["custodian"]
        return custodian

    @property
    def handles(self) -> dict[str, str]:
        """Each shop's account at the vendor, by code."""
        return {shop.code: shop.handle for shop in self.shops}

    def order_price(self, quantity: int) -> Decimal:
        """Give what the vendor charges for one order: its size times the price of the tier that the size falls in."""
        return quantity * max((start, price) for start, price in self.ladder if start <= quantity)[1]


@cache
def read_network() -> Network:
    """Read the hand-written files."""
    told = tomllib.loads((DATA / "network.toml").read_text(encoding="utf-8"))
    shops = tuple(
        Shop(**{name: value for name, value in shop.items() if name != "opening"}, **shop["opening"])
        for shop in told["shops"]
    )
    return Network(
        pool=told["pool"],
        opening={"members": [_position(shop) for shop in shops], **told["opening"]},
        profile=told["profile"],
        shops=shops,
        catalogue=tuple(
            Item(
                code=line["item"],
                name=line["name"],
                credits=int(line["credits"]),
                off_road_only=line["off_road_only"] == "yes",
            )
            for line in _lines("catalogue.csv")
        ),
        ladder=tuple((int(line["from_credits"]), Decimal(line["unit_price"])) for line in _lines("price-ladder.csv")),
    )


def _position(shop: Shop) -> dict[str, Any]:
    return {"member": shop.code, "held": shop.held, "cost": shop.cost, "due": shop.due}


def _lines(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
