"""The cautions that go with what the service gives out. The words are here once."""

_NO_INVOICE = (
    "This is a working paper between members, not a tax invoice: tax, invoicing and resale rules are local; ask an "
    "accountant."
)

STATEMENT = (
    _NO_INVOICE,
    "Whether members may pass credits on, and on what terms, is for the vendor's contract to say.",
)

SETTLEMENT = (
    *STATEMENT,
    "A settlement list is not a payment order: check names and accounts before money moves.",
)

ROAD_USE = (
    "Credits spent on vehicles for public roads pay for changes that emission and type-approval law may forbid; the "
    "law of the place and a licensed professional decide."
)
