"""Springs: every spring of a job, named once, with what was read on the tester and the press."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.gauges.repeats import RepeatedLength, tallest_where_apart
from headbench.api.gauges.scale import Scale, calibration_of, corrected_mass
from headbench.api.gauges.tester import Tester, tester_faults
from headbench.api.gauges.tester_readings import Run, RunRead, read_run, reading_faults
from headbench.api.springs.dimensions import Coils, DimensionedCurve, Turn, dimension_faults, missing_dimensions, turns
from headbench.api.springs.load_curves import BenchReadings, LoadCurve, RatedCurve, Rating, curve_of
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.positions import repeated_ids
from headbench.api.vocabulary.quantities import Mass, Model, Name, PositiveMass, SignedLength, mean_of
from headbench.calc.coils.coils import DimensionedSpring
from headbench.calc.coils.motion import BEEHIVE_SHARE, BEEHIVE_SHARE_WITHIN, SPRING_SHARE, moving_share
from headbench.calc.gauges.tester import Calibration
from headbench.calc.springs.spring_set import OneSpring, SpringSet, of_load_alone
from headbench.errors import Pointed

_CURVE = Meta(
    description="Load of the spring: tester readings, catalog rating or dimensions; null = not measured.",
    examples=[{"kind": "bench", "readings": [{"height": 1.75, "load": 117}, {"height": 1.25, "load": 264}]}],
)
_BIND = Meta(
    description="Coil-bind height, measured on a tester or press: one reading, or a list of repeats that is averaged; "
    "where they disagree, the tallest counts and is not accepted. Null = not measured.",
    examples=[1.12, [1.12, 1.122]],
)
_MASS = Meta(description="Mass of the whole spring, dead coils too; null = not measured.", examples=[88.2])
_DEAD = Meta(
    description="Dead coils at the ends; null = not given (all coils are taken as working).",
    examples=[{"at_retainer": 1, "at_seat": 1, "total_coils": 6.5}],
)
_SHAPE = Meta(
    description="Shape of a spring without dimensions, for the share of its mass that moves: a third of a cylindrical "
    "one, 0.38 (an estimate) of a beehive.",
    examples=["beehive"],
)

SpringShape = Literal["cylindrical", "beehive"]


class DeadCoils(Model, kw_only=True, frozen=True):
    """Coils at the ends of a spring that lie on each other and do not work."""

    at_retainer: Annotated[
        Turn, Meta(description="Dead coils at the retainer: their whole mass moves.", examples=[1.0])
    ] = 0.0
    at_seat: Annotated[Turn, Meta(description="Dead coils at the spring seat: they stand still.", examples=[1.0])] = 0.0
    total_coils: Annotated[Coils, Meta(description="All coils of the spring, dead ones too.", examples=[6.5])]


class NestedSpring(Model, kw_only=True, frozen=True):
    """A spring inside the outer one, under the same retainer."""

    seat_rise: Annotated[
        SignedLength,
        Meta(
            description="How much higher its seat is than the outer spring's, so how much shorter it stands; "
            "negative = lower.",
            examples=[0.06],
        ),
    ] = 0.0
    load_curve: Annotated[LoadCurve | None, _CURVE] = None
    coil_bind_height: Annotated[RepeatedLength | None, _BIND] = None
    mass: Annotated[PositiveMass | None, _MASS] = None
    dead_coils: Annotated[DeadCoils | None, _DEAD] = None
    spring_shape: Annotated[SpringShape, _SHAPE] = "cylindrical"


class Spring(Model, kw_only=True, frozen=True):
    """One spring, or a set of nested springs under one retainer."""

    id: Annotated[Name, Meta(description="Name of the spring; positions use it.", examples=["S1"])]
    load_curve: Annotated[LoadCurve | None, _CURVE] = None
    coil_bind_height: Annotated[RepeatedLength | None, _BIND] = None
    mass: Annotated[PositiveMass | None, _MASS] = None
    dead_coils: Annotated[DeadCoils | None, _DEAD] = None
    spring_shape: Annotated[SpringShape, _SHAPE] = "cylindrical"
    damper_mass: Annotated[
        Mass,
        Meta(description="Mass of its flat-wire damper, which moves as the spring does; 0 = none.", examples=[9.0]),
    ] = 0.0
    nested: Annotated[
        list[NestedSpring],
        Meta(max_length=2, description="Inner springs, from the outside in.", examples=[[{"mass": 31.5}]]),
    ] = []
    tested_together: Annotated[
        bool,
        Meta(
            description="True: load_curve was tested with the nested springs in place, load of all.", examples=[False]
        ),
    ] = False
    rating: Annotated[
        Rating | None,
        Meta(
            description="Catalog load of the spring, or of the nested set, to compare readings with; null = not given.",
            examples=[{"height": 1.75, "load": 120, "rate": 290}],
        ),
    ] = None


OneSpringRead = Spring | NestedSpring

MOST_SPRINGS: Final = 128
SpringList = Annotated[
    list[Spring],
    Meta(
        max_length=MOST_SPRINGS,
        description="Every spring of the job; positions name theirs by its id.",
        examples=[[{"id": "S1", "coil_bind_height": 1.12}]],
    ),
]

_NAMED_AT_MOST: Final = 8

_FREE: Final = np.array([np.nan])
"""The height of a spring that is not installed yet."""

_NAN: Final = math.nan
_SAME: Final = 1e-9
"""Shares nearer than this are one [-]."""


@dataclass(frozen=True, slots=True)
class SpringsRead:
    """All springs of a job, as far as they were read.

    sets : a set for each spring of the job, nested ones in it, in the order given
    runs : every run of readings of the tester, by its pointer
    """

    sets: Mapping[str, SpringSet]
    runs: Mapping[str, RunRead]

    def at(self, name: str | None) -> SpringSet:
        """What stands where a position names a spring; of one that names none nothing is known."""
        return _NO_SPRING_NAMED if name is None else self.sets[name]


_NO_SPRING_NAMED: Final = SpringSet((of_load_alone(None),), 0.0)


def read_springs(springs: Sequence[Spring], runs: Mapping[str, RunRead], scale: Scale | None = None) -> SpringsRead:
    """Every spring's curve, coil-bind height and mass; `runs` as `read_runs` has them."""
    known = calibration_of(scale)
    return SpringsRead(
        {spring.id: _set_of(spring, f"/springs/{place}", runs, known) for place, spring in enumerate(springs)}, runs
    )


