"""A load generator that costs little: requests prepared as bytes, written to sockets that stay open.

    python -m tests.bench.load PORT PATH CONNECTIONS SECONDS KEY < BODY

Prints how many answers with status 201 came within the time, and how many others. Each connection sends its next
request when the answer to the last one is there.
"""

import asyncio
import sys
import time
import uuid


class Caller(asyncio.Protocol):
    """One connection."""

    def __init__(self, head: bytes, body: bytes, until: float, done: "asyncio.Future[None]") -> None:
        self._head, self._body, self._until, self._done = head, body, until, done
        self._name, self._serial = uuid.uuid4().hex[:12], 0
        self._received = b""
        self.fine = self.others = 0

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Begin to ask."""
        self._transport: asyncio.Transport = transport  # type: ignore[assignment]
        self._ask()

    def _ask(self) -> None:
        self._serial += 1
        key = f"Idempotency-Key: {self._name}-{self._serial:08d}\r\n\r\n".encode()
        self._transport.write(self._head + key + self._body)

    def data_received(self, data: bytes) -> None:
        """Count an answer once it is whole, and ask again."""
        self._received += data
        end = self._received.find(b"\r\n\r\n")
        if end < 0:
            return
        head = self._received[:end].lower()
        at = head.find(b"content-length:")
        length = int(head[at + 15 :].split(b"\r\n", 1)[0]) if at >= 0 else 0
        if len(self._received) < end + 4 + length:
            return
        if head[9:12] == b"201":
            self.fine += 1
        else:
            self.others += 1
        self._received = b""
        if time.monotonic() < self._until:
            self._ask()
        else:
            self._transport.close()
            self._done.set_result(None)

    def connection_lost(self, error: Exception | None) -> None:  # noqa: ARG002 - the protocol's
        """End, too, when the service hangs up."""
        if not self._done.done():
            self._done.set_result(None)


async def run(port: int, path: str, key: str, body: bytes, *, connections: int, seconds: float) -> tuple[int, int]:
    """Give how many answers were fine and how many weren't."""
    loop = asyncio.get_running_loop()
    head = (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer {key}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n"
    ).encode()
    until = time.monotonic() + seconds
    callers, ends = [], []
    for _ in range(connections):
        done: asyncio.Future[None] = loop.create_future()
        caller = Caller(head, body, until, done)
        await loop.create_connection(lambda caller=caller: caller, "127.0.0.1", port)  # type: ignore[misc]
        callers.append(caller)
        ends.append(done)
    await asyncio.gather(*ends)
    return sum(caller.fine for caller in callers), sum(caller.others for caller in callers)


if __name__ == "__main__":
    port, path, connections, seconds, key = sys.argv[1:]
    asked = (int(port), path, key, sys.stdin.buffer.read())
    print(*asyncio.run(run(*asked, connections=int(connections), seconds=float(seconds))))
