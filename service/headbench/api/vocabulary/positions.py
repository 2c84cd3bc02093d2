"""Positions: what every request that goes valve by valve has in common."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import Valve, ValveKind
from headbench.api.vocabulary.quantities import Answer, Model, Name
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import USUAL_RANGES, Rule
from headbench.errors import Contradiction, Pointed

MOST_POSITIONS: Final = 128


class PositionModel(Model, kw_only=True, frozen=True):
    """One valve of the head."""

    id: Annotated[Name, Meta(description="Its name, as it is marked on the head.", examples=["1I"])]
    valve: Valve


class PositionAnswer(Answer, kw_only=True, frozen=True):
    """Which valve of the head a line is about."""

    id: Annotated[str, Meta(description="The position.")]
    valve: Valve


def raise_if_any(faults: Iterator[Pointed]) -> None:
    """Refuse a request whose statements contradict each other, naming every contradiction."""
    errors = list(faults)
    if errors:
        raise Contradiction(errors)


_USUAL: Final = {rule.name.removeprefix("usual_"): rule for rule in USUAL_RANGES}
"""What benches usually show, by the reading's field."""


def unusual(field: str, values: Iterable[float], ids: Sequence[str], pointer: str) -> Iterator[Note]:
    """A note for each reading outside what benches usually show; a slip of the unit is the usual reason.

    `pointer` has a pair of braces for the place.
    """
    quantity, (low, high) = _USUAL[field].quantity, _USUAL[field].values
    for place, value in enumerate(values):
        if not (value < low or value > high):
            continue
        shown = say(value, quantity)
        usual = f"{say(low, quantity)} to {say(high, quantity)}"
        detail = (
            f"{ids[place]}: {field.replace('_', ' ')} {shown} is outside the usual {usual}. "
            "Check the reading and the unit."
        )
        yield note("unusual_reading", pointer.format(place), detail)


def measure_again(what: str, reading: float) -> str:
    """What is to be done about a length that cannot be right."""
    return f"measure {what} again; {say(reading, 'length')} can't be right, a decimal point may have slipped."


def open_slips(
    positions: Sequence[PositionModel], field: str, possible: Rule, needed_for: list[str], what: str
) -> Iterator[OpenItem]:
    """An open item for every position whose reading cannot be right; it counts as not taken until then."""
    for place, position in enumerate(positions):
        reading = getattr(position, field)
        if reading is not None and not is_possible(reading, possible):
            yield OpenItem(
                pointer=f"/positions/{place}/{field}",
                position=position.id,
                spring=None,
                needed_for=needed_for,
                detail=f"{position.id}: {measure_again(what, reading)}",
            )


def open_readings(
    positions: Sequence[PositionModel], field: str, needed_for: list[str], what: str, only: ValveKind | None = None
) -> Iterator[OpenItem]:
    """An open item for every position, `only` of one kind of valve or of both, whose reading is missing."""
    for place, position in enumerate(positions):
        if getattr(position, field) is None and only in {None, position.valve}:
            yield OpenItem(
                pointer=f"/positions/{place}/{field}",
                position=position.id,
                spring=None,
                needed_for=needed_for,
                detail=f"{position.id}: {what}",
            )


def repeated_ids(ids: Sequence[str], pointer: str, what: str) -> Iterator[Pointed]:
    """One id, two owners."""
    first: dict[str, int] = {}
    for place, name in enumerate(ids):
        if name in first:
            yield Pointed(
                f"{pointer}/{place}/id",
                f'{what}s {first[name] + 1} and {place + 1} have the same id "{name}"; rename one',
            )
        first.setdefault(name, place)