def _set_of(spring: Spring, pointer: str, runs: Mapping[str, RunRead], scale: Calibration | None) -> SpringSet:
    outer = _one_of(spring, pointer, runs, rating_of(spring, spring), scale)
    if not spring.nested:
        return SpringSet((outer,), corrected_mass(spring.damper_mass, scale))
    inner = [
        _one_of(one, f"{pointer}/nested/{place}", runs, None, scale, one.seat_rise, not spring.tested_together)
        for place, one in enumerate(spring.nested)
    ]
    return SpringSet((outer, *inner), corrected_mass(spring.damper_mass, scale))


def _one_of(
    one: OneSpringRead,
    pointer: str,
    runs: Mapping[str, RunRead],
    rating: Rating | None,
    scale: Calibration | None,
    seat_rise: float = 0.0,
    has_own_load: bool = True,  # noqa: FBT001, FBT002 - in the order of OneSpring
) -> OneSpring:
    curve = None if one.load_curve is None else curve_of(one.load_curve, pointer, runs, rating)
    mass = corrected_mass(_NAN if one.mass is None else one.mass, scale)
    share, within = (BEEHIVE_SHARE, BEEHIVE_SHARE_WITHIN) if one.spring_shape == "beehive" else (SPRING_SHARE, 0.0)
    # of a spring that was not weighed nothing can be shared
    if isinstance(curve, DimensionedSpring) and mass >= 0.0:
        share = float(moving_share(curve, _FREE)[0])
    dead = one.dead_coils
    at_retainer, at_seat = (0.0, 0.0) if dead is None else (dead.at_retainer, dead.at_seat)
    coils = 1.0 if dead is None else dead.total_coils
    bind, apart = tallest_where_apart(one.coil_bind_height)
    return OneSpring(
        curve, has_own_load, seat_rise, bind, apart, mass, at_retainer / coils * mass, at_seat / coils * mass,
        share, within,
    )  # fmt: skip


