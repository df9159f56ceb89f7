"""What vendors' words for a kind of row usually mean; a profile says what they do mean."""

import re

from pool_api.intake.profile import Meaning

_KIND_STEMS = (
    (Meaning.REFUND, "refund revers undo undone storno erstatt cancel"),
    (Meaning.PURCHASE, "purchase buy bought top topup order kauf compra achat"),
    (Meaning.SENT, "sent send out abgang"),
    (Meaning.RECEIVED, "receiv in incoming eingang"),
    (Meaning.TRANSFER, "transfer move loan share übertrag transf"),
    (Meaning.USE, "use used usage spend spent consum redeem unlock calibrat activat verbrauch expir adjust"),
    (Meaning.IGNORED, "login balance"),
)
"""Beginnings of words for kinds, in the order in which they are tried: an undone use is a refund."""


def meaning_of(word: str) -> Meaning | None:
    """Give what a word of the kind usually means, None when it isn't known."""
    parts = re.findall(r"[^\W\d_]+", word.casefold())
    for meaning, stems in _KIND_STEMS:
        if any(_begins(part, stem) for stem in stems.split() for part in parts):
            return meaning
    return None


def _begins(word: str, stem: str) -> bool:
    """Tell whether a word has the stem; one of up to three letters must be the whole word."""
    return word == stem or (len(stem) > len("top") and word.startswith(stem))
