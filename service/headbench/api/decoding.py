"""Decoding: a request body is read strictly, or refused with everything that is wrong with it.

Litestar reads JSON leniently ("8" for 8, any content type); `StrictRequest` takes its place.
"""

from __future__ import annotations

import asyncio
import json
import types
import typing
from collections.abc import Iterator
from functools import lru_cache
from itertools import islice
from typing import Any, Final, cast

import msgspec
from litestar import Request
from litestar.datastructures.state import State
from msgspec import inspect

from headbench.errors import Pointed, RefusedRequest

BODY_SECONDS: Final = 10.0
"""How long a body may take to arrive."""

MOST_FAULTS: Final = 20
"""Faults named in one refusal."""

_MISSING: Final = object()


class StrictRequest(Request[None, None, State]):
    """A request whose JSON body is decoded to the handler's type, strictly."""

    async def body(self) -> bytes:
        """The body, if it is of the right media type and arrives in time."""
        if self.route_handler.parsed_data_field is None:
            return await super().body()
        media_type, parameters = self.content_type
        if media_type.lower() != "application/json" or parameters.get("charset", "utf-8").lower() != "utf-8":
            raise RefusedRequest(
                "unsupported-media-type",
                415,
                "Send the body as application/json in UTF-8.",
                headers={"Accept": "application/json"},
            )
        try:
            async with asyncio.timeout(BODY_SECONDS):
                body = await super().body()
        except TimeoutError:
            raise RefusedRequest(
                "request-timeout",
                408,
                f"The body did not arrive within {BODY_SECONDS:.0f} s.",
                headers={"Connection": "close"},
            ) from None
        if not body.strip():
            raise RefusedRequest("empty-body", 400, "The body is empty; a JSON object is expected.")
        return body

    async def json(self) -> Any:
        """The body as the handler's type; Litestar passes a ready struct through."""
        field = self.route_handler.parsed_data_field
        return decode(await self.body(), None if field is None else field.annotation)


@lru_cache(maxsize=256)
def _decoder(annotation: Any) -> msgspec.json.Decoder[Any]:
    return msgspec.json.Decoder(annotation)


def decode(raw: bytes, annotation: Any) -> Any:
    """A JSON text as a struct.

    Raises RefusedRequest: malformed-json, duplicate-key, or invalid-request with the
    place of each of up to MOST_FAULTS faults.
    """
    try:
        value = _decoder(annotation).decode(raw)
        _refuse_duplicate_keys(raw)
    except msgspec.ValidationError:
        return _second_reading(raw, annotation)
    except (msgspec.DecodeError, ValueError, RecursionError) as error:
        raise _malformed(error) from None
    return value


def _malformed(error: Exception) -> RefusedRequest:
    if isinstance(error, RecursionError):
        detail = "The body is nested too deeply."
    elif isinstance(error, UnicodeDecodeError):
        detail = "The body is not UTF-8."
    else:
        detail = "The body is not JSON: it cannot be read as one complete JSON value with finite numbers."
    return RefusedRequest("malformed-json", 400, detail)


def _second_reading(raw: bytes, annotation: Any) -> Any:
    """Read what the decoder refused once more, untyped, to name every fault, or to forgive 8.0 for 8."""
    try:
        value = _integers_as_such(msgspec.json.decode(raw))
        _refuse_duplicate_keys(raw)
    except (msgspec.DecodeError, ValueError, RecursionError) as error:
        raise _malformed(error) from None
    try:
        return msgspec.convert(value, annotation)
    except msgspec.ValidationError:
        raise _refusal(value, annotation) from None


def _refusal(value: Any, annotation: Any) -> RefusedRequest:
    errors = list(islice(_faults(value, annotation, ""), MOST_FAULTS))
    count = "1 fault" if len(errors) == 1 else f"{len(errors)} faults"
    return RefusedRequest("invalid-request", 400, f"{count} in the request; nothing was computed.", errors=errors)


def _integers_as_such(value: Any) -> Any:
    """JSON knows one kind of number: 8.0 is an integer there."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, list):
        return [_integers_as_such(item) for item in value]
    if isinstance(value, dict):
        return {key: _integers_as_such(item) for key, item in value.items()}
    return value


def _refuse_duplicate_keys(raw: bytes) -> None:
    # Without an escape every string has two quotation marks, and a name that stands twice loses two
    # when the text is read and written again. Ten times cheaper than looking at every object.
    if b"\\" not in raw and raw.count(b'"') == msgspec.json.encode(msgspec.json.decode(raw)).count(b'"'):
        return
    errors = list(_duplicates(json.loads(raw, object_pairs_hook=_Pairs), ""))[:MOST_FAULTS]
    if errors:
        raise RefusedRequest("duplicate-key", 400, "A name stands more than once in one object.", errors=errors)


class _Pairs(list[tuple[str, Any]]):
    """An object's members, repeated names and all."""


