"""The components of the published schema: msgspec's, put so that every generator of clients takes them.

What is said stays the same; how it is said minds what generators make of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

import msgspec


def components(structs: Iterable[Any]) -> dict[str, Any]:
    """The schema of each struct and of all it is made of, by name."""
    _, found = msgspec.json.schema_components(list(structs), ref_template="#/components/schemas/{name}")
    cleaned = {name: _component(schema) for name, schema in sorted(found.items())}
    for schema in cleaned.values():
        for name, field in schema["properties"].items():
            schema["properties"][name] = _with_description(field, cleaned)
    return cleaned


def _with_description(schema: dict[str, Any], all_components: dict[str, Any]) -> dict[str, Any]:
    """A property that holds one kind of object, or a list of them, is described as that is, if not by itself."""
    kinds = [schema, schema.get("items", {}), *schema.get("anyOf", [])]
    references = [kind["$ref"].rsplit("/")[-1] for kind in kinds if "$ref" in kind]
    if "description" in schema or len(references) != 1:
        return schema
    return {**schema, "description": all_components[references[0]]["description"]}


def _component(schema: dict[str, Any]) -> Any:
    properties = schema.get("properties", {})
    named = {name: _with_named_choices(_with_default(one), name) for name, one in properties.items()}
    return _cleaned({**schema, "properties": named})


def _with_default(schema: dict[str, Any]) -> dict[str, Any]:
    """A property whose default does no harm.

    An object, a list or null as a default says no more than that the field may be left out, and generators
    lose the operation over it. A plain one is told one level further in: beside the field itself it makes
    openapi-typescript demand the field.
    """
    if "default" not in schema:
        return schema
    default = schema["default"]
    rest = {key: value for key, value in schema.items() if key != "default"}
    return rest if default is None or isinstance(default, dict | list) else {**rest, "allOf": [{"default": default}]}


def _with_named_choices(schema: dict[str, Any], name: str) -> dict[str, Any]:
    """A property whose choices generators call after it, and not after their place among its kinds."""
    if "anyOf" not in schema:
        return schema
    kinds = [{**kind, "title": name} if "enum" in kind else kind for kind in schema["anyOf"]]
    return {**schema, "anyOf": kinds}


def _cleaned(schema: Any) -> Any:
    """What msgspec leaves to wish for: types of choices, a constant where there is one, docstrings on one line."""
    if isinstance(schema, list):
        return [_cleaned(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    cleaned = {key: _cleaned(value) for key, value in schema.items()}
    choices = cleaned.get("enum", [])
    if choices and all(isinstance(value, str) for value in choices):
        cleaned["type"] = "string"
        if len(choices) == 1:
            cleaned["const"] = cleaned.pop("enum")[0]
            cleaned.setdefault("description", f'Always "{cleaned["const"]}".')
    if isinstance(cleaned.get("description"), str):
        cleaned["description"] = re.sub(r"\s+", " ", cleaned["description"])
    return cleaned
