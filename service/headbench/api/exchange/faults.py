"""Faults: what is wrong with a value that the decoder refused, each in a sentence and with its place.

The decoder stops at the first fault and names it for a programmer; here the value is gone through once
more, on the way to a refusal only.
"""

from __future__ import annotations

import difflib
import json
import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import takewhile
from typing import Any, Final, cast

import msgspec
from msgspec import inspect

from headbench.errors import Pointed

LONGEST_ECHO: Final = 40
"""Characters of a caller's own text that are repeated in a refusal."""

_SHORTEST_WORD: Final = 3
"""Letters of a word that says something of a field."""

_MOST_MEANT: Final = 3
"""Fields offered in place of one that is unknown."""

_MISSING: Final = object()


Path: typing.TypeAlias = tuple[str | int, ...]
"""Names and places from the body down to a value."""


def pointer_to(path: Path) -> str:
    """The RFC 6901 pointer to a value, or to the object above it where a name is too long to be repeated.

    >>> pointer_to(("positions", 0, "a/b"))
    '/positions/0/a~1b'
    """
    parts = takewhile(lambda part: len(part) <= LONGEST_ECHO, map(str, path))
    return "".join(f"/{part.replace('~', '~0').replace('/', '~1')}" for part in parts)


def echoed(text: str) -> str:
    """A caller's own text in quotation marks, cut short where it is long.

    >>> echoed("x" * 50)
    '"xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…"'
    """
    return json.dumps(text if len(text) <= LONGEST_ECHO else f"{text[:LONGEST_ECHO]}…", ensure_ascii=False)


def find_faults(value: Any, annotation: Any, pointer: str = "") -> Iterator[Pointed]:
    """Every fault of a value, the innermost place of each."""
    try:
        msgspec.convert(value, annotation)
    except (msgspec.ValidationError, RecursionError):
        found = False
        for fault in _faults_inside(value, annotation, pointer):
            found = True
            yield fault
        if not found:
            yield Pointed(pointer, f"must be {_expectation(annotation)}, not {_shown(value)}")


def with_names(errors: Sequence[Pointed], job: Any) -> tuple[Pointed, ...]:
    """The same faults, each with the name of the position, spring, ... it is about, if it does not say so itself."""
    return tuple(_with_name(error, job) for error in errors)


def _with_name(error: Pointed, job: Any) -> Pointed:
    subject = name = ""
    value, above = job, ""
    for part in error.pointer.split("/")[1:]:
        if isinstance(value, list):
            place = int(part) if part.isdecimal() else len(value)
            value = value[place] if place < len(value) else None
            own = _member(value, "id")
            if isinstance(own, str) and own.isprintable() and 0 < len(own) <= LONGEST_ECHO:
                subject, name = above.removesuffix("s"), own
        else:
            value, above = _member(value, part), part
    told = (f"{subject} {name}", f"{name}: ", f'"{name}"')
    if not name or any(one in error.detail for one in told):
        return error
    whose = name if subject == "position" else f"{subject} {name}"
    return Pointed(error.pointer, f"{whose}: {error.detail}")


def _member(value: Any, name: str) -> Any:
    return value.get(name) if isinstance(value, dict) else getattr(value, name, None)


def without_nulls(value: Any, annotation: Any) -> Any:
    """A value without the nulls of fields that may be left out but take none: null says left out there, too."""
    structs, item = _parts(annotation)
    if isinstance(value, dict) and structs and (struct := _struct_for(value, structs)):
        fields = _fields(struct)
        return {
            name: without_nulls(member, fields[name].type) if name in fields else member
            for name, member in value.items()
            if member is not None or name not in fields or fields[name].required or _takes_null(fields[name].type)
        }
    if isinstance(value, list) and item is not None:
        return [without_nulls(member, item) for member in value]
    return value


@cache
def _fields(struct: type[msgspec.Struct]) -> Mapping[str, msgspec.structs.FieldInfo]:
    """The fields of a struct by their names: msgspec works their types out anew each time it is asked."""
    return {field.name: field for field in msgspec.structs.fields(struct)}


def _takes_null(annotation: Any) -> bool:
    if typing.get_origin(annotation) is typing.Annotated:
        return _takes_null(typing.get_args(annotation)[0])
    return type(None) in typing.get_args(annotation)


