"""How forms are published: the fields of the JSON laid flat, each as text that may be blank."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from headbench.api.exchange.asking import JSON
from headbench.api.exchange.resource import Resource

Json = dict[str, Any]

PARAMETERS: Final[Sequence[Json]] = (
    {
        "name": "X-Request-Id",
        "in": "header",
        "required": False,
        "description": "A name for this exchange, which the log and the answer repeat: up to 64 letters, digits, dots, "
        "dashes and underscores; any other is replaced.",
        "schema": {"type": "string"},
        "example": "bench-2-0317",
    },
)
"""What every operation takes; told where two kinds of body are, because one generator forgets an import otherwise."""

_BLANK: Final[Json] = {"type": "string", "maxLength": 0}
_NULL: Final[Json] = {"type": "null"}
_REFERENCE: Final = "#/components/schemas/"


def form_of(resource: Resource[Any, Any]) -> str | None:
    """The media type of the form that a resource takes beside JSON."""
    return next((one for one in resource.media_types if one != JSON), None)


def taken(resource: Resource[Any, Any]) -> Json:
    """What else the body may be: the form whose component stands beside that of the JSON."""
    form = form_of(resource)
    return {} if form is None else {form: {"schema": {"$ref": f"{_REFERENCE}{_form_name(resource.request.__name__)}"}}}


def with_forms(components: Json, resources: Sequence[Resource[Any, Any]]) -> Json:
    """The components, and those of forms among them."""
    names = [one.request.__name__ for one in resources if form_of(one)]
    return dict(sorted({**components, **{_form_name(name): _laid_flat(components, name) for name in names}}.items()))


def _form_name(name: str) -> str:
    return f"{name.removesuffix('Request')}Form"


def _laid_flat(components: Json, name: str) -> Json:
    of_json = components[name]
    properties: Json = {}
    for field, schema in of_json["properties"].items():
        inner = _object_in(components, schema)
        if inner is None:
            properties[field] = _or_blank(schema)
        else:
            members = inner["properties"].items()
            # a list has no place in a form
            properties |= {f"{field}.{member}": _or_blank(one) for member, one in members if not _is_list(one)}
    described = f"{of_json['description']} A field of `units` has its name behind a point."
    title = _form_name(name)
    return {
        "title": title,
        "description": described,
        "type": "object",
        "properties": properties,
        "minProperties": 1,
        "additionalProperties": False,
    }


def _object_in(components: Json, schema: Json) -> Json | None:
    references = [one["$ref"] for one in [schema, *schema.get("anyOf", [])] if "$ref" in one]
    found = [components[reference.removeprefix(_REFERENCE)] for reference in references]
    return next((one for one in found if one.get("type") == "object"), None)


def _is_list(schema: Json) -> bool:
    return any(one.get("type") == "array" for one in schema["anyOf"])


def _or_blank(schema: Json) -> Json:
    """A field as text: blank is what null is in JSON."""
    return {**schema, "anyOf": [_BLANK if one == _NULL else _as_text(one) for one in schema["anyOf"]]}


def _as_text(schema: Json) -> Json:
    """A choice that is no component of its own as a pattern, so that clients make no second type of it."""
    if "enum" not in schema:
        return schema
    return {"type": "string", "pattern": f"^({'|'.join(schema['enum'])})$"}
