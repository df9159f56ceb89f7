"""The cheapest choice of offers that together cover all that is wanted: weighted set cover, solved exactly.

Offers and what they cover are names here, costs whole numbers; what they are offers of isn't known.

How it is found. Wanted things are bits, an offer is a mask of those that it covers. What can't matter is taken away:
offers that another one covers for no more, things that are covered whenever another one is, things that one offer alone
covers. What is left falls into parts that share no offer, and each part is searched by branch and bound: the thing with
the fewest offers is covered by each of them in turn.

What proves it. Give every wanted thing a price so that no offer costs less than all that it covers: then any cover
costs at least the sum of the prices (weak duality of linear programmes; V. Vazirani, Approximation Algorithms, 2001,
chapter 13, from memory). The same prices say how much an offer costs beyond them, so that one which would go beyond the
best cover known is left out. When the search ends by itself its cover is the cheapest; when it is stopped, the sum of
the prices is the bound that is proven.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

MOST_NODES = 6_000
"""Steps of the search in all; beyond, the best cover found is given with the proven bound."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """Something that can be chosen: its name, its cost of 0 or more, and what it covers."""

    name: str
    cost: int
    covers: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """The names chosen, in the order of the offers, what they cost together, and what any cover costs at the least."""

    chosen: tuple[str, ...]
    cost: int
    lower_bound: int

    @property
    def proven(self) -> bool:
        """Whether no cover costs less."""
        return self.cost == self.lower_bound


def cheapest_cover(wanted: Sequence[str], offers: Sequence[Offer], *, most_nodes: int = MOST_NODES) -> Cover:
    """Give the cheapest cover; of several that cost the same one of the fewest offers.

    Takes:   wanted — names without repetition; every one is covered by an offer.
    Gives:   the same cover for the same wanted and offers in the same order.
    Refuses: nothing; ValueError when something wanted is covered by no offer.
    Laws:    tests/domain/test_covering.py: no subset of offers, and no general solver, is cheaper."""
    scale = len(wanted) + 1
    bits = {name: 1 << at for at, name in enumerate(wanted)}
    masks = [sum(bits[name] for name in each.covers if name in bits) for each in offers]
    candidates = [_Candidate(each.cost * scale + 1, masks[at], at) for at, each in enumerate(offers)]
    whole = (1 << len(wanted)) - 1
    reachable = 0
    for mask in masks:
        reachable |= mask
    if reachable != whole:
        missing = [name for name, bit in bits.items() if not reachable & bit]
        raise ValueError(f"no offer covers {', '.join(missing)}")
    chosen, parts = _parts(whole, candidates)
    bound, search = sum(offers[at].cost for at in chosen), _Search(nodes=most_nodes)
    for part in parts:
        taken, least = search.solve(part, scale)
        chosen.extend(taken)
        bound += least
    chosen.sort()
    return Cover(
        chosen=tuple(offers[at].name for at in chosen),
        cost=sum(offers[at].cost for at in chosen),
        lower_bound=bound,
    )


@dataclass(frozen=True, slots=True)
class _Candidate:
    """An offer's place with its mask; its weight counts cost first, and one more for being an offer at all."""

    weight: int
    mask: int
    at: int


def _parts(open_: int, candidates: list[_Candidate]) -> tuple[list[int], list[list[_Candidate]]]:
    """Give the places of offers that have to be taken, and the parts of the rest that share no offer."""
    taken: list[int] = []
    while True:
        before = (open_, len(candidates))
        candidates = _undominated(candidates, open_)
        open_ = _needed(candidates, open_)
        for bit in _bits(open_):
            holders = [each for each in candidates if each.mask & bit]
            if open_ & bit and len(holders) == 1:
                taken.append(holders[0].at)
                open_ &= ~holders[0].mask
        if before == (open_, len(candidates)):
            break
    return taken, _apart(_undominated(candidates, open_))


def _undominated(candidates: list[_Candidate], open_: int) -> list[_Candidate]:
    """Give the candidates, by what they cover of what is open, without those that another covers for no more."""
    cheapest: dict[int, _Candidate] = {}
    for each in candidates:
        mask = each.mask & open_
        if mask and (mask not in cheapest or each.weight < cheapest[mask].weight):
            cheapest[mask] = _Candidate(each.weight, mask, each.at)
    kept: list[_Candidate] = []
    for each in sorted(cheapest.values(), key=lambda each: (each.weight, -each.mask.bit_count(), each.at)):
        if all(each.mask & ~other.mask for other in kept):
            kept.append(each)
    return kept


