"""Which refusals are written down, so that nobody can fill the disk with them: what is kept of each, and of all.

A refusal writes a row where nothing else is written, and whoever wants to can be refused all day. So in each stretch of
ten minutes this many are kept: of one source, which is a person, a key, or an address of strangers; of all strangers
together; and of all persons and keys together. The two are apart so that noise by strangers hides nothing that happens
to people of a pool. What is more is counted, by kind, and the counts are kept when the stretch is over: a source that
had something kept has counts of its own, all others share one. Each process counts for itself.
"""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Lock

STRETCH = timedelta(minutes=10)
MOST_OF_ONE = 20
MOST_OF_STRANGERS = 300
MOST_OF_KNOWN = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Whom a refusal is counted for, and in which pool it happened, if in any. name is a person's or key's id where
    is_known, else an address."""

    name: str
    is_known: bool
    pool: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """Refusals that were not kept: how many of a kind, from one source (None: from many), since the stretch began."""

    kind: str
    source: Source | None
    count: int
    since: datetime


class Refusals:
    """Counts the refusals of a process."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._since: datetime | None = None
        self._kept: Counter[Source] = Counter()
        self._kept_of: Counter[bool] = Counter()
        self._left_out: Counter[tuple[str, Source | None]] = Counter()

    def admit(self, kind: str, source: Source, now: datetime) -> bool:
        """Tell whether a refusal is to be kept, and count it. Ask for what is due first."""
        with self._lock:
            if self._since is None:
                self._since = now
            most = MOST_OF_KNOWN if source.is_known else MOST_OF_STRANGERS
            if self._kept[source] < MOST_OF_ONE and self._kept_of[source.is_known] < most:
                self._kept[source] += 1
                self._kept_of[source.is_known] += 1
                return True
            if not self._kept[source]:
                del self._kept[source]
            self._left_out[kind, source if source in self._kept else None] += 1
            return False

    def due(self, now: datetime | None) -> list[LeftOut]:
        """Give what was left out of a stretch that is over (with None: of the present one), and begin anew; each is
        given once, in order of source and kind."""
        with self._lock:
            if self._since is None or (now is not None and now - self._since < STRETCH):
                return []
            found = [
                LeftOut(kind=kind, source=source, count=count, since=self._since)
                for (kind, source), count in self._left_out.items()
            ]
            self._since = None
            self._kept.clear()
            self._kept_of.clear()
            self._left_out.clear()
        return sorted(found, key=lambda each: (each.source.name if each.source else "", each.kind, str(each.source)))
