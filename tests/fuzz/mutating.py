"""Mutating: jobs that somebody could send, made from published ones by changing structure or bytes.

Everything is drawn from one `random.Random`, so that a seed gives the same case again.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from copy import deepcopy
from random import Random
from typing import Any, Final

from tests.api.jobs import DEMO
from tests.fuzz.published import SCHEMAS
from tests.hostile import HOSTILE
from tests.properties.full_jobs import jobs_by_path
from tests.vectors import VECTORS

Place = tuple[Any, Any]

JOBS: Final[list[tuple[str, Any]]] = [
    *jobs_by_path(),
    ("/v1/head-assembly", DEMO),
    *((f"/v1/{vector.kind}", vector.request) for vector in VECTORS),
]
"""What is mutated: every published job, every vector and the full heads."""

JUNK: Final[tuple[Any, ...]] = (None, True, False, 0, -1, 1e300, "", "x", "1", [], [[]], {}, {"": 0}, [None])


def places(value: Any) -> Iterator[Place]:
    """Every place in a JSON value: what holds it, and the name or number it has there."""
    names = list(value) if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else ()
    for name in names:
        yield value, name
        yield from places(value[name])


def _donors() -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {}
    for _, job in JOBS:
        for holder, name in places(job):
            if isinstance(name, str) and holder[name] not in (values := found.setdefault(name, [])):
                values.append(holder[name])
    return found


DONORS: Final = _donors()
"""What stands under each name in any of the jobs."""


def _bounds() -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for schema in SCHEMAS.values():
        for name, one in schema.get("properties", {}).items():
            for kind in [one, *one.get("anyOf", [])]:
                for key, toward in (("minimum", -1), ("maximum", 1), ("exclusiveMinimum", 1), ("exclusiveMaximum", -1)):
                    if key in kind:
                        at = float(kind[key])
                        found.setdefault(name, []).extend([at, math.nextafter(at, toward * math.inf)])
    return found


BOUNDS: Final = _bounds()
"""The least and the most that the schema allows under each name, and what is next to it."""


def structure(rng: Random) -> tuple[str, bytes]:
    """A job with one to six changes, as somebody could make them who writes to the schema, or nearly."""
    path, job = rng.choice(JOBS)
    job = deepcopy(job)
    for _ in range(rng.choice((1, 1, 1, 2, 2, 3, 6))):
        found = list(places(job))
        if found:
            rng.choice(_CHANGES)(rng, *rng.choice(found))
    return path, json.dumps(job, ensure_ascii=rng.random() < 0.5).encode("utf-8", "surrogatepass")


def _number(rng: Random, holder: Any, name: Any) -> None:
    """Another number."""
    old = holder[name]
    if not isinstance(old, int | float) or isinstance(old, bool):
        return
    key = name if isinstance(name, str) else ""
    holder[name] = rng.choice(
        [
            old * rng.uniform(0.9, 1.1),
            old * 10 ** rng.randint(-3, 3),
            math.nextafter(old, rng.choice((-math.inf, math.inf))),
            -old,
            rng.choice(BOUNDS.get(key, [0.0])),
            rng.choice((0, -0.0, 1, 5e-324, 1e-9, 1e9)),
            round(old),
        ]
    )


def _slightly(rng: Random, holder: Any, name: Any) -> None:
    """A reading taken a little otherwise."""
    old = holder[name]
    if isinstance(old, float):
        holder[name] = round(old + rng.uniform(-0.02, 0.02) * abs(old), 4)


def _left_out(_: Random, holder: Any, name: Any) -> None:
    """A field or an item less."""
    del holder[name]


def _added(rng: Random, holder: Any, name: Any) -> None:
    """A field more, of a struct that has those that are there, or an item once more."""
    if isinstance(holder, list):
        if name in range(len(holder)):
            holder.insert(rng.randrange(len(holder) + 1), deepcopy(holder[name]))
        return
    mine = set(holder)
    known = sorted({one for each in SCHEMAS.values() if mine <= set(own := each.get("properties", {})) for one in own})
    fresh = [one for one in known if one not in mine]
    if fresh:
        new = rng.choice(fresh)
        values = [*DONORS.get(new, []), *BOUNDS.get(new, [])]
        holder[new] = deepcopy(rng.choice(values)) if values else deepcopy(rng.choice(JUNK))


def _from_elsewhere(rng: Random, holder: Any, name: Any) -> None:
    """What stands under the same name in another job."""
    if isinstance(name, str) and name in DONORS:
        holder[name] = deepcopy(rng.choice(DONORS[name]))


def _mixed(rng: Random, holder: Any, name: Any) -> None:
    """A list in another order, or many times as long."""
    if isinstance(old := holder[name], list):
        if rng.random() < 0.7:
            rng.shuffle(old)
        else:
            holder[name] = deepcopy(old) * rng.choice((2, 7, 40))


def _named(rng: Random, holder: Any, name: Any) -> None:
    """A name that could break something."""
    if isinstance(holder[name], str):
        holder[name] = rng.choice((*HOSTILE, "", "\x00", "\ud800", "y" * 61))


def _junk(rng: Random, holder: Any, name: Any) -> None:
    """Something else altogether, or under a name that nobody knows."""
    if isinstance(holder, dict) and rng.random() < 0.3:
        holder[rng.choice(("unknown", "", "a/b~c", f"{name}s"))] = holder.pop(name)
    else:
        holder[name] = deepcopy(rng.choice(JUNK))


_CHANGES: Final[tuple[Callable[[Random, Any, Any], None], ...]] = (
    _number, _number, _slightly, _slightly, _slightly, _left_out, _left_out, _added, _added, _from_elsewhere,
    _from_elsewhere, _mixed, _named, _junk,
)  # fmt: skip


def _lists(job: Any) -> list[list[Any]]:
    return [holder[name] for holder, name in places(job) if isinstance(holder[name], list) and holder[name]]


WITH_LISTS: Final = [(path, job) for path, job in JOBS if _lists(job)]


def large(rng: Random) -> tuple[str, bytes]:
    """A job with one to three lists as long as large jobs have them, each item a little other than one there was."""
    path, job = rng.choice(WITH_LISTS)
    job = deepcopy(job)
    for _ in range(rng.choice((1, 1, 2, 3))):
        _grow(rng, rng.choice(_lists(job)))
    return path, json.dumps(job).encode()


def _grow(rng: Random, items: list[Any]) -> None:
    first = tuple(items)
    for place in range(rng.choice((4, 16, 60))):
        item = deepcopy(rng.choice(first))
        if isinstance(item, dict):
            for key, value in item.items():
                if isinstance(value, float):
                    item[key] = value * (1 + place / 1000)
                elif key == "id":
                    item[key] = f"{value} {place}"
        elif isinstance(item, float):
            item *= 1 + place / 1000
        items.append(item)


TOKENS: Final = (
    b"NaN", b"-Infinity", b"1e999", b"-1e-999", b"0" * 400, b"1" * 400, b"1E+2", b"-0", b".5", b"5.", b"01", b"+1",
    b"\xef\xbb\xbf", b"\xff", b"\xc0\x80", b"\xed\xa0\x80", b"\\ud800", b"\\u0000", b'"\\x"', b"'", b"//", b"/**/",
    b",", b",,", b":", b"{", b"}", b"[", b"]", b'"', b"null", b"true", b"tru", b"\x00", b"\x0b", b"\xc2\xa0",
    b"[" * 2000, b'{"a":' * 2000, b'"id":"x","id":"y",', b"\xe2\x80\xa8", b"\r\n", b" " * 1000,
)  # fmt: skip


def spoilt(rng: Random) -> tuple[str, bytes]:
    """A job whose bytes were changed as by a bad line, a bad program or a bad person."""
    path, job = rng.choice(JOBS)
    body = bytearray(json.dumps(job, indent=rng.choice((None, 1))).encode())
    for _ in range(rng.choice((1, 1, 2, 5))):
        at = rng.randrange(len(body) + 1)
        to = min(len(body), at + rng.choice((0, 1, 1, 2, 8, 60)))
        match rng.randrange(6):
            case 0:
                body[at:to] = rng.choice(TOKENS)
            case 1:
                del body[at:to]
            case 2:
                body[at:at] = body[at:to]
            case 3 if at < len(body):
                body[at] ^= 1 << rng.randrange(8)
            case 4 if rng.random() < 0.2:
                del body[at:]
            case _:
                other = json.dumps(rng.choice(JOBS)[1]).encode()
                start = rng.randrange(len(other))
                body[at:to] = other[start : start + rng.choice((1, 5, 40))]
    return path, bytes(body)