def is_even(springs: SpringSet) -> bool:
    """Whether all springs of a set are cylinders of one pitch, as far as is known."""
    return all(abs(one.moving_share - SPRING_SHARE) < _SAME for one in springs.each)


def share_uncertainty(springs: SpringSet) -> float:
    """Standard uncertainty of the moving mass where a share is an estimate [kg].

    Anything within its bounds is as likely as the rest: bounds over the root of 3 (JCGM 100:2008, 4.3.7).
    """
    within = (one.share_within * one.active_mass for one in springs.each)
    return sum(each for each in within if each > 0.0) / math.sqrt(3.0)


def each_spring(springs: Sequence[Spring]) -> Iterator[tuple[Spring, str, OneSpringRead]]:
    """Every spring and nested spring with the spring it belongs to and its pointer."""
    for place, spring in enumerate(springs):
        yield spring, f"/springs/{place}", spring
        for inner_place, inner in enumerate(spring.nested):
            yield spring, f"/springs/{place}/nested/{inner_place}", inner


def rating_of(spring: Spring, one: OneSpringRead) -> Rating | None:
    """The rating that is one spring's own: a rating of nested springs is that of all of them together."""
    alone = not spring.nested or spring.tested_together
    return spring.rating if one is spring and alone else None


def spring_faults(
    springs: Sequence[Spring], runs: Mapping[str, RunRead], tester: Tester | None = None
) -> Iterator[Pointed]:
    """Statements about springs, and about the tester, that cannot all hold; `runs` as `read_runs` has them."""
    yield from repeated_ids([spring.id for spring in springs], "/springs", "spring")
    for place, spring in enumerate(springs):
        if not spring.tested_together:
            continue
        if not spring.nested:
            yield Pointed(
                f"/springs/{place}/tested_together", "tested_together is set, but no nested spring is entered"
            )
        for inner_place, inner in enumerate(spring.nested):
            if inner.load_curve is not None:
                yield Pointed(
                    f"/springs/{place}/nested/{inner_place}/load_curve",
                    "the springs were tested together; this load would count twice; leave it out",
                )
    for _, pointer, one in each_spring(springs):
        yield from _coil_faults(one, pointer)
    yield from _too_many(springs)
    yield from tester_faults(tester)
    yield from reading_faults(runs.values())


MOST_DIMENSIONED: Final = 64
"""Springs of one job that may be known by their dimensions alone: a pair of nested ones at each of 32 valves."""


def _too_many(springs: Sequence[Spring]) -> Iterator[Pointed]:
    # each takes a hundredth of a second and more to be worked out coil by coil
    pointers = [pointer for _, pointer, one in each_spring(springs) if isinstance(one.load_curve, DimensionedCurve)]
    for pointer in pointers[MOST_DIMENSIONED : MOST_DIMENSIONED + 1]:
        detail = f"at most {MOST_DIMENSIONED} springs of a job may be entered by their dimensions; send the rest apart"
        yield Pointed(f"{pointer}/load_curve", detail)


def _coil_faults(one: OneSpringRead, pointer: str) -> Iterator[Pointed]:
    dead = one.dead_coils
    if dead is not None and dead.at_retainer + dead.at_seat >= dead.total_coils:
        detail = (
            f"{turns(dead.at_retainer + dead.at_seat)} dead coils leave no working coil of "
            f"{turns(dead.total_coils)}; check the counts"
        )
        yield Pointed(f"{pointer}/dead_coils/total_coils", detail)
    if isinstance(one.load_curve, DimensionedCurve):
        if one.spring_shape != "cylindrical":
            yield Pointed(
                f"{pointer}/spring_shape", "load_curve gives the dimensions of this spring; leave spring_shape out"
            )
        yield from dimension_faults(one.load_curve, f"{pointer}/load_curve")


