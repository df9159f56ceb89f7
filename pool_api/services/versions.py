"""The version that a change must state: None to make what isn't there yet; nothing is ever overwritten unseen."""

from pool_api.domain.errors import AlreadyThere, NotFound, VersionStale


def agree(what: str, name: str, there: int | None, stated: int | None) -> None:
    """Let a change pass that states the version which is there.

    Refuses: NotFound, AlreadyThere, VersionStale."""
    if there is None and stated is not None:
        raise NotFound(what=what, name=name)
    if there is not None and stated is None:
        raise AlreadyThere(what=what, name=name)
    if there is not None and stated != there:
        raise VersionStale(what=what, name=name, version=there)
