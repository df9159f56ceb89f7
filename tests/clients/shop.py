"""Somebody at a command line."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import httpx
import pytest
from pool_client.command import run
from pool_client.commands.desk import settings_file

from tests.clients.document import answered
from tests.clients.scripted import ADDRESS, API_KEY

SET = {"CREDIT_POOL_ADDRESS": ADDRESS, "CREDIT_POOL_POOL": "riverside", "CREDIT_POOL_KEY": API_KEY}


@dataclass
class Shop:
    """Runs command lines in a home of its own, and keeps what was asked and what was said last."""

    home: Path
    capsys: pytest.CaptureFixture[str]
    serve: Callable[[httpx.Request], httpx.Response] = answered
    requests: list[httpx.Request] = field(default_factory=list)
    out: str = ""
    err: str = ""

    def run(self, *line: str, **environ: str) -> int:
        with httpx.Client(transport=httpx.MockTransport(self._serve)) as http:
            code = run(line, {"HOME": str(self.home), **environ}, http, sleep=lambda _: None)
        self.out, self.err = self.capsys.readouterr()
        return code

    def _serve(self, request: httpx.Request) -> httpx.Response:
        self.requests.append(request)
        return self.serve(request)

    @property
    def kept(self) -> Path:
        return settings_file({"HOME": str(self.home)})

    def asked(self) -> list[tuple[str, str, str]]:
        return [
            (request.url.host, request.url.path.split("/")[3], request.headers["Authorization"].removeprefix("Bearer "))
            for request in self.requests
        ]
