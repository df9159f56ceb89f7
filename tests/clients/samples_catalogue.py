"""Samples of the calls about catalogues and jobs, as samples.py has those of all others."""

from datetime import date
from decimal import Decimal
from typing import Any

from pool_client.models.catalogue import By, CatalogueProfile, Covered, Item

from tests.clients.samples_buying import BUYING
from tests.clients.samples_rounds import ROUNDS

DAY = date(2026, 11, 3)

ITEMS = (
    Item(code="CAL-S", name="Calibration, small", credits=12, vehicle_class="car", family="K2"),
    Item(
        code="CAL-ALL",
        name="Every calibration",
        credits=40,
        covers=Covered(items=("CAL-S",), families=("K2",), classes=("car",)),
        trade_only=True,
        road_restricted=True,
    ),
)
CATALOGUE_PROFILE = CatalogueProfile(
    name="norvane",
    code="Article",
    credits="Credits",
    title="Title",
    vehicle_class="Class",
    family="Family",
    covers="Includes",
    covers_families="Families",
    covers_classes="Classes",
    trade_only="Trade",
    road_restricted="Road",
    decimal=",",
    thousands=".",
)
CATALOGUE: dict[str, list[tuple[tuple[Any, ...], dict[str, Any]]]] = {
    "catalogues": [((), {"limit": 5})],
    "catalogue": [((), {"valid_from": DAY})],
    "put_catalogue": [((ITEMS,), {"valid_from": DAY, "tag": '"3"'})],
    "withdraw_catalogue": [((), {"valid_from": DAY, "tag": '"3"'})],
    "catalogue_versions": [((), {"valid_from": DAY, "limit": 5})],
    "catalogue_version": [((), {"valid_from": DAY, "version": 2})],
    "catalogue_changes": [((), {"valid_from": DAY, "since": DAY})],
    "propose_catalogue": [((b"a;b\n",), {"profile": "norvane", "on": DAY, "sheet": "Items"})],
    "catalogue_items": [
        ((), {"on": DAY, "text": "calibration", "vehicle_class": "van", "family": "K2", "limit": 5}),
    ],
    "catalogue_profiles": [((), {"limit": 5})],
    "catalogue_profile": [((), {"name": "norvane"})],
    "put_catalogue_profile": [((CATALOGUE_PROFILE,), {"tag": '"3"'})],
    "earnings": [
        ((), {"from_month": "2026-10", "to_month": "2026-11", "by": By.ITEM, "member": "ALDER"}),
    ],
    "earnings_csv": [((), {"from_month": "2026-10", "to_month": "2026-11", "by": By.ITEM, "member": "ALDER"})],
    "use_checks": [((), {"month": "2026-11", "doubtful": True, "limit": 5})],
    "quote": [
        ((), {"member": "ALDER", "items": ("CAL-S",), "credits": 2, "price": Decimal("480.00"), "on": DAY}),
    ],
}

BUYING_AND_CATALOGUE = {**BUYING, **ROUNDS, **CATALOGUE}
