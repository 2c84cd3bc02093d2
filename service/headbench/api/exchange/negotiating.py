"""Negotiating: which form of an answer a caller takes, and whether packed, by what its headers say (RFC 9110, 12)."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import mimeparse
from litestar.datastructures import Headers

from headbench.api.exchange.asking import JSON
from headbench.errors import RefusedRequest

PAGE: Final = "text/html"
_PROBLEM: Final = "application/problem+json"


@dataclass(frozen=True, slots=True)
class Answered:
    """A job and what was answered: the kind of job, its JSON as it was sent, the same as a struct, and the answer."""

    kind: str
    job: Any
    request: Any
    answer: Any


@dataclass(frozen=True, slots=True)
class Form:
    """A form that answers are given in beside JSON.

    media_type : as Accept names it
    name : as a person calls it
    told : what it is, in a sentence
    make : what makes it of an answer and the name of a sheet, none for the first
    headers : what is sent along
    """

    media_type: str
    name: str
    told: str
    make: Callable[[Answered, str | None], bytes]
    headers: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_text(self) -> bool:
        """Whether it is characters, and no bytes of its own kind."""
        return self.media_type.startswith("text/")


def accept_of(headers: Headers) -> str:
    """The Accept header of a request; where it stands on several lines they are one list (RFC 9110, 5.3)."""
    return ", ".join(headers.getall("accept", []))


def form_for(accept: str, forms: Sequence[Form]) -> Form | None:
    """The form that an Accept header likes best; None for JSON, also where it likes all alike or says nothing.

    Raises RefusedRequest (not-acceptable, 406) where it likes none.
    """
    by_type = {form.media_type: form for form in reversed(forms)}
    best = _best([*by_type, JSON], accept)
    if best is None:
        raise not_acceptable(forms)
    return by_type.get(best)


def likes_page_best(accept: str) -> bool:
    """Whether a caller would rather have a page than JSON, as a browser does.

    >>> likes_page_best("text/html,application/xhtml+xml,*/*;q=0.8"), likes_page_best("*/*"), likes_page_best("")
    (True, False, False)
    >>> likes_page_best("application/json, text/html;q=0.5")
    False
    """
    return _best([PAGE, JSON], accept) == PAGE


def takes_pages_only(accept: str) -> bool:
    """Whether a caller reads pages and no JSON, so that a refusal must be a page, too."""
    return _best([PAGE], accept) is not None and _best([JSON, _PROBLEM], accept) is None


def not_acceptable(forms: Sequence[Form]) -> RefusedRequest:
    """What is told of a caller who takes none of the forms there are."""
    there = ", ".join([JSON, *(form.media_type for form in forms)])
    detail = f"No answer is of a media type that the Accept header takes. Ask for one of these: {there}."
    return RefusedRequest("not-acceptable", 406, detail)


def _best(offered: Sequence[str], accept: str) -> str | None:
    """The media type that is liked best, the last of those liked alike; a header that cannot be read says nothing."""
    if not accept.strip(" ,"):
        return offered[-1]
    try:
        return mimeparse.best_match(offered, accept.lower()) or None
    except mimeparse.MimeTypeParseException:
        return offered[-1]


def is_gzip_wanted(accept_encoding: str) -> bool:
    """Whether an Accept-Encoding header (RFC 9110, 12.5.3) asks for gzip.

    >>> is_gzip_wanted("gzip, br"), is_gzip_wanted("gzip;q=0, *"), is_gzip_wanted("gzip;q=0.5, identity")
    (True, False, False)
    >>> is_gzip_wanted("")
    False
    """
    weights = dict(_weighted(one) for one in accept_encoding.lower().split(",") if one.strip())
    gzip = weights.get("gzip", weights.get("x-gzip", weights.get("*", 0.0)))
    return gzip > 0.0 and gzip >= weights.get("identity", 0.0)


def _weighted(coding: str) -> tuple[str, float]:
    name, *parameters = (part.strip() for part in coding.split(";"))
    weights = [part[2:] for part in parameters if part.startswith("q=")]
    try:
        return name, float(weights[0]) if weights else 1.0
    except ValueError:
        return name, 0.0
