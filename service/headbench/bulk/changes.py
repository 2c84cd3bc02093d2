"""Changes: what of an answer is otherwise than it was, verdicts and numbers, each with how bad that is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

import msgspec

from headbench.api.vocabulary.checks import VERDICTS
from headbench.bulk.quantities import NO_SHAPE, Shape, Tolerances

What = Literal[
    "damage turned worse",
    "no longer answered",
    "setting turned worse",
    "turned better",
    "answered now",
    "would be shimmed otherwise today",
    "number",
]
WORST_FIRST: Final[tuple[What, ...]] = (
    "damage turned worse",
    "no longer answered",
    "setting turned worse",
    "turned better",
    "answered now",
    "would be shimmed otherwise today",
    "number",
)
"""What a change is, in the order in which they are shown."""

_LEFT_OUT: Final = frozenset(
    {"banks", "verdict_counts", "verdict_with_waivers", "units", "open_items", "notes", "runner_up"}
)
"""What only sums up other parts of an answer, says them in words, or is not how a valve stands (second best shims)."""

NOT_JUDGED: Final = "not judged"


class Change(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One verdict or number that is otherwise than it was.

    line, id, kind : the job
    what : how bad it is
    pointer : where it stands in the answer
    name : its field; of a verdict, that of the check
    position : of which position or spring it is, if it is of one
    was, now : the verdict or the number; null = there was, or is, none
    value_was, value, limit_was, limit : of a check, what was figured and what it is compared with
    unit : of the numbers
    """

    line: int
    id: str | None
    kind: str
    what: What
    pointer: str
    name: str
    was: Any
    now: Any
    position: str | None = None
    value_was: float | None = None
    value: float | None = None
    limit_was: float | None = None
    limit: float | None = None
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """A change, and how bad it is among those of its sort: the verdict it came to, then how far it is off."""

    change: Change
    verdict: int
    amount: float


def has_worsened(was: Any, now: Any) -> bool:
    """Whether a verdict is worse than it was; one that is no longer given is like one of nothing measured."""
    before = VERDICTS.index(was) if was in VERDICTS else 0
    return _severity(now) > before


