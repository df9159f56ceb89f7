"""Signing a month's reconciliation off: an entry that says what it came to, and the matches that were there kept."""

import asyncio
from dataclasses import dataclass

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.acts import Act, ActKind, pin_name
from pool_api.domain.entries import Command, SignedAccount, SignOff, digest
from pool_api.domain.errors import NotFound, ReconciliationOpen, ReconciliationStale
from pool_api.domain.matching import Status
from pool_api.domain.values import Month
from pool_api.services import acting, recording
from pool_api.services.confirming import content
from pool_api.services.office import Office
from pool_api.services.reconciling import Reconciliation, compared
from pool_api.store.answers import Slot
from pool_api.store.writer import Recorded


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """What a keeper signs: the digest of the comparison that it saw; accept_open is the word that what is open was
    seen."""

    seen: str
    accept_open: bool
    note: str
    key: str

    @property
    def fingerprint(self) -> str:
        """Equal exactly for requests that ask for the same."""
        return digest({"seen": self.seen, "accept_open": self.accept_open, "note": self.note})


async def sign_off(office: Office, caller: Caller, pool: str, month: Month, signature: Signature) -> Recorded:
    """Sign a month's comparison off as it was seen, once: signed again unchanged, the entry is given that stands.

    Refuses: ReconciliationStale when it is another by now; ReconciliationOpen without the word that what is open was
             seen; MonthNotReached; NotFound, NotPermitted; as the writer says."""
    access.permit_into(caller, pool, Right.RECONCILE)
    slot = Slot(caller.key_id, f"sign off {month}", signature.key)
    commands: list[Command] = []
    if not await asyncio.to_thread(recording.is_answered, office, pool, slot):
        found = await asyncio.to_thread(compared, office, pool, month)
        if found.digest != signature.seen:
            raise ReconciliationStale(month=str(month), seen=signature.seen)
        if found.sign_off is not None and not found.changed:
            return Recorded((found.sign_off.entry,), replayed=True)
        body = _body(found, accept_open=signature.accept_open)
        await asyncio.to_thread(acting.keep, office, pool, _kept(caller, found))
        name = f"sign-off-{month}-{found.digest[:40]}"
        commands = [recording.command(caller, body, month.last, note=signature.note, reference=name)]
    return await recording.record(
        office, caller, pool, commands, operation=slot.operation, key=slot.key, fingerprint=signature.fingerprint
    )


def _body(found: Reconciliation, *, accept_open: bool) -> SignOff:
    """Give what the entry says. Refuses: NotFound where no account's record is of the month; ReconciliationOpen."""
    if not found.proof:
        raise NotFound(what="vendor record of", name=str(found.month))
    suggested, open_ = len(found.suggested()), len(found.undecided())
    if (open_ or suggested or found.broken) and not accept_open:
        unconfirmed = suggested + len(found.broken)
        raise ReconciliationOpen(month=str(found.month), differences=open_, matches=unconfirmed)
    closings = {each.account: each for each in found.proof}
    there = {each.key for each in found.differences}
    return SignOff(
        month=str(found.month),
        digest=found.digest,
        accounts=tuple(
            SignedAccount(
                account=each.account,
                on=each.last.isoformat(),
                journal=each.journal.closing or 0,
                record=each.record.closing,
            )
            for each in closings.values()
        ),
        matched=sum(each.status is Status.MATCHED for each in found.matches),
        suggested=suggested,
        open=open_,
        broken=len(found.broken),
        dismissed=sum(made.verdict == "dismissed" for key, made in found.decisions.items() if key in there),
        accepted_open=bool(open_ or suggested or found.broken),
    )


def _kept(caller: Caller, found: Reconciliation) -> list[Act]:
    """Give the acts that keep the month's matches, but for those that are kept already.

    They are written before the entry and count from when it stands: a process that ends in between leaves nothing."""
    return [
        acting.new(
            caller,
            found.month,
            ActKind.SIGNED,
            pin_name(each.entries, each.rows),
            {**content(found, each.entries, each.rows), "digest": found.digest},
            "",
        )
        for each in found.matches
        if found.kept(each) is None
    ]
