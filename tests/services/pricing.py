"""What the vendor does to a pool in the tests of laws: other ladders, by which savings are shared from then on."""

from datetime import date

from hypothesis import strategies as st
from hypothesis.stateful import rule

from pool_api.domain.access import Caller
from pool_api.domain.errors import NotFound
from pool_api.domain.ladder import Tier
from pool_api.services import ladders
from pool_api.services.office import Office

TIERS = (Tier(1, "9.50"), Tier(12, "8.333333"), Tier(40, "7.05"))


class Vendor:
    """A part of a state machine that has an office, a caller and a pool."""

    office: Office
    caller: Caller
    pool: str

    @rule(day=st.sampled_from((date(2026, 9, 1), date(2026, 10, 15))), tiers=st.integers(1, len(TIERS)))
    def price_otherwise(self, day: date, tiers: int) -> None:
        """Enter a ladder, or say one otherwise: of all tiers, or of fewer."""
        try:
            version: int | None = ladders.read_ladder(self.office, self.caller, self.pool, day)[0].version
        except NotFound:
            version = None
        ladders.put_ladder(self.office, self.caller, self.pool, day, TIERS[:tiers], version)
