"""The cautions that go with what the service gives out. The words are here once."""

from pool_api.domain.entries import Body, Close

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


def of_record(close: Body | None) -> tuple[str, ...]:
    """Give what a close says of the vendor's record: what was open and accepted, and which entry signed it off."""
    if not isinstance(close, Close):
        return ()
    found = []
    if close.accepted_differences or close.accepted_suggestions:
        found.append(
            "The month was closed although the vendor's record was not cleared up: differences that nobody had "
            f"decided: {close.accepted_differences}; matches that nobody had confirmed: {close.accepted_suggestions}."
        )
    if close.sign_off is not None:
        found.append(f"Its comparison with the vendor's record was signed off by entry {close.sign_off}.")
    return tuple(found)
