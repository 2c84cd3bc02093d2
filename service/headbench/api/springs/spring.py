"""Springs: every spring of a job, named once, with what was read on the tester and the press."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.gauges.repeats import RepeatedLength, tallest_where_apart
from headbench.api.gauges.scale import Scale, corrected_mass
from headbench.api.gauges.tester import Tester, tester_faults
from headbench.api.gauges.tester_readings import Run, reading_faults
from headbench.api.springs.dimensions import Coils, DimensionedCurve, Turn, dimension_faults, missing_dimensions, turns
from headbench.api.springs.load_curves import BenchReadings, LoadCurve, RatedCurve, Rating, curves_of
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import named
from headbench.api.vocabulary.positions import repeated_ids
from headbench.api.vocabulary.quantities import Columns, Mass, Model, Name, PositiveMass, SignedLength, mean_of
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.coils.motion import BEEHIVE_SHARE, BEEHIVE_SHARE_WITHIN, moving_share, shared_by_mass
from headbench.calc.masses.valve_mass import SPRING_SHARE
from headbench.calc.springs.curves import SpringCurves
from headbench.calc.springs.nested import NO_SPRING, UNKNOWN_CURVE
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


OneSpring = Spring | NestedSpring

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

_ROUNDING: Final = 1e-9

NOT_NAMED: Final = -1
"""Row of a position that names no spring."""

_OUTER = Columns(Spring)
_NESTED = Columns(NestedSpring)


@dataclass(frozen=True, slots=True)
class SpringTable:
    """All springs of a job: a row per spring, the outer one in column 0; one row more for no spring named.

    curves : SpringCurves
    curve, seat_rise, coil_bind_height, bind_doubtful : array (S + 1, K), as calc.head_assembly.Springs has them
    mass : array (S + 1, K), of each spring; NaN not weighed, 0 no such spring [kg]
    retainer_coils, seat_coils : array (S + 1, K), dead coils at either end, part of mass [kg]
    moving_share, share_within : array (S + 1, K), of the active coils, and how far off it may be [-]
    damper_mass : array (S + 1,), 0 where there is none [kg]
    row : each spring's row by its id
    """

    curves: SpringCurves
    curve: IntArray
    seat_rise: FloatArray
    coil_bind_height: FloatArray
    bind_doubtful: BoolArray
    mass: FloatArray
    retainer_coils: FloatArray
    seat_coils: FloatArray
    moving_share: FloatArray
    share_within: FloatArray
    damper_mass: FloatArray
    row: dict[str, int]

    def rows(self, names: Sequence[str | None]) -> IntArray:
        """The rows of the springs that positions name."""
        return np.array([NOT_NAMED if name is None else self.row[name] for name in names], dtype=np.int64)

    @property
    def active_mass(self) -> FloatArray:
        """Mass of each spring's active coils, array (S + 1, K) [kg]."""
        return self.mass - self.retainer_coils - self.seat_coils

    def share_at(self, rows: IntArray) -> FloatArray:
        """Part of the active coils of each position's springs that counts as moving, array (P,) [-]."""
        return shared_by_mass(self.moving_share[rows], self.active_mass[rows])

    def share_uncertainty_at(self, rows: IntArray) -> FloatArray:
        """Standard uncertainty of the moving mass where a share is an estimate, array (P,) [kg].

        Anything within its bounds is as likely as the rest: bounds over the root of 3 (JCGM 100:2008, 4.3.7).
        """
        within = np.nansum(self.share_within[rows] * self.active_mass[rows], axis=1)
        return np.asarray(within / np.sqrt(3.0), dtype=np.float64)

    def is_even_at(self, rows: IntArray) -> BoolArray:
        """Whether all springs of each position are cylinders of one pitch, as far as is known, array (P,) [-]."""
        return np.asarray((np.abs(self.moving_share[rows] - SPRING_SHARE) < _ROUNDING).all(axis=1), dtype=np.bool_)


