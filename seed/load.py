"""Loads the network into a service, through the client like anyone else: pool, members, books, exports.

Takes the data as it stands in seed/data; what the service makes of it is not known here. Nothing here prints.
"""

import json
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from pool_client import Book, Client
from pool_client.models.buying import PriceLadder
from pool_client.models.catalogue import Catalogue
from pool_client.models.directory import Handle, Member, Policy, Pool, Role
from pool_client.models.entries import BODIES, Close, Command, Entry, Opening, Reopening, SignOff
from pool_client.models.vendor import ImportMade, Proposal
from pool_client.wire import read

from seed.network import DATA, Network

CATALOGUES = {date(2026, 7, 1): "catalogue.csv", date(2026, 10, 15): "catalogue-october.csv"}
"""The files of the vendor's catalogues by the days that they are valid from."""

_BESIDE = ("kind", "effective_on", "note", "reference")


def make_pool(operator: Client, network: Network) -> str:
    """Make the pool and give the text of its keeper's API key. The custodian is named once there are members."""
    terms = {name: value for name, value in network.pool.items() if name not in ("custodian", "keeper_member")}
    operator.put_pool(Pool(**{**terms, "policy": _policy(network)}))
    made = operator.book(terms["id"]).make_key(name="keeper", role=Role.KEEPER)
    if made.secret is None:
        raise ValueError("the keeper's key was made before")
    return made.secret


def _policy(network: Network) -> Policy:
    return read(Policy, network.pool["policy"])


@dataclass(slots=True, kw_only=True)
class Loader:
    """A keeper at work on the pool's book. numbers are the entries' by the references of the seed's commands."""

    keeper: Client
    network: Network
    numbers: dict[str, int] = field(default_factory=dict)

    @property
    def book(self) -> Book:
        """The pool's book."""
        return self.keeper.book(self.network.pool["id"])

    def enter_members(self) -> None:
        """Enter the shops with their vendor accounts, then name custodian and keeper, then write the opening."""
        began_on = self.network.began_on
        for shop in self.network.shops:
            handles = (Handle(handle=shop.handle, since=began_on),)
            self.book.put_member(Member(code=shop.code, name=shop.name, joined_on=began_on, handles=handles))
        terms = self.book.terms()
        self.keeper.put_pool(Pool(**{**self.network.pool, "policy": _policy(self.network)}), tag=terms.tag)
        self.book.record(read(Opening, self.network.opening), effective_on=began_on, note="from the old books")

    def enter_ladders(self) -> list[PriceLadder]:
        """Enter the vendor's price ladders, and give them as they stand."""
        read_of = self.book.propose_ladders((DATA / "price-ladder.csv").read_bytes())
        return [self.book.put_ladder(each.tiers, valid_from=each.valid_from).value for each in read_of.ladders]

    def enter_catalogues(self) -> list[Catalogue]:
        """Enter the vendor's catalogues, each from a file in columns of its own, and give them as they stand."""
        found = {day: self.book.propose_catalogue((DATA / file).read_bytes()) for day, file in CATALOGUES.items()}
        return [self.book.put_catalogue(each.items, valid_from=day).value for day, each in found.items()]

    def record_month(self, month: str) -> list[Entry]:
        """Record what the shops wrote down of a month, in batches that end where a reversal needs a number."""
        entries: list[Entry] = []
        waiting: list[Command] = []
        for line in (DATA / "book" / f"{month}.jsonl").read_text(encoding="utf-8").splitlines():
            told = json.loads(line)
            if told.get("reverses") in {command.reference for command in waiting}:
                entries += self._record(waiting)
                waiting = []
            waiting.append(self._command(told))
        return entries + self._record(waiting)

    def propose_profile(self, month: str) -> Proposal:
        """Have the columns of the custodian's export guessed: it is the one with every kind of row."""
        export = self._exports(month)[self.network.custodian]
        return self.book.propose_column_profile(export.path.read_bytes(), name=self.network.profile["name"])

    def import_exports(self, month: str) -> list[ImportMade]:
        """Import what each shop exported after a month, by the network's column profile, in order of the shops."""
        return [
            self.book.import_record(
                export.path.read_bytes(),
                member=code,
                profile=self.network.profile["name"],
                from_day=export.first,
                to_day=export.last,
            )
            for code, export in self._exports(month).items()
        ]

    def _exports(self, month: str) -> dict[str, "_Export"]:
        found = map(_Export.named, sorted((DATA / "vendor").iterdir()))
        return {export.code: export for export in found if f"{export.last:%Y-%m}" == month}

    def _command(self, told: dict[str, Any]) -> Command:
        said = {name: value for name, value in told.items() if name not in _BESIDE}
        if "reverses" in said:
            said["entry"] = self.numbers[said.pop("reverses")]
        body = read(BODIES[told["kind"]], said)
        if isinstance(body, Close | Reopening | SignOff):
            raise TypeError(f"not a line of the book: {told}")
        return Command(
            body=body,
            effective_on=date.fromisoformat(told["effective_on"]),
            note=told.get("note", ""),
            reference=told["reference"],
        )

    def _record(self, commands: list[Command]) -> list[Entry]:
        entries = list(self.book.record_all(commands))
        self.numbers.update((entry.reference, entry.number) for entry in entries if entry.reference)
        return entries


class _Export(NamedTuple):
    """A file of the vendor's, with what its name says: whose it is and which days it covers."""

    path: Path
    code: str
    first: date
    last: date

    @classmethod
    def named(cls, path: Path) -> "_Export":
        code, first, last = path.stem.split("_")
        return cls(path, code, date.fromisoformat(first), date.fromisoformat(last))
