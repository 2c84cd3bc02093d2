"""The vectors that any client can check itself against, read as shared/vectors/README.md says."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

FOLDER: Final = Path(__file__).parent.parent / "shared" / "vectors"


@dataclass(frozen=True, slots=True)
class Vector:
    """A request, and what is expected of its answer."""

    name: str
    kind: str
    what: str
    source: str
    working: str
    tolerance: dict[str, float]
    request: Any
    answer: dict[str, Any]

    def faults(self, answered: Any) -> list[str]:
        """Where an answer is not as expected."""
        found = {pointer: at(answered, pointer) for pointer in self.answer}
        return [
            f"{pointer}: {found[pointer]!r}, expected {expected!r}"
            for pointer, expected in self.answer.items()
            if not self._is_as(found[pointer], expected)
        ]

    def _is_as(self, found: Any, expected: Any) -> bool:
        if isinstance(expected, list):
            if not isinstance(found, list) or len(found) != len(expected):
                return False
            return all(self._is_as(one, other) for one, other in zip(found, expected, strict=True))
        if isinstance(expected, bool) or not isinstance(expected, int | float):
            return bool(found == expected) and type(found) is type(expected)
        if isinstance(found, bool) or not isinstance(found, int | float):
            return False
        within = max(self.tolerance["absolute"], self.tolerance["relative"] * abs(expected))
        return abs(found - expected) <= within


def at(answer: Any, pointer: str) -> Any:
    """What stands at an RFC 6901 pointer."""
    for part in pointer.removeprefix("/").split("/"):
        answer = answer[int(part)] if isinstance(answer, list) else answer[part]
    return answer


def vectors() -> Iterator[Vector]:
    """All of them."""
    for path in sorted(FOLDER.glob("*/*.json")):
        yield Vector(name=path.stem, kind=path.parent.name, **json.loads(path.read_text()))


VECTORS: Final = list(vectors())
