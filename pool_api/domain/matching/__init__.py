"""Comparing the journal with the vendor's record: matches, differences that carry what would mend them, and the proof.

    match(movements, rows, coverage, ...) -> Report

Pure and deterministic: the same report for any order of movements, rows and pins, whole numbers and texts only. It
doesn't know members (accounts are handles at the vendor), the journal's rules (a mend is an offer, refused or not when
it is recorded), or what was decided about a difference (its key names it for whoever keeps that).

    course > pairing > assignment, weighing > sides      who finds whom, stage by stage
    splits                                               sums
    revised > differences, wording                       what it means, in words
    proof, coverage                                      balances, and what silence proves

This is the one package of the core that uses more than the standard library: numpy, scipy and rapidfuzz.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from types import MappingProxyType

from pool_api.domain.matching.course import run
from pool_api.domain.matching.coverage import NO_PARTS, Covered, Span
from pool_api.domain.matching.differences import findings
from pool_api.domain.matching.proof import proofs
from pool_api.domain.matching.report import (
    SAID_OF_MATCHES,
    AccountProof,
    Break,
    Coverage,
    DayProof,
    Difference,
    DifferenceKind,
    Match,
    Mend,
    MendKind,
    Movement,
    Part,
    Parting,
    Pin,
    Report,
    Status,
    Step,
    Sums,
)
from pool_api.domain.matching.revised import Revisions, revised
from pool_api.domain.matching.sides import Accounts
from pool_api.domain.record import RecordType, VendorRow

__all__ = [
    "SAID_OF_MATCHES",
    "AccountProof",
    "Break",
    "Coverage",
    "DayProof",
    "Difference",
    "DifferenceKind",
    "Match",
    "Mend",
    "MendKind",
    "Movement",
    "Part",
    "Parting",
    "Pin",
    "Report",
    "Revisions",
    "Status",
    "Step",
    "Sums",
    "match",
]

WINDOW_DAYS = 7
"""How many days a movement's two dates may lie apart, unless said otherwise."""

_NOTHING: Mapping[str, int] = MappingProxyType({})
_NO_REVISIONS = Revisions()


def match(
    movements: Iterable[Movement],
    rows: Iterable[VendorRow],
    coverage: Coverage,
    *,
    parts: Mapping[RecordType, Coverage] = NO_PARTS,
    window_days: int = WINDOW_DAYS,
    openings: Mapping[str, int] = _NOTHING,
    pins: Sequence[Pin] = (),
    proven: Span | None = None,
    revisions: Revisions = _NO_REVISIONS,
    reopened: Collection[str] = (),
) -> Report:
    """Compare the journal with the vendor's record.

    Takes:   movements — one per entry or reversal that the vendor should show, entry numbers unique; to judge a month,
             those of window_days more on either side, too;
             rows — of any accounts of the pool, identities unique; coverage — every account of the pool,
             with the days on which its record shows all; parts — those on which it shows only one type of record;
             openings — the credits that the journal has in each account before its first movement given, 0 if not said;
             pins — earlier decisions, which stand whatever the weights say; proven — the days over which
             each account is proven where its record shows all, every such day unless said; revisions — of rows given;
             reopened — keys of differences that were decided, and are there again to be decided anew, under other keys.
    Gives:   a report; see there for what is in it and in which order.
    Refuses: nothing; ValueError for a row of an account that the coverage doesn't name.
    Source:  the stages are told in course.py, the weights in weighing.py; the classes of findings are an own rule."""
    given = list(rows)
    accounts, covered = Accounts(coverage), Covered(coverage, parts)
    foreign = sorted({row.account for row in given if not accounts.among(row.account)})
    if foreign:
        raise ValueError(f"rows of accounts that are none of the pool's: {', '.join(foreign)}")
    course = run(movements, given, accounts, pins, window_days)
    found = revised(findings(course, accounts, covered, reopened), course, revisions)
    return Report(
        matches=found.matches,
        differences=found.differences,
        proof=proofs(course, found, accounts, covered, openings, proven),
        cancelled=tuple(sorted(course.journal[place].entry for place in course.cancelled)),
        uncovered=found.uncovered,
        broken_pins=tuple(course.broken_pins),
        limits=tuple(course.limits),
    )
