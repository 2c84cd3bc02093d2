"""The components of the published schema: msgspec's, put so that every generator of clients takes them.

What is said stays the same; how it is said minds what generators make of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Annotated, Any, Final, get_args, get_origin

import msgspec

from headbench import units
from headbench.api.cylinders.cylinder import RodMaterial
from headbench.api.head.job_notes import CheckName
from headbench.api.head.left_out import EqualPart
from headbench.api.masses.moving_mass import SpringShare
from headbench.api.matching.answers import InTheWay
from headbench.api.springs.spring import SpringShape
from headbench.api.train.motions import Profile, Turning
from headbench.api.train.valvetrain import Drive
from headbench.api.vocabulary.checks import Rule, VerdictName
from headbench.api.vocabulary.names import SpringPlace, ValveKind
from headbench.api.vocabulary.targets import OffTarget
from headbench.api.waiting.lines import Readiness
from headbench.calc.judging.limits import CheckClass
from headbench.calc.matching.choices import Goal

Json = dict[str, Any]

CHOICES: Final[Mapping[str, tuple[Any, str]]] = {
    "AngleOf": (Turning, "The shaft whose degrees angles are."),
    "CheckClass": (CheckClass, "damage: what breaks parts. setting: what can be set again."),
    "CheckName": (CheckName, "A check of a position, by the field that holds it."),
    "CheckRule": (Rule, "How a value is compared with its limit."),
    "EqualPart": (EqualPart, "A part that a scale weighs at each valve."),
    "Drive": (Drive, "What stands between lobe and valve."),
    "ForceUnit": (units.ForceUnit, "Units of force."),
    "EqualizedLoads": (Goal, "Which loads springs are matched by."),
    "InTheWay": (InTheWay, "What keeps a load from the one wanted, or a position empty."),
    "LengthUnit": (units.LengthUnit, "Units of length."),
    "MassUnit": (units.MassUnit, "Units of mass."),
    "NestedPlace": (SpringPlace, "Which of the nested springs."),
    "OffTarget": (OffTarget, "What a setting off its target comes to."),
    "PressureUnit": (units.PressureUnit, "Units of gauge pressure."),
    "Profile": (Profile, "Textbook rises that stand in for a lobe nobody degreed."),
    "Readiness": (Readiness, "Whether something can be done today."),
    "RodMaterial": (RodMaterial, "What the connecting rods are made of."),
    "SpringShape": (SpringShape, "Shape of a spring without dimensions."),
    "SpringShare": (SpringShare, "How the moving part of a spring is figured."),
    "StressUnit": (units.StressUnit, "Units of stress."),
    "ValveKind": (ValveKind, "Kinds of valve."),
    "Verdict": (VerdictName, "What a check comes to."),
    "VolumeUnit": (units.VolumeUnit, "Units of volume."),
}
"""Choices that are components of their own, so that a client has one type for each: name -> (type, what it is)."""

_NAMES_FIRST: Final = ("id", "valve")
"""What names a row stands first in it, also where a struct inherits other fields."""


def components(structs: Iterable[Any], jobs: Iterable[tuple[str, Any]] = ()) -> dict[str, Any]:
    """The schema of each struct and of all it is made of, by name.

    `jobs` are the requests that operations show, each with the name of its component: a field without an example
    of its own shows what stands there in the first of them that has it.
    """
    _, found = msgspec.json.schema_components(list(structs), ref_template="#/components/schemas/{name}")
    made = {name: _component(schema) for name, schema in found.items()}
    named = {name: _choice(name, *choice) for name, choice in CHOICES.items()}
    used = {reference for schema in made.values() for reference in _references(schema)}
    made |= {name: schema for name, schema in named.items() if name in used}
    for schema in made.values():
        for name, field in schema.get("properties", {}).items():
            schema["properties"][name] = _with_description(field, made)
    _show(jobs, made)
    return dict(sorted(made.items()))


def _component(schema: Json) -> Any:
    properties = schema.get("properties", {})
    first = [name for name in _NAMES_FIRST if name in properties] if "id" in properties else []
    order = list(dict.fromkeys([*first, *properties]))
    # what is sent refuses unknown fields; of what is answered every field is always there
    sent = schema.get("additionalProperties") is False
    required = schema.get("required", []) if sent else order
    fields = {name: _property(properties[name], name, may_be_left_out=name not in required) for name in order}
    return _cleaned({**schema, "properties": fields, "required": required})


def _property(schema: Json, name: str, *, may_be_left_out: bool) -> Json:
    field = _with_named_choices(schema, name)
    default = field.pop("default", None)
    if not may_be_left_out:
        return field
    field = _or_null(field, name)
    # an object, a list or null as a default says no more than that the field may be left out
    if default is None or isinstance(default, dict | list):
        return field
    # under a name of its own: `default` makes one generator demand the field and another wrap it in a class
    return {**_with_default_told(field, default), "x-default": default}


def _with_default_told(field: Json, default: Any) -> Json:
    """A field whose description says what is taken where it is left out."""
    told = field.get("description", "")
    if "efault" in told:
        return field
    shown = str(default).lower() if isinstance(default, bool) else f"{default:g}" if _is_number(default) else default
    return {**field, "description": f"{told} Default: {shown}.".strip()}


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float)


_ABOUT_THE_FIELD: Final = ("title", "description", "examples")


def _or_null(schema: Json, name: str) -> Json:
    """A field that may be left out: null says the same, and is taken by `headbench.api.exchange.decoding`."""
    if {"type": "null"} in schema.get("anyOf", []):
        return schema
    about = {key: value for key, value in schema.items() if key in _ABOUT_THE_FIELD}
    kind = {key: value for key, value in schema.items() if key not in _ABOUT_THE_FIELD}
    if "enum" in kind:
        kind["title"] = name
    kinds = kind["anyOf"] if kind.keys() == {"anyOf"} else [kind]
    return {**about, "anyOf": [*kinds, {"type": "null"}]}


def _values(choice: Any) -> tuple[Any, ...]:
    """The values of a Literal, in their order."""
    return _values(get_args(choice)[0]) if get_origin(choice) is Annotated else get_args(choice)


_NAMES: Final = {frozenset(_values(choice)): name for name, (choice, _) in CHOICES.items()}


def _choice(name: str, choice: Any, description: str) -> Json:
    return {"title": name, "description": description, "type": "string", "enum": list(_values(choice))}


def _with_named_choices(schema: Json, name: str) -> Json:
    """A property whose choices are a component, or else are called after it and not after their place."""
    if "enum" in schema and (component := _NAMES.get(frozenset(schema["enum"]))):
        rest = {key: value for key, value in schema.items() if key not in {"enum", "type"}}
        return {**rest, "$ref": f"#/components/schemas/{component}"}
    if "items" in schema:
        return {**schema, "items": _with_named_choices(schema["items"], name)}
    if "anyOf" not in schema:
        return dict(schema)
    kinds = [_with_named_choices(kind, name) for kind in schema["anyOf"]]
    return {**schema, "anyOf": [{**kind, "title": name} if "enum" in kind else kind for kind in kinds]}


def _cleaned(schema: Any) -> Any:
    """What msgspec leaves to wish for: types of choices, a constant where there is one, docstrings on one line."""
    if isinstance(schema, list):
        return [_cleaned(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    cleaned = {key: _cleaned(value) for key, value in schema.items()}
    choices = cleaned.get("enum", [])
    if choices and all(isinstance(value, str | int) for value in choices):
        cleaned["type"] = "string" if isinstance(choices[0], str) else "integer"
        if len(choices) == 1:
            cleaned["const"] = cleaned.pop("enum")[0]
            cleaned.setdefault("description", f'Always "{cleaned["const"]}".')
    if isinstance(cleaned.get("description"), str):
        cleaned["description"] = re.sub(r"\s+", " ", cleaned["description"])
    if isinstance(cleaned.get("pattern"), str):
        cleaned["pattern"] = _portable(cleaned["pattern"])
    return cleaned


def _portable(pattern: str) -> str:
    r"""A pattern as every engine of regular expressions reads it.

    Python's `$` lets a trailing newline pass, so that the types look ahead for one; elsewhere `$` is the end, and
    RE2 and what descends from it know neither looking ahead nor `\u`.

    >>> _portable(r"^[^\u0000-\u001f]+$(?!\n)")
    '^[^\\x00-\\x1f]+$'
    """
    plain = re.sub(r"\\u00([0-9a-f]{2})", r"\\x\1", pattern.removesuffix(r"(?!\n)"))
    return re.sub(r"\\u([0-9a-f]{4})", lambda found: chr(int(found[1], 16)), plain)


def _with_description(schema: Json, made: Json) -> Json:
    """A property that holds one kind of object, or a list of them, is described as that is, if not by itself."""
    references = list(_own_references(schema))
    if "description" in schema or len(references) != 1:
        return schema
    return {"description": made[references[0]]["description"], **schema}


def _own_references(schema: Json) -> Iterable[str]:
    """The components that a field holds, itself or in a list."""
    if "$ref" in schema:
        yield schema["$ref"].rsplit("/")[-1]
    for kind in [*schema.get("anyOf", []), *([schema["items"]] if "items" in schema else [])]:
        yield from _own_references(kind)


def _references(component: Json) -> Iterable[str]:
    for field in component.get("properties", {}).values():
        yield from _own_references(field)


def _show(jobs: Iterable[tuple[str, Any]], made: Json) -> None:
    """Give the fields of what is sent that show no example what stands there in a job, or in their like elsewhere."""
    shown: dict[tuple[str, str], Any] = {}
    for name, job in jobs:
        _look(job, {"$ref": f"#/components/schemas/{name}"}, made, shown)
    alike: dict[tuple[str, str], Any] = {}
    for (name, field), value in shown.items():
        schema = made[name]["properties"][field]
        if "const" not in schema and value not in ({}, []):
            schema.setdefault("examples", [value])
            for reference in _own_references(schema):
                alike.setdefault((field, reference), value)
    for schema in made.values():
        for field, one in schema.get("properties", {}).items():
            found = [alike[key] for key in ((field, reference) for reference in _own_references(one)) if key in alike]
            if found and schema.get("additionalProperties") is False:
                one.setdefault("examples", found[:1])


def _look(value: Any, schema: Json, made: Json, shown: dict[tuple[str, str], Any]) -> Any:
    """Note what a job has in each field, and give it back with its lists of objects as short as they may be."""
    if isinstance(value, list):
        own: Json = next((kind for kind in [schema, *schema.get("anyOf", [])] if "items" in kind), {"items": {}})
        items = [_look(item, own["items"], made, shown) for item in value]
        return items[: max(own.get("minItems", 1), 1)] if all(isinstance(item, dict) for item in items) else items
    if not isinstance(value, dict):
        return value
    name = next(name for name in _own_references(schema) if _is_of(value, made[name]))
    properties = made[name]["properties"]
    short = {field: _look(member, properties[field], made, shown) for field, member in value.items()}
    for field, member in short.items():
        shown.setdefault((name, field), member)
    return short


def _is_of(value: Json, component: Json) -> bool:
    """Whether an object has the tag of a component, if that has one."""
    tags = {name: field["const"] for name, field in component.get("properties", {}).items() if "const" in field}
    return all(value.get(name) == tag for name, tag in tags.items())
