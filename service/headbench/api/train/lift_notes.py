"""Lift notes: lifts outside what valves usually have, and those to be measured again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

from headbench.api.train.valvetrain import Valvetrain, lift_of
from headbench.api.vocabulary.findings import Note, OpenItem
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import unusual
from headbench.api.vocabulary.quantities import number_of
from headbench.calc.train.lift_slips import lift_is_possible


class HasLift(Protocol):
    """A position that may have a lift of its own."""

    @property
    def id(self) -> str:
        """Its name."""
        ...

    @property
    def valve(self) -> ValveKind:
        """Its kind of valve."""
        ...

    @property
    def valve_lift(self) -> float | None:
        """The lift measured at it [m]."""
        ...


def lift_notes(
    valvetrain: Valvetrain, by_kind: Mapping[ValveKind, float], positions: Sequence[HasLift]
) -> Iterator[Note]:
    """Lifts outside the usual ones: of a kind of valve [m], and those measured at a position itself."""
    for kind in KINDS:
        yield from unusual("valve_lift", [by_kind[kind]], [kind.capitalize()], _pointer(valvetrain, kind))
    ids = [position.id for position in positions]
    yield from unusual("valve_lift", [number_of(one.valve_lift) for one in positions], ids, "/positions/{}/valve_lift")


def open_lift_slips(
    valvetrain: Valvetrain,
    by_kind: Mapping[ValveKind, float],
    positions: Sequence[HasLift],
    needed_for: list[str],
) -> Iterator[OpenItem]:
    """Lifts that no valve has, on which nothing is accepted; `by_kind` is that of each kind of valve [m]."""
    used = {position.valve for position in positions if position.valve_lift is None}
    for kind in KINDS:
        if kind in used and not lift_is_possible(by_kind[kind]):
            yield OpenItem(
                pointer=_pointer(valvetrain, kind),
                position=None,
                spring=None,
                needed_for=needed_for,
                detail=f"Measure the {kind} lift again; a decimal point may have slipped.",
            )
    for place, position in enumerate(positions):
        if position.valve_lift is not None and not lift_is_possible(position.valve_lift):
            yield OpenItem(
                pointer=f"/positions/{place}/valve_lift",
                position=position.id,
                spring=None,
                needed_for=needed_for,
                detail=f"{position.id}: measure its lift again; a decimal point may have slipped.",
            )


def valve_lifts(by_kind: Mapping[ValveKind, float], positions: Sequence[HasLift]) -> list[float]:
    """Every valve's lift [m]: its own, else that of its kind; NaN where neither is known."""
    return [by_kind[one.valve] if one.valve_lift is None else one.valve_lift for one in positions]


def _pointer(valvetrain: Valvetrain, kind: ValveKind) -> str:
    """Where the lift of a kind of valve comes from."""
    lift = lift_of(kind, valvetrain)
    entered = "valve_lift" if lift.valve_lift is not None else "lobe_lift" if lift.lobe_lift is not None else "motion"
    return f"/valvetrain/{kind}/{entered}"