def read_runs(springs: Sequence[Spring], tester: Tester | None = None) -> dict[str, RunRead]:
    """Every run of readings of a tester, first and second, by its pointer.

    Through a calibration that is wrong itself no reading can be judged: there are none then.
    """
    if any(tester_faults(tester)):
        return {}
    return {run.pointer: read_run(run, tester) for run in _runs(springs)}


def _runs(springs: Sequence[Spring]) -> Iterator[Run]:
    for spring, pointer, one in each_spring(springs):
        curve = one.load_curve
        if isinstance(curve, BenchReadings):
            first = Run(
                pointer=f"{pointer}/load_curve/readings",
                spring=spring.id,
                readings=curve.readings,
                coil_bind_height=mean_of(one.coil_bind_height),
                has_rate=rating_of(spring, one) is not None,
                scatters=curve.fit == "line",
            )
            yield first
            if curve.second_run:
                where, again = f"{pointer}/load_curve/second_run", curve.second_run
                yield first._replace(pointer=where, readings=again, is_first=False, scatters=False)


def unknown_springs(names: Sequence[str | None], springs: Sequence[Spring]) -> Iterator[Pointed]:
    """Positions that name a spring which is not there."""
    known = {spring.id for spring in springs}
    for place, name in enumerate(names):
        if name is not None and name not in known:
            some = sorted(known)[:_NAMED_AT_MOST]
            there = ", ".join([*some, "..."] if len(known) > len(some) else some) or "none at all"
            yield Pointed(f"/positions/{place}/spring", f'no spring "{name}" in this job; it has: {there}')


def open_springs(springs: Sequence[Spring], used: set[str], needed_for: Mapping[str, list[str]]) -> Iterator[OpenItem]:
    """What was not read of the springs in use.

    `needed_for` names the fields of the answer that wait for each of `load_curve`, `proof` (a load that is known, but
    was not read on a tester), `coil_bind_height`, `mass` and `each_alone` (what takes a curve of every spring); what
    it does not name is not wanted.
    """
    for spring, pointer, one in each_spring(springs):
        if spring.id in used:
            for field, held, detail in _open_readings(spring, one, set(needed_for)):
                yield OpenItem(
                    pointer=f"{pointer}/{field}",
                    position=None,
                    spring=spring.id,
                    needed_for=needed_for[held],
                    detail=f"{named(spring.id, pointer)}: {detail}",
                )


def _open_readings(spring: Spring, one: OneSpringRead, wanted: set[str]) -> Iterator[tuple[str, str, str]]:
    """What is open of one spring: field, what of `needed_for` waits for it, what to do."""
    curve = one.load_curve
    if "load_curve" in wanted:
        if curve is None and (one is spring or not spring.tested_together):
            yield "load_curve", "load_curve", "test it on the spring tester at two heights or more."
        if isinstance(curve, DimensionedCurve):
            for field, what in missing_dimensions(curve):
                yield f"load_curve/{field}", "load_curve", what
        if isinstance(curve, RatedCurve | DimensionedCurve) and "proof" in wanted:
            known = "only the catalog rating is" if isinstance(curve, RatedCurve) else "only its dimensions are"
            yield "load_curve", "proof", f"{known} known; test it at two heights or more."
    if "coil_bind_height" in wanted and one.coil_bind_height is None:
        yield "coil_bind_height", "coil_bind_height", "measure its coil-bind height (square in the tester, guarded)."
    if "mass" in wanted and one.mass is None:
        yield "mass", "mass", "weigh it."
    if "each_alone" in wanted and isinstance(one, Spring) and one.tested_together:
        yield "tested_together", "each_alone", "test inner and outer separately; surge is figured spring by spring."
