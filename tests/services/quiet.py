"""A member that trades nothing in the tests of laws: it bears and finances by its share while it is in the pool."""

from contextlib import suppress
from datetime import date

from hypothesis import strategies as st
from hypothesis.stateful import rule

from pool_api.domain.access import Caller
from pool_api.domain.errors import MemberNotClear, NotFound
from pool_api.domain.pool import Member
from pool_api.services import terms
from pool_api.services.office import Office

CODE = "DOGWOOD"

days = st.dates(date(2026, 9, 1), date(2026, 11, 10))


class Quiet:
    """A part of a state machine that has an office, a caller and a pool."""

    office: Office
    caller: Caller
    pool: str

    @rule(joined_on=days, left_on=st.none() | days, share=st.integers(0, 3))
    def change_who_bears_and_finances(self, joined_on: date, left_on: date | None, share: int) -> None:
        """What closes froze of its days and its share stays: verification would tell."""
        changed = Member(code=CODE, name="Dogwood", joined_on=joined_on, left_on=left_on, share=share)
        try:
            version: int | None = terms.read_member(self.office, self.caller, self.pool, CODE)[1]
        except NotFound:
            version = None
        with suppress(MemberNotClear):
            terms.put_member(self.office, self.caller, self.pool, changed, version)