def _duplicates(value: Any, pointer: str) -> Iterator[Pointed]:
    if isinstance(value, _Pairs):
        seen = set()
        for name, member in value:
            here = f"{pointer}/{_escaped(name)}"
            if name in seen:
                yield Pointed(here, f'"{name}" stands more than once; which one holds cannot be told')
            seen.add(name)
            yield from _duplicates(member, here)
    elif isinstance(value, list):
        for place, item in enumerate(value):
            yield from _duplicates(item, f"{pointer}/{place}")


def _escaped(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")


def _faults(value: Any, annotation: Any, pointer: str) -> Iterator[Pointed]:
    """Every fault of a value, the innermost place of each."""
    try:
        msgspec.convert(value, annotation)
    except (msgspec.ValidationError, RecursionError):
        found = False
        for fault in _faults_inside(value, annotation, pointer):
            found = True
            yield fault
        if not found:
            yield Pointed(pointer, f"expected {_expectation(inspect.type_info(annotation))}, got {_shown(value)}")


def _faults_inside(value: Any, annotation: Any, pointer: str) -> Iterator[Pointed]:
    structs, item = _parts(annotation)
    if isinstance(value, dict) and structs:
        struct = _struct_for(value, structs)
        if struct is None:
            tag_field = structs[0].__struct_config__.tag_field
            tags = ", ".join(str(struct.__struct_config__.tag) for struct in structs)
            yield Pointed(f"{pointer}/{tag_field}", f"expected one of: {tags}")
            return
        fields = {field.name: field for field in msgspec.structs.fields(struct)}
        for name in value:
            if name not in fields and name != struct.__struct_config__.tag_field:
                tag_field = struct.__struct_config__.tag_field
                known = ", ".join([*([tag_field] if tag_field else []), *fields])
                yield Pointed(f"{pointer}/{_escaped(name)}", f"no such field; there are: {known}")
        for name, field in fields.items():
            member = value.get(name, _MISSING)
            if member is not _MISSING:
                yield from _faults(member, field.type, f"{pointer}/{name}")
            elif field.required:
                yield Pointed(f"{pointer}/{name}", "is required and missing")
    elif isinstance(value, list) and item is not None:
        for place, member in enumerate(value):
            yield from _faults(member, item, f"{pointer}/{place}")


def _parts(annotation: Any) -> tuple[list[type[msgspec.Struct]], Any]:
    """The structs an annotation admits, and the item type of the list it admits."""
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        return _parts(typing.get_args(annotation)[0])
    if origin in {typing.Union, types.UnionType}:
        structs, item = [], None
        for member in typing.get_args(annotation):
            own_structs, own_item = _parts(member)
            structs += own_structs
            item = own_item if item is None else item
        return structs, item
    if origin is list:
        return [], typing.get_args(annotation)[0]
    if isinstance(annotation, type) and issubclass(annotation, msgspec.Struct):
        return [annotation], None
    return [], None


def _struct_for(value: dict[str, Any], structs: list[type[msgspec.Struct]]) -> type[msgspec.Struct] | None:
    if len(structs) == 1 and structs[0].__struct_config__.tag_field is None:
        return structs[0]
    for struct in structs:
        config = struct.__struct_config__
        if value.get(cast("str", config.tag_field)) == config.tag:
            return struct
    return None


def _expectation(info: inspect.Type) -> str:  # noqa: PLR0911 - one answer per type
    """What a type admits, in words."""
    match info:
        case inspect.Metadata():
            return _expectation(info.type)
        case inspect.UnionType():
            kinds = [str(member.tag) for member in info.types if isinstance(member, inspect.StructType) and member.tag]
            others = [_expectation(member) for member in info.types if not isinstance(member, inspect.StructType)]
            objects = [f"an object with kind {' or '.join(kinds)}"] if kinds else []
            objects += ["an object"] if len(kinds) + len(others) < len(info.types) else []
            return " or ".join([*objects, *others])
        case inspect.NoneType():
            return "null"
        case inspect.FloatType() | inspect.IntType():
            kind = "a number" if isinstance(info, inspect.FloatType) else "a whole number"
            bounds = [f"{word} {bound:g}" for word, bound in (("from", info.ge), ("to", info.le)) if bound is not None]
            return " ".join([kind, *bounds])
        case inspect.StrType():
            return (
                f"text of {info.min_length or 0} to {info.max_length} plain characters" if info.max_length else "text"
            )
        case inspect.LiteralType():
            return f"one of: {', '.join(map(str, info.values))}"
        case inspect.BoolType():
            return "true or false"
        case inspect.ListType():
            return f"a list of {info.min_length or 0} to {info.max_length} items"
        case _:
            return "an object"


_LONGEST_SHOWN: Final = 40


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    text = json.dumps(value)
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"
