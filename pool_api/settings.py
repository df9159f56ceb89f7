"""What the operator may set, and how the environment says it. Entry points read it once and pass its parts on.

Every name starts with CREDIT_POOL_ and is a field below in capitals: CREDIT_POOL_PORT sets `port`. What is not set has
the default shown; what is set and makes no sense is refused by name. Nothing here opens, creates or logs anything.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from pool_api.domain.people import LEAST_MEMORY_KIB, LEAST_ROUNDS

PREFIX = "CREDIT_POOL_"


class SettingRefused(ValueError):
    """A variable of the environment says something that can't be meant."""

    def __init__(self, name: str, value: str, wanted: str) -> None:
        super().__init__(f"{name} is {value!r}, but must be {wanted}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The operator's settings. Sizes are bytes, times milliseconds, unless their names say otherwise.

    proxies are addresses, separated by commas. What passwords cost is checked by read_settings alone, so that tests
    can make it little."""

    database_url: str = "sqlite:///var/pool.sqlite3"
    host: str = "127.0.0.1"
    port: int = 8000
    processes: int = 1
    docs: bool = True
    pages: bool = True
    most_body_bytes: int = 8 * 1024 * 1024
    most_upload_bytes: int = 32 * 1024 * 1024
    requests_per_second: int = 1_000
    connections: int = 10
    lock_wait_ms: int = 5_000
    statement_ms: int = 30_000
    proxies: str = ""
    password_threads: int = 2
    password_memory_kib: int = LEAST_MEMORY_KIB
    password_rounds: int = LEAST_ROUNDS
    session_idle_minutes: int = 30
    session_hours: int = 12
    confirmation_minutes: int = 15


def read_settings(environ: Mapping[str, str]) -> Settings:
    """Read the settings from an environment.

    Refuses: SettingRefused, naming the variable, for a number that is none or not above 0, a port above 65535, a
             switch that is neither on nor off, and passwords that cost too little to guess. Variables without a field
             here are ignored: others share the prefix."""
    given: dict[str, Any] = {}
    for field in fields(Settings):
        name = PREFIX + field.name.upper()
        if name in environ:
            given[field.name] = _READERS[type(field.default)](name, environ[name].strip())
    settings = Settings(**given)
    if settings.port > 65_535:
        raise SettingRefused(f"{PREFIX}PORT", str(settings.port), "from 1 to 65535")
    for name, least in (("password_memory_kib", LEAST_MEMORY_KIB), ("password_rounds", LEAST_ROUNDS)):
        if (value := getattr(settings, name)) < least:
            raise SettingRefused(PREFIX + name.upper(), str(value), f"{least} or more")
    return settings


def _text(name: str, value: str) -> str:
    if not value:
        raise SettingRefused(name, value, "a text that is not empty")
    return value


def _whole(name: str, value: str) -> int:
    if not (value.isascii() and value.isdigit() and int(value) > 0):
        raise SettingRefused(name, value, "a whole number above 0")
    return int(value)


def _switch(name: str, value: str) -> bool:
    if value.lower() not in _SWITCH:
        raise SettingRefused(name, value, "on or off")
    return _SWITCH[value.lower()]


_SWITCH = {"on": True, "true": True, "1": True, "yes": True, "off": False, "false": False, "0": False, "no": False}
_READERS: dict[type, Callable[[str, str], Any]] = {str: _text, int: _whole, bool: _switch}
