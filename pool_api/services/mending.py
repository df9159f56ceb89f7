"""Deciding on differences between journal and vendor record: recording what would mend one, or dismissing it; one by
one, or all of a kind.

Accepting writes entries through the writer like anybody's request, under references made from the difference's key, so
that doing it twice records once; a refused try can be made again. A decision stands for good.
"""

import asyncio
from collections.abc import Awaitable, Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.acts import Answer as Answered
from pool_api.domain.acts import Handed
from pool_api.domain.entries import Command, Entry, Json, digest
from pool_api.domain.errors import (
    AlreadyDecided,
    AnswerMissing,
    DomainError,
    MendIncomplete,
    MendUnfit,
    NotFound,
    NotMendable,
)
from pool_api.domain.matching import Difference, DifferenceKind
from pool_api.domain.values import Month
from pool_api.services import mends, recording
from pool_api.services.mends import Said
from pool_api.services.office import Office
from pool_api.services.reconciling import Reconciliation, compared
from pool_api.services.rehearsing import Rehearsal
from pool_api.store import answers, journal, vendor
from pool_api.store.answers import Answer, Slot
from pool_api.store.engine import reading, writing
from pool_api.store.vendor import Decision

OPERATION = "mend"

MOST_AT_ONCE = 500
"""Differences that one request decides on."""

MOST_TURNS = 20
"""How often those refused are tried again, at the most."""

_FOR_GOOD = (MendIncomplete, MendUnfit, NotMendable)
"""Refusals that nothing recorded meanwhile would change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a keeper says of a difference. fields fills in what a mend asks for, or is in place of what it offers (see
    mends.CHANGEABLE); as_answered takes over what the member that it was handed to has answered."""

    difference: str
    accepted: bool
    reason: str
    fields: Said
    key: str
    as_answered: bool = False

    @property
    def fingerprint(self) -> str:
        """Equal exactly for requests that ask for the same."""
        said = [self.difference, self.accepted, self.reason, dict(self.fields)]
        return digest([*said, True] if self.as_answered else said)


async def decide(office: Office, caller: Caller, pool: str, month: Month, verdict: Verdict) -> Decision:
    """Accept a difference's mend or dismiss the difference, for good.

    Refuses: NotFound, NotPermitted, AlreadyDecided, AnswerMissing, NotMendable, MendIncomplete, MendUnfit; as the
             writer says."""
    access.permit_into(caller, pool, Right.RECONCILE)
    slot = Slot(caller.key_id, f"decide {month}", verdict.key)
    await asyncio.to_thread(_answered, office, pool, slot, verdict.fingerprint)
    found = await asyncio.to_thread(compared, office, pool, month)
    earlier = found.decisions.get(verdict.difference)
    if earlier is not None:
        if earlier.verdict != _word(accepted=verdict.accepted):
            raise AlreadyDecided(difference=verdict.difference, verdict=earlier.verdict)
        return earlier
    difference = next((each for each in found.differences if each.key == verdict.difference), None)
    said = verdict.fields
    if verdict.as_answered:
        said = {**_as_answered(found.standing.handed.get(verdict.difference), verdict), **said}
    recorded: tuple[int, ...] = ()
    if difference is None:
        if not verdict.accepted:
            raise NotFound(what="difference", name=verdict.difference)
        recorded = await asyncio.to_thread(_recorded_before, office, pool, verdict.difference)
    elif verdict.accepted:
        record = _recorder(office, caller, pool, verdict.key)
        recorded = _numbers(await _mended(found, caller, difference, (said, verdict.reason), record))
    withdrawn = difference.withdraws if difference is not None and verdict.accepted else ()
    made = _decision(office, caller, verdict.difference, verdict, recorded, withdrawn=withdrawn)
    kept = Answer(verdict.fingerprint, {"difference": verdict.difference})
    return (await asyncio.to_thread(_keep, office, pool, [made], {slot: kept}))[0]


def _as_answered(handed: Handed | None, verdict: Verdict) -> Said:
    """Give the fields of a member's answer. Refuses: AnswerMissing where there is none, or another than the verdict."""
    fitting = Answered.MEND if verdict.accepted else Answered.VENDOR_MISTAKEN
    if handed is None or handed.answer is None or handed.answer.content["answer"] != fitting:
        raise AnswerMissing(difference=verdict.difference, verdict=_word(accepted=verdict.accepted))
    found: Said = handed.answer.content["fields"]
    return found


def _word(*, accepted: bool) -> str:
    return "accepted" if accepted else "dismissed"


