"""The vendor's catalogue, what jobs cost and earned, and quotes before them."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from pool_client.calls.call import (
    CSV,
    POOL,
    Call,
    Page,
    Versioned,
    get,
    model,
    nothing,
    page,
    put,
    query,
    upload,
    versioned,
)
from pool_client.models.catalogue import (
    By,
    Catalogue,
    CatalogueListed,
    CatalogueProfile,
    CatalogueRead,
    CatalogueVersion,
    Changes,
    CheckedUse,
    Earnings,
    Item,
    Quote,
)
from pool_client.wire import write

_CATALOGUE = f"{POOL}/catalogues/{{valid_from}}"
_PROFILE = f"{POOL}/catalogue-profiles/{{name}}"


def catalogues(pool: str, /, *, limit: int | None = None) -> Call[Page[CatalogueListed]]:
    """Give the catalogues by the day that they are valid from, without their items."""
    return get(f"{POOL}/catalogues", {"pool": pool}, page(CatalogueListed), query=query(limit=limit))


def catalogue(pool: str, /, *, valid_from: date) -> Call[Versioned[Catalogue]]:
    """Give the catalogue that is valid from a day."""
    return get(_CATALOGUE, _places(pool, valid_from), versioned(Catalogue))


def put_catalogue(
    pool: str, items: Sequence[Item], /, *, valid_from: date, tag: str | None = None
) -> Call[Versioned[Catalogue]]:
    """Enter all items that the vendor sells from a day on, or replace the catalogue that was read with a tag."""
    return Call(
        method="PUT",
        path=_CATALOGUE,
        places=_places(pool, valid_from),
        headers={} if tag is None else {"If-Match": tag},
        body={"items": write(tuple(items))},
        understand=versioned(Catalogue),
    )


def withdraw_catalogue(pool: str, /, *, valid_from: date, tag: str) -> Call[None]:
    """Let the catalogue that was read with a tag count no more; its versions stay."""
    return Call(
        method="DELETE",
        path=_CATALOGUE,
        places=_places(pool, valid_from),
        headers={"If-Match": tag},
        understand=nothing,
    )


def catalogue_versions(pool: str, /, *, valid_from: date, limit: int | None = None) -> Call[Page[CatalogueVersion]]:
    """Give all that was said of the catalogue that is valid from a day, newest first."""
    path = f"{_CATALOGUE}/versions"
    return get(path, _places(pool, valid_from), page(CatalogueVersion), query=query(limit=limit))


def catalogue_version(pool: str, /, *, valid_from: date, version: int) -> Call[Catalogue]:
    """Give a version that a catalogue once had."""
    places = {**_places(pool, valid_from), "version": str(version)}
    return get(f"{_CATALOGUE}/versions/{{version}}", places, model(Catalogue))


def catalogue_changes(pool: str, /, *, valid_from: date, since: date | None = None) -> Call[Changes]:
    """Compare a catalogue with an older one, the one before it unless stated."""
    return get(f"{_CATALOGUE}/changes", _places(pool, valid_from), model(Changes), query=query(since=since))


def propose_catalogue(
    pool: str, content: bytes, /, *, profile: str | None = None, on: date | None = None, sheet: str | None = None
) -> Call[CatalogueRead]:
    """Have a catalogue's file read, by a saved profile or a guess; nothing is kept.

    Takes:   sheet — of a spreadsheet, the first that holds a table unless stated."""
    return Call(
        method="POST",
        path=f"{POOL}/catalogues/proposal",
        places={"pool": pool},
        query=query(profile=profile, on=on, sheet=sheet),
        body=upload(content),
        understand=model(CatalogueRead),
        harmless=True,
    )


def catalogue_items(
    pool: str,
    /,
    *,
    on: date | None = None,
    text: str | None = None,
    vehicle_class: str | None = None,
    family: str | None = None,
    limit: int | None = None,
) -> Call[Page[Item]]:
    """Give the items that count on a day, today unless stated; text is part of the code or the name."""
    wanted = query(on=on, text=text, vehicle_class=vehicle_class, family=family, limit=limit)
    return get(f"{POOL}/catalogue-items", {"pool": pool}, page(Item), query=wanted)


def catalogue_profiles(pool: str, /, *, limit: int | None = None) -> Call[Page[CatalogueProfile]]:
    """Give the column profiles of catalogues in order of their names."""
    return get(f"{POOL}/catalogue-profiles", {"pool": pool}, page(CatalogueProfile), query=query(limit=limit))


def catalogue_profile(pool: str, /, *, name: str) -> Call[Versioned[CatalogueProfile]]:
    """Give one column profile of catalogues."""
    return get(_PROFILE, {"pool": pool, "name": name}, versioned(CatalogueProfile))


def put_catalogue_profile(
    pool: str, profile: CatalogueProfile, /, *, tag: str | None = None
) -> Call[Versioned[CatalogueProfile]]:
    """Make a column profile of catalogues, or replace the one that was read with a tag."""
    return put(_PROFILE, {"pool": pool, "name": profile.name}, profile, named_by="name", tag=tag)


def earnings(
    pool: str,
    /,
    *,
    from_month: str,
    to_month: str | None = None,
    by: By | None = None,
    member: str | None = None,
) -> Call[Earnings]:
    """Give what the uses of some months cost and earned, by what they have in common."""
    wanted = query(from_month=from_month, to_month=to_month, by=by, member=member)
    return get(f"{POOL}/earnings", {"pool": pool}, model(Earnings), query=wanted)


def earnings_csv(
    pool: str,
    /,
    *,
    from_month: str,
    to_month: str | None = None,
    by: By | None = None,
    member: str | None = None,
) -> Call[str]:
    """Give what the uses of some months cost and earned as CSV text."""
    wanted = query(from_month=from_month, to_month=to_month, by=by, member=member)
    path = f"{POOL}/earnings"
    return get(path, {"pool": pool}, lambda answer: answer.content.decode(), query=wanted, headers={"Accept": CSV})


def use_checks(
    pool: str, /, *, month: str, doubtful: bool | None = None, limit: int | None = None
) -> Call[Page[CheckedUse]]:
    """Give a month's uses beside the catalogue of their day; with doubtful True without those that are in order."""
    path = f"{POOL}/months/{{month}}/use-checks"
    wanted = query(doubtful=doubtful, limit=limit)
    return get(path, {"pool": pool, "month": month}, page(CheckedUse), query=wanted)


def quote(
    pool: str,
    /,
    *,
    member: str,
    items: Sequence[str] = (),
    credits: int = 0,
    price: Decimal | None = None,
    on: date | None = None,
) -> Call[Quote]:
    """Give what a job would take and cost; nothing is kept."""
    return Call(
        method="POST",
        path=f"{POOL}/quotes",
        places={"pool": pool},
        body=write({"member": member, "items": list(items), "credits": credits, "price": price, "on": on}),
        understand=model(Quote),
        harmless=True,
    )


def _places(pool: str, valid_from: date) -> dict[str, str]:
    return {"pool": pool, "valid_from": valid_from.isoformat()}
