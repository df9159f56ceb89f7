"""Where a request comes from, and whose word is taken for it (ASVS 5.0, 4.1.3 and 15.3.4)."""

import pytest

from pool_api.rest.peers import peer_of

PROXY, OTHER, SHOP = "192.0.2.10", "192.0.2.11", "203.0.113.7"


def found(peer: str | None, *said: str, proxies: tuple[str, ...] = (PROXY, OTHER)) -> str:
    headers = [(b"x-forwarded-for", each.encode()) for each in said]
    return peer_of({"client": (peer, 4711) if peer else None, "headers": headers}, proxies)


@pytest.mark.parametrize(
    ("peer", "said", "wanted"),
    [
        (SHOP, (), SHOP),
        (SHOP, ("198.51.100.1",), SHOP),
        (PROXY, (), PROXY),
        (PROXY, (SHOP,), SHOP),
        (PROXY, (f"198.51.100.1, {SHOP}",), SHOP),
        (PROXY, ("198.51.100.1", SHOP), SHOP),
        (PROXY, (f"198.51.100.1, {SHOP}, {OTHER}",), SHOP),
        (PROXY, (f"{SHOP}, nonsense",), PROXY),
        (PROXY, (f"{SHOP}, nonsense, {OTHER}",), OTHER),
        (PROXY, ("",), PROXY),
        (PROXY, ("2001:DB8::0001",), "2001:db8::1"),
        (None, (SHOP,), "unknown"),
    ],
)
def test_only_trusted_proxies_say_where_a_request_came_from(
    peer: str | None, said: tuple[str, ...], wanted: str
) -> None:
    assert wanted == found(peer, *said)


def test_without_trusted_proxies_nobody_is_believed() -> None:
    assert PROXY == found(PROXY, SHOP, proxies=())
