"""Settings: what whoever runs the service may say by the environment."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from headbench.errors import WrongSetting

CORS_ORIGINS: Final = "HEADBENCH_CORS_ORIGINS"
"""Names the pages of other origins that may ask the service from a browser, with commas between them."""

# as a browser sends it: no path, no slash at the end, no capitals, no port that the scheme has anyway (RFC 6454, 6.2)
_ORIGIN: Final = re.compile(
    r"(?P<scheme>https?)://([a-z0-9]([a-z0-9.-]*[a-z0-9])?|\[[0-9a-f:.]+\])(:(?P<port>[1-9][0-9]{0,4}))?"
)
_OWN_PORT: Final = {"http": "80", "https": "443"}
_MOST_PORT: Final = 65_535


@dataclass(frozen=True, slots=True)
class Settings:
    """What was said; cors_origins: the origins whose pages may ask."""

    cors_origins: tuple[str, ...] = ()


def settings_of(environment: Mapping[str, str] = os.environ) -> Settings:
    """The settings of an environment; raises WrongSetting.

    >>> settings_of({"HEADBENCH_CORS_ORIGINS": "https://shop.example, http://127.0.0.1:8080"}).cors_origins
    ('https://shop.example', 'http://127.0.0.1:8080')
    >>> settings_of({}).cors_origins
    ()
    """
    said = environment.get(CORS_ORIGINS, "")
    if not said.strip():
        return Settings()
    origins = [one.strip() for one in said.split(",")]
    for origin in origins:
        if not _is_origin(origin):
            raise WrongSetting(
                f'{CORS_ORIGINS}: "{origin}" is no origin as a browser sends it; write scheme, host and port alone, '
                "with commas between them: https://shop.example,http://127.0.0.1:8080"
            )
    return Settings(cors_origins=tuple(dict.fromkeys(origins)))


def _is_origin(said: str) -> bool:
    found = _ORIGIN.fullmatch(said)
    if found is None:
        return False
    port = found["port"]
    return port is None or (port != _OWN_PORT[found["scheme"]] and int(port) <= _MOST_PORT)
