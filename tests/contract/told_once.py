"""A published schema in which each part of a job is told once: by the operation that has the most parts.

Most operations take parts that others take as well: springs, shims, lifts, units. One decoder reads a part wherever
it stands, made of the same struct as its schema. Who goes through a schema value by value goes through such a part at
every operation that takes it, and finds the same each time.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from typing import Any, Final

Json = dict[str, Any]

_COMPONENTS: Final = "#/components/schemas/"
_LINES: Final = "application/x-ndjson"


def told_once(document: Json) -> Json:
    """The same document, its operations without the fields that may be left out and hold nothing new."""
    once = deepcopy(document)
    schemas = once["components"]["schemas"]
    bodies = [
        (operation["operationId"], content["schema"])
        for path in once["paths"].values()
        for operation in path.values()
        for media_type, content in operation.get("requestBody", {"content": {}})["content"].items()
        if media_type != _LINES
    ]
    known: set[str] = set()
    copies: Json = {}
    for name, body in sorted(bodies, key=lambda one: -len(_objects(schemas, one[1]))):
        own = _objects(schemas, body)
        for part in _named(schemas, body):
            copies[f"{name}{part}"] = _renamed(_without(schemas, schemas[part], known), name)
        body.update(_renamed(body, name))
        known |= own
    schemas.update(copies)
    return once


def _without(schemas: Json, schema: Json, known: set[str]) -> Json:
    """An object without the fields that may be left out and whose objects are all known."""
    if "properties" not in schema:
        return schema
    kept = {
        name: field
        for name, field in schema["properties"].items()
        if name in schema.get("required", []) or not (parts := _objects(schemas, field)) or parts - known
    }
    return schema | {"properties": kept}


def _objects(schemas: Json, schema: Any) -> set[str]:
    """The names of all objects that a value of this schema may hold."""
    return {name for name in _named(schemas, schema) if "properties" in schemas[name]}


def _named(schemas: Json, schema: Any) -> set[str]:
    """The names of all components that a schema refers to, through however many others."""
    found: set[str] = set()
    ahead = list(_references(schema))
    while ahead:
        name = ahead.pop()
        if name not in found:
            found.add(name)
            ahead += _references(schemas[name])
    return found


def _references(part: Any) -> Iterator[str]:
    if isinstance(part, str) and part.startswith(_COMPONENTS):
        yield part.removeprefix(_COMPONENTS)
    elif isinstance(part, dict | list):
        for inner in part.values() if isinstance(part, dict) else part:
            yield from _references(inner)


def _renamed(part: Any, name: str) -> Any:
    """A schema that refers to the copies made for one operation."""
    if isinstance(part, str) and part.startswith(_COMPONENTS):
        return f"{_COMPONENTS}{name}{part.removeprefix(_COMPONENTS)}"
    if isinstance(part, dict):
        return {key: _renamed(inner, name) for key, inner in part.items()}
    if isinstance(part, list):
        return [_renamed(inner, name) for inner in part]
    return part
