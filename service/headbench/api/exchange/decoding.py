"""Decoding: a request body is read strictly, or refused with everything that is wrong with it.

Litestar would read JSON leniently ("8" for 8, any content type), so it is not asked to.
"""

from __future__ import annotations

import asyncio
import json
import math
import re
import sys
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import islice
from typing import Any, Final

import msgspec
from litestar import Request
from litestar.datastructures.state import State

from headbench.api.exchange.asking import JSON
from headbench.api.exchange.faults import Path, echoed, find_faults, pointer_to, with_names, without_nulls
from headbench.errors import Pointed, RefusedRequest

BODY_SECONDS: Final = 10.0
"""How long a body may take to arrive."""


_MOST_DEPTH: Final = 128
_MOST_ITEMS: Final = 10_000
"""Deeper, and in one list more, than any request has; what is refused is not read to its end."""

MOST_FAULTS: Final = 20
"""Faults named in one refusal."""


async def read_body(request: Request[Any, Any, State], taken: Sequence[str]) -> bytes:
    """The body, if it is of a media type that is taken and arrives in time; raises RefusedRequest."""
    media_type, parameters = request.content_type
    if media_type.lower() not in taken or parameters.get("charset", "utf-8").lower() != "utf-8":
        raise wrong_media_type(taken)
    try:
        async with asyncio.timeout(BODY_SECONDS):
            body = await request.body()
    except TimeoutError:
        raise too_slow() from None
    if not body.strip():
        raise RefusedRequest("empty-body", 400, "Empty request; send the job as a JSON object.")
    return body


def wrong_media_type(taken: Sequence[str] = (JSON,)) -> RefusedRequest:
    """What is told of a body whose media type is none of those that are taken."""
    detail = f"Send the body as {' or '.join(taken)} in UTF-8."
    return RefusedRequest("unsupported-media-type", 415, detail, headers={"Accept": ", ".join(taken)})


def too_slow() -> RefusedRequest:
    """What is told of a body that does not arrive."""
    detail = f"The body did not arrive within {BODY_SECONDS:.0f} s; send it again."
    return RefusedRequest("request-timeout", 408, detail, headers={"Connection": "close"})


@lru_cache(maxsize=256)
def _decoder(annotation: Any) -> msgspec.json.Decoder[Any]:
    return msgspec.json.Decoder(annotation)


def decode(raw: bytes, annotation: Any, line: int = 1) -> Any:
    """A JSON text as a struct; `line` is where it begins in what the caller sent.

    Raises RefusedRequest: malformed-json, duplicate-key, or invalid-request with the
    place of each of up to MOST_FAULTS faults.
    """
    try:
        value = _decoder(annotation).decode(raw)
        _refuse_duplicate_keys(raw)
    except msgspec.ValidationError:
        return _second_reading(raw, annotation, line)
    except (msgspec.DecodeError, ValueError, RecursionError) as error:
        raise _malformed(raw, error, line) from None
    return value


def _malformed(raw: bytes, error: Exception, line: int) -> RefusedRequest:
    if isinstance(error, RecursionError):
        return _not_json("The body is nested too deeply; lay it out as /docs shows.")
    try:
        text = raw.decode()
        value = json.loads(text, parse_int=float)
    except UnicodeDecodeError:
        return _not_json("The body is not UTF-8 text; save it as UTF-8.")
    except json.JSONDecodeError as fault:
        place = f"line {line - 1 + fault.lineno}, column {fault.colno}"
        return _not_json(f"Not valid JSON at {place}: {_remedy(text, fault.pos)}.")
    except RecursionError as deep:
        return _malformed(raw, deep, line)
    # Python reads what JSON does not know, NaN among it, and numbers too large for any machine
    errors = with_names(list(islice(_not_finite(value, ()), MOST_FAULTS)), value)
    if errors:
        return _not_json(
            "A number is too large or no number at all; correct it, or leave out a reading that was not taken.", errors
        )
    return _not_json(
        "A text in the body has half of a character pair (\\ud800 to \\udfff); write the character itself."
    )


def _not_json(detail: str, errors: Sequence[Pointed] = ()) -> RefusedRequest:
    return RefusedRequest("malformed-json", 400, detail, errors=errors)


