"""Settings: what whoever runs the service may say by the environment, or by an option of the command, which wins."""

from __future__ import annotations

import ipaddress
import os
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from typing import Any, Final, NamedTuple, TypeVar

from headbench.api.serving.keys import HASH
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
_SECONDS: Final = {"second": 1, "minute": 60, "hour": 3600}
_LEVELS: Final = ("debug", "info", "warning", "error")


@dataclass(frozen=True, slots=True)
class RateLimit:
    """How many requests a caller may send in how many seconds."""

    requests: int
    seconds: int


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


def _hashes(said: str) -> tuple[str, ...]:
    hashes = [one.strip() for one in said.split(",")]
    if not all(HASH.fullmatch(one) for one in hashes):
        # what stands there may be a key that somebody meant to keep to himself
        raise ValueError(
            "is no list of hashes, sha256: and 64 hexadecimal digits each, with commas between them; "
            "headbench key makes a key and its hash",
            "…",
        )
    return tuple(dict.fromkeys(hashes))


def _rate(said: str) -> RateLimit:
    found = re.fullmatch(r"([1-9][0-9]{0,6})/(second|minute|hour)", said)
    if found is None:
        raise ValueError("is no number of requests in a time; write 20/second, 600/minute or 5000/hour")
    return RateLimit(int(found[1]), _SECONDS[found[2]])


def _networks(said: str) -> tuple[str, ...]:
    networks = [one.strip() for one in said.split(",")]
    for one in networks:
        try:
            ipaddress.ip_network(one)
        except ValueError:
            raise ValueError(
                "is no address and no network; write 192.0.2.7 or 192.0.2.0/24, with commas between them", one
            ) from None
    return tuple(dict.fromkeys(networks))


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What was said, or what stands where nothing was; the README lists them all."""

    host: str = _setting("HOST", "127.0.0.1", _host, "address or name to listen at; 0.0.0.0 is every network")
    port: int = _setting("PORT", 8317, _whole(0, _MOST_PORT), "port to listen at; 0 takes a free one and prints it")
    workers: int | None = _setting(
        "WORKERS", None, _whole(1, _MOST_WORKERS), "processes that work jobs out; one for each core unless said"
    )
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
    api_keys: tuple[str, ...] = _setting(
        "API_KEYS", (), _hashes, "hashes of the keys that may ask, with commas between them; `headbench key` makes one"
    )
    rate_limit: RateLimit | None = _setting(  # noqa: RUF009 - none of what it may give changes
        "RATE_LIMIT", None, _rate, "how often a caller may ask, by key or by address: 600/minute"
    )
    trusted_proxies: tuple[str, ...] = _setting(
        "TRUSTED_PROXIES",
        (),
        _networks,
        "addresses and networks of proxies whose word counts on where a request comes from, with commas between them",
    )
    metrics_port: int | None = _setting(
        "METRICS_PORT", None, _whole(1, _MOST_PORT), "port of `/metrics`, which then stands at no other"
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
