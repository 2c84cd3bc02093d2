"""Worked heights: the loads that are to be read nearer to where springs work."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from headbench.api.springs.load_curves import BenchReadings
from headbench.api.springs.spring import Spring, each_spring
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import SPRING_PLACES, named, place_in_set
from headbench.api.vocabulary.saying import say
from headbench.calc.springs.one_curve import LoadCurve
from headbench.calc.springs.spring_set import OneSpring, SpringSet


@dataclass(frozen=True, slots=True)
class Worked:
    """A height that springs work at.

    where: "installed" or "open"; heights: of the outer spring at each position, NaN where no load there is judged [m];
    needed_for: fields of the answer.
    """

    where: str
    heights: Sequence[float]
    needed_for: list[str]


def open_heights(
    ids: Sequence[str],
    names: Sequence[str | None],
    springs: Sequence[Spring],
    sets: Sequence[SpringSet],
    worked: Sequence[Worked],
) -> Iterator[OpenItem]:
    """The loads that are to be read nearer to where springs work, asked for once of every curve that was tested.

    `sets` has the springs of each position.
    """
    far: dict[tuple[str, int], tuple[list[str], list[str]]] = {}
    for at in worked:
        for place, (name, own, height) in enumerate(zip(names, sets, at.heights, strict=True)):
            for column, fitted in enumerate(own.each):
                if name is not None and _is_far(fitted, height - fitted.seat_rise):
                    told, needed_for = far.setdefault((name, column), ([], []))
                    told.append(f"{say(height - fitted.seat_rise, 'length')} ({at.where}, {ids[place]})")
                    needed_for += at.needed_for
    for spring, pointer, one in each_spring(springs) if far else ():
        found = far.get((spring.id, SPRING_PLACES.index(place_in_set(pointer))))
        if found is not None and isinstance(one.load_curve, BenchReadings):
            told, needed_for = found
            yield OpenItem(
                pointer=f"{pointer}/load_curve/readings",
                position=None,
                spring=spring.id,
                needed_for=list(dict.fromkeys(needed_for)),
                detail=f"{named(spring.id, pointer)}: test its load near {', '.join(dict.fromkeys(told))}.",
            )


def _is_far(one: OneSpring, height: float) -> bool:
    curve = one.curve
    return (
        isinstance(curve, LoadCurve)
        and one.has_own_load
        and curve.beyond_readings(height) > 0.0
        and not curve.is_proven(height)
    )