_REMEDIES: Final = (
    (r"", r"\.[0-9]", "write a zero before the decimal point, 0.060 and not .060"),
    (r"", r"\+", "leave out the plus sign"),
    (r"[0-9]", r"/", "write a fraction as a decimal, 0.0625 and not 1/16"),
    (r"[0-9],", r"[0-9]", "write a decimal point, not a comma"),
    (r"[0-9]", r"\.", "write digits after the decimal point, or leave it out"),
    (r"\b0", r"[0-9]", "leave out the leading zero"),
    (r"", r"'", "use double quotes"),
    (r"", r"\ufeff", "save the file without a byte-order mark"),
    (r",\s*", r"[}\]]", "leave out the comma before it"),
    (r"", r",\s*[}\]]", "leave out the comma"),
    (r"", r"\Z", "the text ends too early; close every quote and bracket"),
)
"""What stands before and behind the place where JSON breaks off, and what to do about it."""


def _remedy(text: str, place: int) -> str:
    before = text[max(place - 80, 0) : place]
    for left, right, remedy in _REMEDIES:
        if re.search(rf"(?:{left})\Z", before) and re.match(right, text[place:]):
            return remedy
    return "look there for a missing or extra comma, colon, quote or bracket"


def _not_finite(value: Any, path: Path) -> Iterator[Pointed]:
    if isinstance(value, float) and not math.isfinite(value):
        yield Pointed(pointer_to(path), "must be a number below 1.8e308, or null")
    members = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, member in members:
        yield from _not_finite(member, (*path, name))


def _second_reading(raw: bytes, annotation: Any, line: int) -> Any:
    """Read what the decoder refused once more, untyped: to name every fault, or to take 8.0 for 8 and null for none."""
    try:
        value = without_nulls(_integers_as_such(msgspec.json.decode(raw)), annotation)
        _refuse_duplicate_keys(raw)
    except (msgspec.DecodeError, ValueError, RecursionError) as error:
        raise _malformed(raw, error, line) from None
    try:
        return msgspec.convert(value, annotation)
    except msgspec.ValidationError:
        raise _refusal(value, annotation) from None


def _refusal(value: Any, annotation: Any) -> RefusedRequest:
    errors = list(islice(find_faults(value, annotation), MOST_FAULTS))
    match len(errors):
        case 1:
            count = "1 fault"
        case n if n == MOST_FAULTS:
            count = f"The first {n} faults are listed"
        case n:
            count = f"{n} faults"
    detail = f"{count}; nothing was computed. Correct the request and send it again."
    return RefusedRequest("invalid-request", 400, detail, errors=with_names(errors, value))


def _integers_as_such(value: Any, depth: int = 0) -> Any:
    """JSON knows one kind of number: 8.0 is an integer there, and what no double holds none, however it is written.

    Raises ValueError for that, and RecursionError past what any request has.

    Of a list that is too long whatever it holds, a part is too long as well.
    """
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, int) and abs(value) > sys.float_info.max:
        raise ValueError
    if depth == _MOST_DEPTH:
        raise RecursionError
    if isinstance(value, list):
        return [_integers_as_such(item, depth + 1) for item in value[:_MOST_ITEMS]]
    if isinstance(value, dict):
        return {key: _integers_as_such(item, depth + 1) for key, item in value.items()}
    return value


def _refuse_duplicate_keys(raw: bytes) -> None:
    # Without an escape every string has two quotation marks, and a name that stands twice loses two
    # when the text is read and written again. Ten times cheaper than looking at every object.
    if b"\\" not in raw and raw.count(b'"') == msgspec.json.encode(msgspec.json.decode(raw)).count(b'"'):
        return
    errors = list(islice(_duplicates(json.loads(raw, object_pairs_hook=_Pairs), ()), MOST_FAULTS))
    if errors:
        named = with_names(errors, json.loads(raw))
        raise RefusedRequest("duplicate-key", 400, "A field is entered twice in one object; keep one.", errors=named)


class _Pairs(list[tuple[str, Any]]):
    """An object's members, repeated names and all."""


def _duplicates(value: Any, path: Path) -> Iterator[Pointed]:
    if isinstance(value, _Pairs):
        seen = set()
        for name, member in value:
            if name in seen:
                yield Pointed(pointer_to((*path, name)), f"duplicate field {echoed(name)}; keep one")
            seen.add(name)
            yield from _duplicates(member, (*path, name))
    elif isinstance(value, list):
        for place, item in enumerate(value):
            yield from _duplicates(item, (*path, place))