def spring_table(springs: Sequence[Spring], tester: Tester | None = None, scale: Scale | None = None) -> SpringTable:
    """Every spring's curve, coil-bind heights and mass."""
    most = 1 + max((len(spring.nested) for spring in springs), default=0)
    shape = (len(springs) + 1, most)
    curve = np.full(shape, NO_SPRING, dtype=np.int64)
    seat_rise = np.zeros(shape)
    coil_bind_height, doubtful = np.full(shape, -np.inf), np.zeros(shape, dtype=np.bool_)
    mass = np.zeros(shape)
    retainer_share, seat_share = np.zeros(shape), np.zeros(shape)
    share, within = np.full(shape, SPRING_SHARE), np.zeros(shape)
    curve[:, 0], coil_bind_height[NOT_NAMED, 0], mass[NOT_NAMED, 0] = UNKNOWN_CURVE, np.nan, np.nan

    outer = _OUTER.of(springs)
    pressed = [one.coil_bind_height for one in springs]
    found = tallest_where_apart(pressed, outer["coil_bind_height"])
    (coil_bind_height[:NOT_NAMED, 0], doubtful[:NOT_NAMED, 0]), mass[:NOT_NAMED, 0] = found, outer["mass"]
    nested = [(row, place) for row, spring in enumerate(springs) for place in range(1, 1 + len(spring.nested))]
    if nested:
        where = tuple(np.array(nested).T)
        inside = [one for spring in springs for one in spring.nested]
        inner = _NESTED.of(inside)
        pressed = [one.coil_bind_height for one in inside]
        coil_bind_height[where], doubtful[where] = tallest_where_apart(pressed, inner["coil_bind_height"])
        seat_rise[where] = inner["seat_rise"]
        mass[where] = inner["mass"]
    known: list[tuple[int, int, LoadCurve]] = []
    ratings = []
    for row, spring in enumerate(springs):
        together: tuple[OneSpring, ...] = (spring, *spring.nested)
        for column, one in enumerate(together):
            if one.dead_coils is not None:
                retainer_share[row, column] = one.dead_coils.at_retainer / one.dead_coils.total_coils
                seat_share[row, column] = one.dead_coils.at_seat / one.dead_coils.total_coils
            curve[row, column] = NO_SPRING if column > 0 and spring.tested_together else UNKNOWN_CURVE
            if one.spring_shape == "beehive":
                share[row, column], within[row, column] = BEEHIVE_SHARE, BEEHIVE_SHARE_WITHIN
            if one.load_curve is not None:
                known.append((row, column, one.load_curve))
                ratings.append(rating_of(spring, one))
    curves, places = curves_of([one for *_, one in known], ratings, tester)
    curve[[row for row, *_ in known], [column for _, column, _ in known]] = places
    first = len(curves.fitted.knots)
    # of a spring that was not weighed nothing can be shared
    for row, column in np.argwhere((curve >= first) & ~np.isnan(mass)).tolist():
        share[row, column] = moving_share(curves.dimensioned[curve[row, column] - first], _FREE)[0]
    mass = corrected_mass(mass, scale)
    return SpringTable(
        curves=curves,
        curve=curve,
        seat_rise=seat_rise,
        coil_bind_height=coil_bind_height,
        bind_doubtful=doubtful,
        mass=mass,
        retainer_coils=retainer_share * mass,
        seat_coils=seat_share * mass,
        moving_share=share,
        share_within=within,
        damper_mass=np.append(corrected_mass(outer["damper_mass"], scale), 0.0),
        row={spring.id: row for row, spring in enumerate(springs)},
    )


def each_spring(springs: Sequence[Spring]) -> Iterator[tuple[Spring, str, OneSpring]]:
    """Every spring and nested spring with the spring it belongs to and its pointer."""
    for place, spring in enumerate(springs):
        yield spring, f"/springs/{place}", spring
        for inner_place, inner in enumerate(spring.nested):
            yield spring, f"/springs/{place}/nested/{inner_place}", inner


def rating_of(spring: Spring, one: OneSpring) -> Rating | None:
    """The rating that is one spring's own: a rating of nested springs is that of all of them together."""
    alone = not spring.nested or spring.tested_together
    return spring.rating if one is spring and alone else None


def spring_faults(springs: Sequence[Spring], tester: Tester | None = None) -> Iterator[Pointed]:
    """Statements about springs, and about the tester, that cannot all hold."""
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
    calibration = list(tester_faults(tester))
    yield from calibration
    # through a calibration that is wrong itself, no reading can be judged
    if not calibration:
        yield from reading_faults(tester_runs(springs), tester)


def _coil_faults(one: OneSpring, pointer: str) -> Iterator[Pointed]:
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


def tester_runs(springs: Sequence[Spring]) -> list[Run]:
    """Every run of readings of a tester, first and second."""
    runs = []
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
            runs.append(first)
            if curve.second_run:
                where, again = f"{pointer}/load_curve/second_run", curve.second_run
                runs.append(replace(first, pointer=where, readings=again, is_first=False, scatters=False))
    return runs


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


def _open_readings(spring: Spring, one: OneSpring, wanted: set[str]) -> Iterator[tuple[str, str, str]]:
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