def _severity(verdict: Any) -> int:
    return VERDICTS.index(verdict if verdict in VERDICTS else "not_measured")


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two answers to one job, being compared."""

    line: int
    id: str | None
    kind: str
    units: Mapping[str, Any]
    tolerances: Tolerances

    def changes(self, was: Any, now: Any, shape: Shape) -> Iterator[Weighed]:
        """Everything that changed."""
        yield from self._changes("", None, was, now, shape)

    def _changes(self, pointer: str, position: str | None, was: Any, now: Any, shape: Shape) -> Iterator[Weighed]:
        if isinstance(was, dict | None) and isinstance(now, dict | None):
            yield from self._of_objects(pointer, position, was or {}, now or {}, shape)
        elif isinstance(was, list) and isinstance(now, list):
            yield from self._of_lists(pointer, position, was, now, shape.item or NO_SHAPE)
        elif _is_number(was) or _is_number(now):
            yield from self._of_numbers(pointer, position, was, now, shape.quantity)

    def _of_objects(
        self, pointer: str, position: str | None, was: dict[str, Any], now: dict[str, Any], shape: Shape
    ) -> Iterator[Weighed]:
        verdict_was, verdict = was.get("verdict"), now.get("verdict")
        is_check = "check_class" in was or "check_class" in now
        has_changed = verdict != verdict_was and (verdict_was, verdict) != (None, "accept")
        if is_check and has_changed:
            yield self._of_check(pointer, position, was, now, shape)
            return
        if _counts_shims(now) or _counts_shims(was):
            size = _shim_size(now or was, self._unit("length"))
            yield from self._of_numbers(
                f"{pointer}/count", position, was.get("count", 0), now.get("count", 0), "count", size
            )
            return
        position = now.get("id") or was.get("id") or position
        told = False
        for name in now | was:
            if name not in _LEFT_OUT and name != "verdict":
                inner = shape.fields.get(name, NO_SHAPE)
                for one in self._changes(f"{pointer}/{name}", position, was.get(name), now.get(name), inner):
                    told = told or one.change.what != "number"
                    yield one
        if not is_check and not told and has_changed:
            # nothing in it says why: it is told by itself
            yield self._of_verdict(pointer, position, verdict_was, verdict, "setting")

    def _of_check(
        self, pointer: str, position: str | None, was: dict[str, Any], now: dict[str, Any], shape: Shape
    ) -> Weighed:
        check_class = (now or was)["check_class"]
        plain = self._of_verdict(pointer, position, was.get("verdict"), now.get("verdict"), check_class)
        value = shape.fields.get("value", NO_SHAPE).quantity
        change = msgspec.structs.replace(
            plain.change,
            value_was=was.get("value"), value=now.get("value"),
            limit_was=was.get("limit"), limit=now.get("limit"),
            unit=self._unit(value),
        )  # fmt: skip
        spare, limit = now.get("to_spare"), now.get("limit")
        return Weighed(change, plain.verdict, -spare / abs(limit) if spare is not None and limit else 0.0)

    def _of_verdict(self, pointer: str, position: str | None, was: Any, now: Any, check_class: str) -> Weighed:
        worse: What = "damage turned worse" if check_class == "damage" else "setting turned worse"
        what = worse if has_worsened(was, now) else "turned better"
        name = pointer.rpartition("/")[2]
        change = Change(
            line=self.line, id=self.id, kind=self.kind, what=what, pointer=pointer, position=position,
            name="verdict" if name.isdecimal() or not name else name, was=was or NOT_JUDGED, now=now or NOT_JUDGED,
        )  # fmt: skip
        return Weighed(change, _severity(now), 0.0)

    def _of_lists(
        self, pointer: str, position: str | None, was: list[Any], now: list[Any], shape: Shape
    ) -> Iterator[Weighed]:
        before = {_key(one, place): one for place, one in enumerate(was)}
        after = {_key(one, place): (place, one) for place, one in enumerate(now)}
        for key, (place, one) in after.items():
            yield from self._changes(f"{pointer}/{place}", position, before.get(key), one, shape)
        for key in before.keys() - after.keys():
            yield from self._changes(f"{pointer}/-", position, before[key], None, shape)

    def shimmed(self, place: int, position: str, was: list[float], now: list[float]) -> Weighed:
        """A position that would be shimmed otherwise today."""
        change = Change(
            line=self.line, id=self.id, kind=self.kind, what="would be shimmed otherwise today",
            pointer=f"/positions/{place}/shims", position=position, name="shims", was=was, now=now,
            unit=self._unit("length"),
        )  # fmt: skip
        return Weighed(change, 0, 0.0)

    def _of_numbers(
        self,
        pointer: str,
        position: str | None,
        was: Any,
        now: Any,
        quantity: str | None,
        named: str | None = None,
    ) -> Iterator[Weighed]:
        if _is_number(was) and _is_number(now):
            times = self.tolerances.apart(quantity, self.units, was, now)
            if times <= 1.0:
                return
        elif was is None or now is None:
            times = 0.0
        else:
            return
        parts = pointer.split("/")
        name = next(part for part in reversed(parts) if not part.isdecimal() and part != "-")
        change = Change(
            line=self.line, id=self.id, kind=self.kind, what="number", pointer=pointer, position=position,
            name=named or (f"{parts[-2]} {name}" if name in {"value", "limit", "to_spare"} else name), was=was, now=now,
            unit=self._unit(quantity),
        )  # fmt: skip
        yield Weighed(change, 0, times)

    def _unit(self, quantity: str | None) -> str | None:
        return None if quantity in {None, "count", "ratio"} else str(self.units.get(str(quantity), quantity))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _counts_shims(one: Mapping[str, Any]) -> bool:
    return "thickness" in one and "count" in one


def _shim_size(one: Mapping[str, Any], unit: str | None) -> str:
    """What the shims of one size are called."""
    return f"{one['thickness']:.3f} {unit} shims" if unit == "in" else f"{one['thickness']:g} {unit} shims"


def _key(one: Any, place: int) -> Any:
    """What an item of a list is known by in another: its id, or the size of shims it counts, else its place."""
    name = one.get("id", one["thickness"] if _counts_shims(one) else None) if isinstance(one, dict) else None
    return place if name is None else str(name)
