"""What in a published schema would break a caller who was written to an earlier one.

The promise is that inside /v1 things are only added. Two sides are told apart, because they break differently:

* What a caller sends may only widen: a field more that can be left out, a choice more, a wider bound, null too.
* What a caller gets may only keep its word: a field more is harmless, and so is a status of refusal more. A field
  that is gone, that may be null or left out now, that is of another type or wider than it was is not. Nor is a choice
  more: a caller's switch does not know it, and generated clients refuse it. (Codes of notes are plain text, so that
  new ones may come.)

Names of operations and components belong to it, since clients are generated from them; so do defaults
(`x-default`), since whoever leaves the field out would be answered something else. Descriptions, titles
and examples do not.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final, Literal

Side = Literal["sent", "got"]
Json = dict[str, Any]

_LEAST: Final = ("minimum", "exclusiveMinimum", "minLength", "minItems")
_MOST: Final = ("maximum", "exclusiveMaximum", "maxLength", "maxItems")
_WORDS: Final = ("pattern", "x-quantity", "format")


def find_breaking(before: Json, now: Json) -> list[str]:
    """Everything that `now` takes away from, or demands more than, `before`, each with its place."""
    return list(dict.fromkeys(_paths(before, now)))


def _paths(before: Json, now: Json) -> Iterator[str]:
    for path, operations in before["paths"].items():
        for method, operation in operations.items():
            where = f"{method.upper()} {path}"
            other = now["paths"].get(path, {}).get(method)
            if other is None:
                yield f"{where}: removed"
            else:
                yield from _operation(operation, other, _Walk(before, now), where)


def _operation(before: Json, now: Json, walk: _Walk, where: str) -> Iterator[str]:
    if before["operationId"] != now["operationId"]:
        yield f"{where}: called {now['operationId']}, was {before['operationId']}"
    old_body, new_body = before.get("requestBody"), now.get("requestBody")
    if new_body and not old_body:
        yield f"{where}: demands a body"
    elif old_body and new_body:
        yield from _contents(old_body, new_body, walk, "sent", f"{where} body")
    for status, response in before["responses"].items():
        if status not in now["responses"]:
            yield f"{where} {status}: removed"
        else:
            new = walk.resolved(walk.now, now["responses"][status])
            yield from _contents(walk.resolved(walk.before, response), new, walk, "got", f"{where} {status}")
    fresh = [status for status in now["responses"] if status not in before["responses"]]
    yield from (f"{where} {status}: new" for status in fresh if status.startswith("2"))


def _contents(before: Json, now: Json, walk: _Walk, side: Side, where: str) -> Iterator[str]:
    for media_type, content in before.get("content", {}).items():
        if media_type not in now.get("content", {}):
            yield f"{where}: {media_type} removed"
        else:
            yield from walk.schema(content["schema"], now["content"][media_type]["schema"], side, where)


class _Walk:
    """Two documents gone through together, each pair of components once on each side."""

    def __init__(self, before: Json, now: Json) -> None:
        self.before = before
        self.now = now
        self._seen: set[tuple[str, str, Side]] = set()

    @staticmethod
    def resolved(document: Json, schema: Json) -> Json:
        """What a reference stands for."""
        while "$ref" in schema:
            found: Any = document
            for part in schema["$ref"].removeprefix("#/").split("/"):
                found = found[part]
            schema = found
        return schema

    def schema(self, before: Json, now: Json, side: Side, where: str) -> Iterator[str]:
        """What one schema breaks that replaces another."""
        if "$ref" in before and "$ref" in now:
            pair = before["$ref"], now["$ref"], side
            if pair in self._seen:
                return
            self._seen.add(pair)
            where, name = before["$ref"].rsplit("/")[-1], now["$ref"].rsplit("/")[-1]
            if where != name:
                yield f"{where}: called {name}"
        old = _Shape(self.resolved(self.before, before), self.before)
        new = _Shape(self.resolved(self.now, now), self.now)
        yield from self._kinds(old, new, side, where)

    def _kinds(self, old: _Shape, new: _Shape, side: Side, where: str) -> Iterator[str]:
        if side == "sent":
            yield from (f"{where}: {kind} no longer taken" for kind in old.kinds if new.like(kind) is None)
        else:
            # a kind that is no longer given breaks nobody who still waits for it
            yield from (f"{where}: may be {kind}" for kind in new.kinds if old.like(kind) is None)
        for kind, one in old.kinds.items():
            other = new.like(kind)
            if other is not None:
                yield from self._one(one, other, side, where)

    def _one(self, before: Json, now: Json, side: Side, where: str) -> Iterator[str]:
        if "$ref" in before or "$ref" in now:
            yield from self.schema(before, now, side, where)
            return
        yield from _choices(before, now, side, where)
        yield from _bounds(before, now, side, where)
        if "items" in before and "items" in now:
            yield from self.schema(before["items"], now["items"], side, f"{where}[]")
        if "properties" in before:
            yield from self._object(before, now, side, where)

    def _object(self, before: Json, now: Json, side: Side, where: str) -> Iterator[str]:
        demanded = set(now.get("required", [])) - set(before.get("required", []))
        given_up = set(before.get("required", [])) - set(now.get("required", []))
        if side == "sent":
            yield from (f"{where}.{name}: demanded" for name in sorted(demanded))
            if before.get("additionalProperties", True) is not False and now.get("additionalProperties") is False:
                yield f"{where}: other fields no longer taken"
        else:
            yield from (f"{where}.{name}: may be left out" for name in sorted(given_up) if name in now["properties"])
        for name, one in before["properties"].items():
            other = now["properties"].get(name)
            if other is None:
                yield f"{where}.{name}: removed"
                continue
            was, is_now = one.get("x-default"), other.get("x-default")
            if was != is_now and name not in before.get("required", []):
                yield f"{where}.{name}: default {is_now!r}, was {was!r}"
            yield from self.schema(one, other, side, f"{where}.{name}")


class _Shape:
    """The kinds of value a schema admits: null, its objects by their tag, lists, and plain values by their type."""

    def __init__(self, schema: Json, document: Json) -> None:
        self.kinds: dict[str, Json] = {}
        self._document = document
        self._add(schema)

    def _add(self, schema: Json) -> None:
        parts = schema.get("anyOf", schema.get("oneOf"))
        if parts is None:
            self.kinds[self._kind(schema)] = schema
            return
        for part in parts:
            self._add(part)

    def like(self, kind: str) -> Json | None:
        """The schema of a kind; a whole number is a number too."""
        if kind in {"integer", "number"}:
            return self.kinds.get(kind, self.kinds.get("number"))
        return self.kinds.get(kind)

    def _kind(self, schema: Json) -> str:
        whole = _Walk.resolved(self._document, schema)
        tags = [f"{name} {one['const']}" for name, one in whole.get("properties", {}).items() if "const" in one]
        return " ".join([str(whole.get("type", "anything")), *tags])


def _choices(before: Json, now: Json, side: Side, where: str) -> Iterator[str]:
    """Choices of what is sent may only become more, of what is got only fewer."""
    wide, narrow = (_listed(now), _listed(before)) if side == "sent" else (_listed(before), _listed(now))
    if wide is None:
        return
    if narrow is None:
        yield f"{where}: {'only some values taken' if side == 'sent' else 'may be any value'}"
        return
    told = "no longer taken" if side == "sent" else "may come"
    for choice in narrow:
        if choice not in wide:
            yield f"{where}: {choice!r} {told}"


def _listed(schema: Json) -> list[Any] | None:
    choices: list[Any] | None = [schema["const"]] if "const" in schema else schema.get("enum")
    return choices


def _bounds(before: Json, now: Json, side: Side, where: str) -> Iterator[str]:
    """Bounds of what is sent may only widen, of what is got only narrow; patterns and quantities stay."""
    outer, inner = (now, before) if side == "sent" else (before, now)
    for keywords, beyond in ((_LEAST, -1.0), (_MOST, 1.0)):
        for keyword in keywords:
            if keyword in outer and (keyword not in inner or beyond * inner[keyword] > beyond * outer[keyword]):
                yield f"{where}: {keyword} {now.get(keyword)}, was {before.get(keyword)}"
    for keyword in _WORDS:
        gone_is_wider = keyword == "pattern" and (now if side == "sent" else before).get(keyword) is None
        if before.get(keyword) != now.get(keyword) and not gone_is_wider:
            yield f"{where}: {keyword} {now.get(keyword)}, was {before.get(keyword)}"
