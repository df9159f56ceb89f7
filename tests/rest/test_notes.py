"""Finding entries by part of their notes, in any language. Own cases."""

from decimal import Decimal

import pytest
from pool_client.models.entries import Purchase

from tests.served import FIRST_DAY, Served


@pytest.mark.parametrize(
    ("text", "found"), [("\u00c4rger", 1), ("\u00d6l", 1), ("mIT", 1), ("100%", 1), ("a%b", 0), ("_rger", 0)]
)
def test_entries_are_found_by_part_of_their_note(service: Served, text: str, found: int) -> None:
    book = service.book()
    purchase = Purchase(into="ALDER", paid_by="ALDER", quantity=1, amount=Decimal(1))
    book.record(purchase, effective_on=FIRST_DAY, note="\u00c4rger mit \u00d6l, 100% geb\u00fchrenfrei")

    assert found == len(list(book.entries(text=text)))
