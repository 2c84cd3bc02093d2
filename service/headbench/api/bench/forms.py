"""Forms: what a browser sends of a plain form, as the JSON that it stands for."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any, Final
from urllib.parse import parse_qsl

import msgspec

from headbench.errors import Pointed, RefusedRequest

MEDIA_TYPE: Final = "application/x-www-form-urlencoded"
_MOST_FIELDS: Final = 60
_TRUTH: Final = {"true": True, "false": False}
_WHOLE: Final = re.compile(r"\s*[+-]?\d+\s*")

LENGTHS: Final = frozenset(
    {
        "target_height", "measured_height", "deduction", "locator_thickness", "valve_lift", "coil_bind_height",
        "retainer_to_seal", "first_height", "second_height",
    }
)  # fmt: skip
"""Fields in which digits without a point are thousandths of an inch, as the page for the phone takes them."""

Fields = Mapping[str, str]
"""The fields of a form by their names; that of a member of an object has a point: units.length."""


def read_form(raw: bytes) -> Fields:
    """The fields of a form; raises RefusedRequest where it is none."""
    try:
        pairs = parse_qsl(raw.decode(), keep_blank_values=True, errors="strict", max_num_fields=_MOST_FIELDS)
    except ValueError:
        detail = f"Not a form in UTF-8 of at most {_MOST_FIELDS} fields."
        raise RefusedRequest("invalid-request", 400, detail) from None
    fields = dict(pairs)
    if len(fields) < len(pairs):
        names = [name for name, _ in pairs]
        errors = [Pointed(f"/{name}", "entered twice; keep one") for name in fields if names.count(name) > 1]
        raise RefusedRequest("duplicate-key", 400, "A field is entered twice; keep one.", errors=errors[:_MOST_FIELDS])
    return fields


def as_json(fields: Fields) -> bytes:
    """The JSON that a form stands for: a blank is left out, what can be read as a number is one but for names.

    >>> as_json({"valve_lift": "545", "first_load": "118"})
    b'{"valve_lift":0.545,"first_load":118.0}'
    >>> as_json({"job.reference": "17", "id": "1", "valve_lift": " 0,545", "coil_bind_height": ""})
    b'{"job":{"reference":"17"},"id":"1","valve_lift":0.545}'
    """
    job: dict[str, Any] = {}
    in_inches = fields.get("units.length", "in").strip() in {"", "in"}
    for name, text in fields.items():
        if not text.strip():
            continue
        *outer, last = name.split(".", 1)
        holder = job.setdefault(outer[0], {}) if outer else job
        if isinstance(holder, dict):
            if name == "id" or outer == ["job"]:
                holder[last] = text
            elif in_inches and name in LENGTHS and _WHOLE.fullmatch(text):
                holder[last] = int(text) / 1000
            else:
                holder[last] = _value(text)
    return msgspec.json.encode(job)


def _value(text: str) -> Any:
    """A number with point or comma, yes or no, else the text itself, for the decoder to refuse."""
    plain = text.strip()
    if plain in _TRUTH:
        return _TRUTH[plain]
    try:
        number = float(plain.replace(",", "."))
    except ValueError:
        return text
    return number if math.isfinite(number) else text
