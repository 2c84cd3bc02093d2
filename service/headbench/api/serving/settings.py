"""Settings: what whoever runs the service may say by the environment, or by an option of the command, which wins."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from typing import Any, Final, NamedTuple, TypeVar

from headbench.errors import WrongSetting

T = TypeVar("T")

_ABOUT: Final = "about"

# as a browser sends it: no path, no slash at the end, no capitals, no port that the scheme has anyway (RFC 6454, 6.2)
_ORIGIN: Final = re.compile(
    r"(?P<scheme>https?)://([a-z0-9]([a-z0-9.-]*[a-z0-9])?|\[[0-9a-f:.]+\])(:(?P<port>[1-9][0-9]{0,4}))?"
)
_OWN_PORT: Final = {"http": "80", "https": "443"}
_MOST_PORT: Final = 65_535
_MOST_WORKERS: Final = 64
_MOST_SECONDS: Final = 3600.0
_LEVELS: Final = ("debug", "info", "warning", "error")


class About(NamedTuple):
    """What is known of a setting beside its value.

    variable : its name in the environment
    read : its value out of a text; raises ValueError with what to write instead
    meaning : what it is for, in words for whoever runs the service
    """

    variable: str
    read: Callable[[str], Any]
    meaning: str


def _setting(name: str, default: T, read: Callable[[str], T], meaning: str) -> T:
    value: T = field(default=default, metadata={_ABOUT: About(f"HEADBENCH_{name}", read, meaning)})
    return value


def _whole(least: int, most: int) -> Callable[[str], int]:
    def read(said: str) -> int:
        if not re.fullmatch(r"[0-9]{1,9}", said) or not least <= int(said) <= most:
            raise ValueError(f"is no whole number from {least} to {most:,}")
        return int(said)

    return read


def _seconds(least: float) -> Callable[[str], float]:
    def read(said: str) -> float:
        if not re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,9})?", said) or not least <= float(said) <= _MOST_SECONDS:
            raise ValueError(f"is no number of seconds from {least:g} to {_MOST_SECONDS:,.0f}")
        return float(said)

    return read


def _level(said: str) -> str:
    if said.lower() not in _LEVELS:
        raise ValueError(f"is none of {', '.join(_LEVELS)}")
    return said.lower()


def _host(said: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9_.:%-]{1,253}", said):
        raise ValueError("is no name or address of a machine; write 127.0.0.1, 0.0.0.0, :: or a name")
    return said


def _origins(said: str) -> tuple[str, ...]:
    origins = [one.strip() for one in said.split(",")]
    for origin in origins:
        if not _is_origin(origin):
            raise ValueError(
                "is no origin as a browser sends it; write scheme, host and port alone, "
                "with commas between them: https://shop.example,http://127.0.0.1:8080",
                origin,
            )
    return tuple(dict.fromkeys(origins))


def _is_origin(said: str) -> bool:
    found = _ORIGIN.fullmatch(said)
    if found is None:
        return False
    port = found["port"]
    return port is None or (port != _OWN_PORT[found["scheme"]] and int(port) <= _MOST_PORT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What was said, or what stands where nothing was; the README lists them all."""

    host: str = _setting("HOST", "127.0.0.1", _host, "address or name to listen at; 0.0.0.0 is every network")
    port: int = _setting("PORT", 8317, _whole(0, _MOST_PORT), "port to listen at; 0 takes a free one and prints it")
    workers: int = _setting("WORKERS", 1, _whole(1, _MOST_WORKERS), "processes that answer requests")
    head_seconds: float = _setting(
        "HEAD_SECONDS", 10.0, _seconds(0.05), "how long a connection may take to send the head of a request"
    )
    idle_seconds: float = _setting(
        "IDLE_SECONDS", 75.0, _seconds(0.05), "how long a connection may rest between two requests"
    )
    drain_seconds: float = _setting(
        "DRAIN_SECONDS",
        0.0,
        _seconds(0.0),
        "how long it says that it is not ready, and still takes requests, on a stop",
    )
    grace_seconds: float = _setting(
        "GRACE_SECONDS", 15.0, _seconds(0.0), "how long requests in flight may take to finish after that"
    )
    log_level: str = _setting(
        "LOG_LEVEL", "info", _level, "least grave line of the log that is written: " + ", ".join(_LEVELS)
    )
    cors_origins: tuple[str, ...] = _setting(
        "CORS_ORIGINS", (), _origins, "pages of other origins that may ask from a browser, with commas between them"
    )


def about() -> Iterator[tuple[str, About]]:
    """Every setting by its name, in the order they are listed."""
    for one in fields(Settings):
        yield one.name, one.metadata[_ABOUT]


VARIABLES: Final = {name: one.variable for name, one in about()}
"""The variable of the environment that says each setting."""


def settings_of(environment: Mapping[str, str] = os.environ, said_as: Mapping[str, str] | None = None) -> Settings:
    """The settings of an environment; raises WrongSetting, which names a variable as it was said.

    >>> settings_of({"HEADBENCH_CORS_ORIGINS": "https://shop.example, http://127.0.0.1:8080"}).cors_origins
    ('https://shop.example', 'http://127.0.0.1:8080')
    >>> settings_of({}).port
    8317
    """
    values = {}
    for name, one in about():
        said = environment.get(one.variable, "").strip()
        if not said:
            # what is set to nothing is not set
            continue
        try:
            values[name] = one.read(said)
        except ValueError as error:
            what, *part = error.args
            where = (said_as or {}).get(one.variable, one.variable)
            raise WrongSetting(f'{where}: "{part[0] if part else said}" {what}') from None
    return Settings(**values)