def _needed(candidates: list[_Candidate], open_: int) -> int:
    """Give what is open without the things that are covered whenever another one is."""
    holders = _holders(candidates, open_)
    needed = open_
    for bit in sorted(holders, key=lambda bit: (-holders[bit].bit_count(), bit)):
        if any(other != bit and needed & other and not holders[other] & ~holders[bit] for other in holders):
            needed &= ~bit
    return needed


def _holders(candidates: Sequence[_Candidate], open_: int) -> dict[int, int]:
    """Give for each open bit which candidates cover it, as a mask over their places in the sequence."""
    holders = dict.fromkeys(_bits(open_), 0)
    for place, each in enumerate(candidates):
        for bit in _bits(each.mask & open_):
            holders[bit] |= 1 << place
    return holders


def _apart(candidates: list[_Candidate]) -> list[list[_Candidate]]:
    """Give the candidates in groups that cover nothing in common."""
    groups: list[tuple[int, list[_Candidate]]] = []
    for each in candidates:
        touching = [group for group in groups if group[0] & each.mask]
        mask, members = each.mask, [each]
        for group in touching:
            mask |= group[0]
            members = [*group[1], *members]
        groups = [*(group for group in groups if not any(group is other for other in touching)), (mask, members)]
    return [members for _, members in groups]


def _bits(mask: int) -> Iterator[int]:
    while mask:
        bit = mask & -mask
        yield bit
        mask ^= bit


@dataclass(slots=True)
class _Search:
    """Branch and bound over the parts of one question, which share the steps that are left."""

    nodes: int
    candidates: list[_Candidate] = field(default_factory=list)
    holders: dict[int, list[int]] = field(default_factory=dict)
    order: list[int] = field(default_factory=list)
    best: tuple[int, tuple[int, ...]] = (0, ())
    seen: dict[int, int] = field(default_factory=dict)

    def solve(self, part: list[_Candidate], scale: int) -> tuple[list[int], int]:
        """Give the places of the cheapest offers of a part, and what any choice costs at the least."""
        whole = 0
        for each in part:
            whole |= each.mask
        self.candidates, self.seen = part, {}
        self.holders = {bit: [*map(_place, _bits(held))] for bit, held in _holders(part, whole).items()}
        self.order = sorted(self.holders, key=lambda bit: (len(self.holders[bit]), bit))
        self.best = self._greedy(whole)
        least, _ = self._bound(whole)
        self._branch(whole, 0, ())
        weight, chosen = self.best
        if self.nodes > 0:
            least = weight
        count = whole.bit_count()
        return [part[place].at for place in chosen], max(0, -(-(least - count) // scale))

    def _greedy(self, open_: int) -> tuple[int, tuple[int, ...]]:
        """Give a cover to begin with: ever the offer that costs the least for each thing it covers, none in vain."""
        chosen: list[int] = []
        left = open_
        while left:
            gains = [(each.mask & left).bit_count() for each in self.candidates]
            usable = [place for place, gain in enumerate(gains) if gain]
            place = usable[0]
            for other in usable[1:]:
                if self.candidates[other].weight * gains[place] < self.candidates[place].weight * gains[other]:
                    place = other
            chosen.append(place)
            left &= ~self.candidates[place].mask
        for place in sorted(chosen, key=lambda place: -self.candidates[place].weight):
            rest = 0
            for other in chosen:
                rest |= self.candidates[other].mask if other != place else 0
            if not open_ & ~rest:
                chosen.remove(place)
        return sum(self.candidates[place].weight for place in chosen), tuple(chosen)

    def _bound(self, open_: int) -> tuple[int, list[int]]:
        """Give the sum of prices of the open things, and what each candidate costs beyond those it covers."""
        slack = [each.weight for each in self.candidates]
        total = 0
        for bit in self.order:
            if open_ & bit:
                holders = self.holders[bit]
                price = min(slack[place] for place in holders)
                if price:
                    total += price
                    for place in holders:
                        slack[place] -= price
        return total, slack

    def _branch(self, open_: int, spent: int, chosen: tuple[int, ...]) -> None:
        """Try every offer for the open thing that has the fewest; ends where nothing better can come."""
        if not open_:
            if spent < self.best[0]:
                self.best = spent, chosen
            return
        if self.nodes <= 0 or self.seen.get(open_, spent + 1) <= spent:
            return
        self.nodes -= 1
        self.seen[open_] = spent
        bound, slack = self._bound(open_)
        room = self.best[0] - spent - bound
        if room <= 0:
            return
        bit = next(bit for bit in self.order if open_ & bit)
        for place in sorted(self.holders[bit], key=lambda place: (slack[place], place)):
            if slack[place] < self.best[0] - spent - bound:
                each = self.candidates[place]
                self._branch(open_ & ~each.mask, spent + each.weight, (*chosen, place))


def _place(bit: int) -> int:
    return bit.bit_length() - 1