# --- all of a kind ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class OfAKind:
    """What a keeper says of all undecided differences of a kind; fields as of a verdict, for those whose mends take
    them."""

    kind: DifferenceKind
    accepted: bool
    reason: str
    fields: Said

    @property
    def fingerprint(self) -> str:
        """Equal exactly for requests that ask for the same."""
        return digest([self.kind, self.accepted, self.reason, dict(self.fields)])

    def of(self, difference: Difference) -> tuple[Said, str]:
        """Give the fields that a difference's mend takes, and the reason."""
        return mends.taken(difference, self.fields), self.reason


@dataclass(frozen=True, slots=True, kw_only=True)
class Dealt:
    """What becomes of one difference: the entries that mend it, which have no number while they are only shown, or the
    code and the sentence of the refusal that stands against it."""

    difference: str
    sentence: str
    entries: tuple[Entry, ...] = ()
    refusal: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DealtWith:
    """What becomes of all differences of a kind, in their order; left is how many are left for another request."""

    kind: DifferenceKind
    accepted: bool
    differences: tuple[Dealt, ...]
    left: int
    replayed: bool = False


async def preview_all(office: Office, caller: Caller, pool: str, month: Month, asked: OfAKind) -> DealtWith:
    """Show what deciding on all of a kind would record, and what would be refused; nothing is kept.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.RECONCILE)
    found = await asyncio.to_thread(compared, office, pool, month)
    chosen, left = _chosen(found, asked)
    dealt = tuple(Dealt(difference=each.key, sentence=each.sentence) for each in chosen)
    if asked.accepted:
        rehearsal = await asyncio.to_thread(Rehearsal, office, pool)

        async def record(_: str, commands: Sequence[Command]) -> tuple[Entry, ...]:
            return await asyncio.to_thread(rehearsal.record, commands)

        async def attempt(difference: Difference, _: int) -> tuple[Entry, ...]:
            return await _mended(found, caller, difference, asked.of(difference), record)

        dealt = await _in_turns(chosen, attempt)
    return DealtWith(kind=asked.kind, accepted=asked.accepted, differences=dealt, left=left)


async def decide_all(office: Office, caller: Caller, pool: str, month: Month, asked: OfAKind, *, key: str) -> DealtWith:
    """Accept the mends of all undecided differences of a kind, or dismiss them; those that are refused stay undecided.

    Each is accepted on its own, through the writer: what one needs may be what another one brings, so those refused are
    tried again for as long as others get through.

    Refuses: NotFound, NotPermitted, KeyReused."""
    access.permit_into(caller, pool, Right.RECONCILE)
    slot = Slot(caller.key_id, f"decide all {month}", key)
    before = await asyncio.to_thread(_answered, office, pool, slot, asked.fingerprint)
    if before is not None:
        return await asyncio.to_thread(_told_again, office, pool, asked, before)
    found = await asyncio.to_thread(compared, office, pool, month)
    chosen, left = _chosen(found, asked)
    dealt = tuple(Dealt(difference=each.key, sentence=each.sentence) for each in chosen)
    if asked.accepted:

        async def accept(difference: Difference, turn: int) -> tuple[Entry, ...]:
            record = _recorder(office, caller, pool, f"{key} {turn}")
            entries = await _mended(found, caller, difference, asked.of(difference), record)
            withdrawn = difference.withdraws
            made = _decision(office, caller, difference.key, asked, _numbers(entries), withdrawn=withdrawn)
            await asyncio.to_thread(_keep, office, pool, [made], {})
            return entries

        dealt = await _in_turns(chosen, accept)
    made = [] if asked.accepted else [_decision(office, caller, each.key, asked, ()) for each in chosen]
    outcome = Answer(asked.fingerprint, {"left": left, "differences": [_outcome(each) for each in dealt]})
    await asyncio.to_thread(_keep, office, pool, made, {slot: outcome})
    return DealtWith(kind=asked.kind, accepted=asked.accepted, differences=dealt, left=left)


def _chosen(found: Reconciliation, asked: OfAKind) -> tuple[Sequence[Difference], int]:
    of_the_kind = [each for each in found.undecided() if each.kind is asked.kind]
    return of_the_kind[:MOST_AT_ONCE], max(len(of_the_kind) - MOST_AT_ONCE, 0)


async def _in_turns(
    differences: Iterable[Difference], attempt: Callable[[Difference, int], Awaitable[tuple[Entry, ...]]]
) -> tuple[Dealt, ...]:
    """Try each difference in order, and those refused again for as long as a turn lets others through."""
    dealt: dict[str, Dealt] = {}
    waiting, turn, moved = list(differences), 0, True
    while waiting and moved and turn < MOST_TURNS:
        moved, again = False, []
        for each in waiting:
            told = Dealt(difference=each.key, sentence=each.sentence)
            try:
                dealt[each.key] = replace(told, entries=await attempt(each, turn))
                moved = True
            except DomainError as refusal:
                dealt[each.key] = replace(told, refusal=(refusal.code, str(refusal)))
                if not isinstance(refusal, _FOR_GOOD):
                    again.append(each)
        waiting, turn = again, turn + 1
    return tuple(dealt.values())


def _outcome(each: Dealt) -> Json:
    return {
        "difference": each.difference,
        "sentence": each.sentence,
        "entries": list(_numbers(each.entries)),
        "refusal": each.refusal,
    }


def _told_again(office: Office, pool: str, asked: OfAKind, before: Json) -> DealtWith:
    with reading(office.engine, pool) as connection:
        numbers = [number for each in before["differences"] for number in each["entries"]]
        recorded = journal.read_numbered(connection, pool, numbers)
    dealt = tuple(
        Dealt(
            difference=each["difference"],
            sentence=each["sentence"],
            entries=tuple(recorded[number] for number in each["entries"]),
            refusal=None if each["refusal"] is None else (each["refusal"][0], each["refusal"][1]),
        )
        for each in before["differences"]
    )
    return DealtWith(kind=asked.kind, accepted=asked.accepted, differences=dealt, left=before["left"], replayed=True)


# --- recording and keeping -------------------------------------------------------------------------------------------

Record = Callable[[str, Sequence[Command]], Awaitable[tuple[Entry, ...]]]
"""Has commands recorded, all or none; the text names the try among those for one request."""


async def _mended(
    found: Reconciliation, caller: Caller, difference: Difference, said: tuple[Said, str], record: Record
) -> tuple[Entry, ...]:
    """Record what mends a difference, in the first way that isn't refused; nothing where the decision on it withdraws
    rows. said is the fields and the reason."""
    if difference.withdraws:
        return ()
    refusal: DomainError | None = None
    for way, built in enumerate(mends.ways(found, caller, difference, *said)):
        commands = [
            replace(command, reference=_reference(difference.key, place)) for place, command in enumerate(built)
        ]
        try:
            return await record(f"{difference.key} {way}", commands)
        except DomainError as error:
            refusal = refusal or error
    raise refusal or NotMendable(difference=difference.key)


def _recorder(office: Office, caller: Caller, pool: str, key: str) -> Record:
    async def record(name: str, commands: Sequence[Command]) -> tuple[Entry, ...]:
        recorded = await recording.record(
            office,
            caller,
            pool,
            commands,
            operation=OPERATION,
            key=digest([key, name])[:48],
            fingerprint=digest([repr(command.body) for command in commands]),
        )
        return recorded.entries

    return record


def _reference(difference: str, place: int) -> str:
    """Give the permanent name of one of the entries that mend a difference, by which it is found however late."""
    return f"mend-{difference[:40]}-{place}"


def _recorded_before(office: Office, pool: str, difference: str) -> tuple[int, ...]:
    """Give what mended a difference that is gone: it was mended before, when only the decision could not be kept."""
    names = [_reference(difference, place) for place in range(2)]
    with reading(office.engine, pool) as connection:
        found = journal.read_referenced(connection, pool, names)
    if not found:
        raise NotFound(what="difference", name=difference)
    return tuple(sorted(entry.number for entry in found.values()))


def _numbers(entries: Iterable[Entry]) -> tuple[int, ...]:
    return tuple(entry.number for entry in entries)


def _decision(
    office: Office,
    caller: Caller,
    difference: str,
    said: Verdict | OfAKind,
    entries: tuple[int, ...],
    *,
    withdrawn: tuple[tuple[str, str], ...] = (),
) -> Decision:
    return Decision(
        difference=difference,
        verdict=_word(accepted=said.accepted),
        reason=said.reason,
        decided_by=access.signature(caller),
        decided_at=office.instant(),
        entries=entries,
        withdrawn=withdrawn,
    )


def _keep(office: Office, pool: str, made: Sequence[Decision], kept: Mapping[Slot, Answer]) -> list[Decision]:
    """Keep decisions, those on differences apart that were decided meanwhile, and give the ones that stand."""
    with writing(office.engine, pool) as connection:
        journal.lock_head(connection, pool)
        there = vendor.read_decisions(connection, pool, [each.difference for each in made])
        for each in made:
            if each.difference not in there:
                vendor.write_decision(connection, pool, each)
        taken = answers.read_answers(connection, pool, list(kept))
        new = {slot: answer for slot, answer in kept.items() if slot not in taken}
        answers.write_answers(connection, pool, new, office.instant())
    return [there.get(each.difference, each) for each in made]


def _answered(office: Office, pool: str, slot: Slot, fingerprint: str) -> Json | None:
    with reading(office.engine, pool) as connection:
        return answers.outcome_of(connection, pool, slot, fingerprint)
