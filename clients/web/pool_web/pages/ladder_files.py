"""Price ladders from the vendor's file: its columns looked at and put right, what each ladder would say beside the one
that counts until then, entered as it was shown."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from hashlib import sha256
from itertools import takewhile

from pool_client.errors import Misused, PoolError, Refused, Stale
from pool_client.models.buying import LadderRead, LaddersRead, PriceLadder, Tier
from pool_client.models.vendor import Proposal
from starlette.responses import Response

from pool_web import headers
from pool_web.carried import DIGEST, File, carrying
from pool_web.forms import Form
from pool_web.pages.sent import ANOTHER, MOVED, SHOWN, file_of
from pool_web.visit import Visit, form, listed, to

MEANINGS = (
    ("valid_from", "the day it counts from"),
    ("from_credits", "the size of an order"),
    ("unit_price", "the price of a credit"),
)
"""What a column of a ladder's file can say."""

_A_TABLE = "vendor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """A ladder of a file, and the one that counts on its day until then; tag is of one from that very day."""

    read: LadderRead
    until_now: PriceLadder | None
    tag: str

    @property
    def is_there(self) -> bool:
        """Whether just this is on file."""
        return bool(self.tag) and self.until_now is not None and self.until_now.tiers == self.read.tiers

    @property
    def rows(self) -> list[tuple[int, Decimal | None, Decimal | None]]:
        """Each size from which on a credit costs something else, what it costs, and what it costs until then."""
        before = self.until_now.tiers if self.until_now else ()
        sizes = sorted({tier.from_credits for tier in (*self.read.tiers, *before)})
        return [(size, _price(self.read.tiers, size), _price(before, size)) for size in sizes]


def _price(tiers: Iterable[Tier], quantity: int) -> Decimal | None:
    """Give what a credit costs in an order, None below the smallest one."""
    reached = [*takewhile(lambda tier: tier.from_credits <= quantity, tiers)]
    return reached[-1].unit_price if reached else None


async def ask(visit: Visit) -> Response:
    """Ask for a file."""
    return _asked(visit, visit.form({}))


async def take(visit: Visit) -> Response:
    """Show what the ladders of a file would be, or enter them as they were shown."""
    filled = await visit.filled_in()
    file = await file_of(visit, filled)
    filled.day("valid_from")
    if file is None or filled.problems:
        return _asked(visit, filled, status=422)
    try:
        table = await visit.book.propose_column_profile(file.content, name=_A_TABLE, sheet=filled["sheet"] or None)
    except (Refused, Misused) as refusal:
        return _asked(visit, filled, refusal)
    seen = filled[DIGEST] == file.digest
    roles = headers.roles_in(filled, MEANINGS) if seen else {}
    if filled.problems:
        return _looked_at(visit, filled, file, table, status=422)
    try:
        found = await _read(visit, filled, file, roles)
    except (Refused, Misused) as refusal:
        return _looked_at(visit, filled, file, table, refusal=refusal.sentence, status=refusal.status or 409)
    if filled.step == "enter":
        return await _entered(visit, filled, file, table, found, another=not seen)
    return _looked_at(visit, filled, file, table, found, await _coming(visit, found))


async def _read(visit: Visit, filled: Form, file: File, roles: dict[str, str]) -> LaddersRead:
    return await visit.book.propose_ladders(
        file.content,
        valid_from=filled.day("valid_from"),
        day_column=roles.get("valid_from"),
        credits_column=roles.get("from_credits"),
        price_column=roles.get("unit_price"),
        sheet=filled["sheet"] or None,
    )


async def _coming(visit: Visit, found: LaddersRead) -> list[Coming]:
    kept = await listed(visit.book.ladders())
    coming = []
    for each in found.ladders:
        until_now = next((there for there in reversed(kept) if there.valid_from <= each.valid_from), None)
        tag = ""
        if until_now and until_now.valid_from == each.valid_from:
            there = await visit.book.ladder(valid_from=each.valid_from)
            until_now, tag = there.value, there.tag
        coming.append(Coming(read=each, until_now=until_now, tag=tag))
    return coming


async def _entered(
    visit: Visit, filled: Form, file: File, table: Proposal, found: LaddersRead, *, another: bool
) -> Response:
    """Enter the ladders that aren't on file as they are, if they are those that were shown."""
    coming = await _coming(visit, found)
    new = [each for each in coming if not each.is_there]
    refusal = ANOTHER if another else MOVED if new and filled[SHOWN] != _digest(coming) else ""
    if not refusal and new and found.doubts and not filled.ticked("despite_doubts"):
        filled.problems["despite_doubts"] = "Tick this, or put right what is doubtful."
        return _looked_at(visit, filled, file, table, found, coming, status=422)
    if not refusal:
        try:
            for each in new:
                await visit.book.put_ladder(each.read.tiers, valid_from=each.read.valid_from, tag=each.tag or None)
        except (Refused, Misused, Stale) as error:
            coming, refusal = await _coming(visit, found), error.sentence
        else:
            return to(f"{visit.home}/buying/ladders", done="entered")
    return _looked_at(visit, filled, file, table, found, coming, refusal=refusal, status=409)


def _digest(coming: Sequence[Coming]) -> str:
    """Give what stands for all that was shown: what would be entered, and beside what."""
    told = [(each.read.valid_from, each.read.tiers, each.tag, each.rows) for each in coming]
    return sha256(repr(told).encode()).hexdigest()[:32]


def _asked(visit: Visit, filled: Form, refusal: PoolError | None = None, *, status: int = 200) -> Response:
    return visit.show(
        "ladder_file.html",
        status=(refusal.status or 409) if refusal else status,
        form=filled,
        refusal=refusal.sentence if refusal else "",
    )


def _looked_at(  # noqa: PLR0917 - what the page shows
    visit: Visit,
    filled: Form,
    file: File,
    table: Proposal,
    found: LaddersRead | None = None,
    coming: Sequence[Coming] = (),
    *,
    refusal: str = "",
    status: int = 200,
) -> Response:
    """Show how a file is understood; found is None where it can't be read like this."""
    told = {**filled.texts, **headers.carried_words(table.header), **carrying(file), SHOWN: _digest(coming)}
    if found:
        told |= headers.means(table.header, found.columns)
    return visit.show(
        "ladder_columns.html",
        status=status,
        form=replace(filled, texts=told),
        table=table,
        values=headers.samples(table.header, table.rows),
        meanings=MEANINGS,
        found=found,
        coming=coming,
        new=[each for each in coming if not each.is_there],
        refusal=refusal,
    )


ROUTES = (form("/buying/ladders/file", ask, take),)