def _faults_inside(value: Any, annotation: Any, pointer: str) -> Iterator[Pointed]:
    structs, item = _parts(annotation)
    if isinstance(value, dict) and structs:
        struct = _struct_for(value, structs)
        if struct is None:
            yield _wrong_kind(value, structs, pointer)
            return
        fields = _fields(struct)
        tag_field = struct.__struct_config__.tag_field
        known = [*([tag_field] if tag_field else []), *fields]
        yield from (_unknown(name, known, pointer) for name in value if name not in known)
        for name, field in fields.items():
            member = value.get(name, _MISSING)
            if member is not _MISSING:
                yield from find_faults(member, field.type, f"{pointer}/{name}")
            elif field.required:
                yield Pointed(f"{pointer}/{name}", "required")
    elif isinstance(value, list) and item is not None:
        for place, member in enumerate(value):
            yield from find_faults(member, item, f"{pointer}/{place}")


def _unknown(name: str, known: Sequence[str], pointer: str) -> Pointed:
    if len(name) > LONGEST_ECHO:
        return Pointed(pointer, f"unknown field {echoed(name)}; leave it out")
    near = difflib.get_close_matches(name, known, n=1) or _with_its_words(name, known)
    detail = f"did you mean {_or(near)}?" if near else "leave it out, or look up its name at /docs"
    return Pointed(f"{pointer}{pointer_to((name,))}", f"unknown field; {detail}")


def _with_its_words(name: str, known: Sequence[str]) -> list[str]:
    """The fields that share a word with a name: the rarest it has here, and only if that picks out a few of them.

    >>> _with_its_words("seal_clearance", ["id", "retainer_to_seal", "retainer_to_rocker"])
    ['retainer_to_seal']
    """
    sharing = [
        [field for field in known if word in field.split("_")]
        for word in name.lower().split("_")
        if len(word) >= _SHORTEST_WORD
    ]
    few = min(filter(None, sharing), key=len, default=[])
    return few if len(few) <= _MOST_MEANT else []


def _wrong_kind(value: dict[str, Any], structs: Sequence[type[msgspec.Struct]], pointer: str) -> Pointed:
    tag_field = cast("str", structs[0].__struct_config__.tag_field)
    kinds = _one_of([str(struct.__struct_config__.tag) for struct in structs])
    given = value.get(tag_field, _MISSING)
    detail = f"required: {kinds}" if given is _MISSING else f"must be {kinds}, not {_shown(given)}"
    return Pointed(f"{pointer}/{tag_field}", detail)


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


def _expectation(annotation: Any) -> str:
    """What a type admits, in words that follow "must be"."""
    core = typing.get_args(annotation)[0] if typing.get_origin(annotation) is typing.Annotated else annotation
    if typing.get_origin(core) is typing.Literal:  # as they are written; msgspec sorts them
        return _one_of([str(choice) for choice in typing.get_args(core)])
    if typing.get_origin(core) in {typing.Union, types.UnionType}:
        return _any_of(typing.get_args(core))
    return _plain(inspect.type_info(annotation))


def _any_of(members: Sequence[Any]) -> str:
    structs = [struct for member in members for struct in _parts(member)[0]]
    kinds = [str(struct.__struct_config__.tag) for struct in structs if struct.__struct_config__.tag]
    others = [_expectation(member) for member in members if member is not type(None) and not _parts(member)[0]]
    objects = [f"an object with kind {_one_of(kinds)}"] if kinds else ["an object"] if structs else []
    null = ["null"] if type(None) in members else []
    return (", or " if kinds else " or ").join([*objects, *others, *null])


def _one_of(choices: Sequence[str]) -> str:
    return _or([f'"{choice}"' for choice in choices])


def _or(words: Sequence[str]) -> str:
    return " or ".join([*([", ".join(words[:-1])] if words[:-1] else []), words[-1]])


def _plain(info: inspect.Type) -> str:
    match info:
        case inspect.Metadata():
            return _plain(info.type)
        case inspect.FloatType() | inspect.IntType():
            kind = "a number" if isinstance(info, inspect.FloatType) else "a whole number"
            bounds = [
                f"{word} {_decimal(bound)}" for word, bound in (("from", info.ge), ("to", info.le)) if bound is not None
            ]
            return " ".join([kind, *bounds])
        case inspect.StrType():
            length = f" of {info.min_length or 0} to {info.max_length} plain characters" if info.max_length else ""
            return f"text{length}"
        case inspect.BoolType() | inspect.DateType():
            return "true or false" if isinstance(info, inspect.BoolType) else "a date like 2026-03-17"
        case inspect.ListType():
            return f"a list of {info.min_length or 0} to {info.max_length} items"
        case _:
            return "an object"


def _decimal(bound: float) -> str:
    """A bound as it is written by hand.

    >>> _decimal(1e-05), _decimal(1e9), _decimal(0.5)
    ('0.00001', '1000000000', '0.5')
    """
    return f"{bound:.9f}".rstrip("0").rstrip(".")


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, str):
        return echoed(value)
    return json.dumps(value)
