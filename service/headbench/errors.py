"""The errors Headbench raises on purpose.

    HeadbenchError                      anything below; nothing else is raised on purpose
    ├── RefusedRequest                  the request cannot be read: 4xx, nothing computed
    ├── Contradiction                   every reading is admissible alone, together they cannot be true: 422
    ├── NotFinite                       an answer left the range of finite numbers
    ├── WrongSetting                    the environment says what cannot be followed; the service does not start
    └── NotReachable                    an inverse question (a wanted volume, ratio, load) has no answer

This module imports nothing of ours, so every layer may raise and catch these.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class HeadbenchError(Exception):
    """Base of every error raised on purpose."""


@dataclass(frozen=True, slots=True)
class Pointed:
    """One thing that is wrong and where: `pointer` is an RFC 6901 JSON pointer into the request."""

    pointer: str
    detail: str


class RefusedRequest(HeadbenchError):
    """The request cannot be read as what the operation takes.

    `code` is the stable short name of the refusal, `status` its HTTP status, `headers` what HTTP
    asks to be sent along (`Allow`, `Accept`, `Connection`).
    """

    def __init__(
        self,
        code: str,
        status: int,
        detail: str,
        *,
        errors: Sequence[Pointed] = (),
        headers: dict[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.code = code
        self.status = status
        self.detail = detail
        self.errors = tuple(errors)
        self.headers = headers or {}


class Contradiction(HeadbenchError):
    """Readings that cannot all be true; `errors` names every one found, never only the first."""

    def __init__(self, errors: Sequence[Pointed]) -> None:
        super().__init__("; ".join(f"{error.pointer}: {error.detail}" for error in errors))
        self.errors = tuple(errors)


class NotFinite(HeadbenchError):
    """A computed number is infinite: the readings, each within its bounds, span too many decades."""


class NotReachable(HeadbenchError):
    """No answer exists to an inverse question; `nearest` is the closest value that can be had [SI]."""

    def __init__(self, detail: str, nearest: float) -> None:
        super().__init__(detail)
        self.nearest = nearest


class WrongSetting(HeadbenchError):
    """A setting of the environment that cannot be followed; says which, and how to write it."""
