"""Springs: every spring of a job, named once, with what was read on the tester and the press."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.findings import OpenItem
from headbench.api.quantities import (
    Columns,
    Force,
    Model,
    Name,
    PositiveForce,
    PositiveLength,
    PositiveMass,
    PositiveRate,
    SignedLength,
    say,
)
from headbench.calc import FloatArray, IntArray
from headbench.calc.load_curves import from_rating, joined, unknown_curves
from headbench.calc.nested_springs import NO_SPRING, UNKNOWN_CURVE
from headbench.calc.spring_curves import SpringCurves
from headbench.calc.spring_load import find_reading_faults
from headbench.calc.spring_readings import from_readings
from headbench.errors import Pointed
from headbench.units import Scales


class Reading(Model, kw_only=True, frozen=True):
    """One reading of the tester."""

    height: Annotated[PositiveLength, Meta(description="Height of the spring on the tester.")]
    load: Annotated[Force, Meta(description="Load it shows there.")]


class Rating(Model, kw_only=True, frozen=True):
    """What a data sheet prints: one load at one height, and a rate."""

    height: Annotated[PositiveLength, Meta(description="Height of the printed load.")]
    load: Annotated[PositiveForce, Meta(description="The printed load.")]
    rate: Annotated[PositiveRate, Meta(description="The printed rate, force per length.")]


class BenchReadings(Model, tag_field="kind", tag="bench", kw_only=True, frozen=True):
    """Readings of the tester: two make a line, more a shape-preserving curve through all of them."""

    readings: Annotated[
        list[Reading],
        Meta(
            min_length=2,
            max_length=40,
            description="In any order; the load must rise as the height falls.",
            examples=[[{"height": 1.75, "load": 117.0}, {"height": 1.25, "load": 264.0}]],
        ),
    ]


class RatedCurve(Rating, tag_field="kind", tag="rated", kw_only=True, frozen=True):
    """The data sheet's straight line. It is no proof: a check on such a load stays not_measured."""


LoadCurve = BenchReadings | RatedCurve

_CURVE = Meta(description="How its load is known; null: not yet.")
_BIND = Meta(description="Height at which its own coils touch, read on a press or tester; null: not yet read.")
_MASS = Meta(description="What it weighs; null: not weighed.")


class NestedSpring(Model, kw_only=True, frozen=True):
    """A spring inside the outer one, under the same retainer."""

    seat_step: Annotated[SignedLength, Meta(description="How much shorter it stands than the outer spring.")] = 0.0
    load_curve: Annotated[LoadCurve | None, _CURVE] = None
    coil_bind_height: Annotated[PositiveLength | None, _BIND] = None
    mass: Annotated[PositiveMass | None, _MASS] = None


class Spring(Model, kw_only=True, frozen=True):
    """A spring, with the springs nested in it if it has any."""

    id: Annotated[Name, Meta(description="Its name; positions refer to it.")]
    load_curve: Annotated[LoadCurve | None, _CURVE] = None
    coil_bind_height: Annotated[PositiveLength | None, _BIND] = None
    mass: Annotated[PositiveMass | None, _MASS] = None
    nested: Annotated[list[NestedSpring], Meta(max_length=2, description="The inner springs, if there are any.")] = []
    tested_together: Annotated[
        bool, Meta(description="True: load_curve was read with the nested springs in place and is the load of all.")
    ] = False
    rating: Annotated[Rating | None, Meta(description="The data sheet's load, to compare readings with.")] = None


OneSpring = Spring | NestedSpring

MOST_SPRINGS: Final = 128
SpringList = Annotated[
    list[Spring],
    Meta(max_length=MOST_SPRINGS, description="Every spring of the job, named once; positions share them."),
]

NOT_NAMED: Final = -1
"""Row of a position that names no spring."""

_READING = Columns(Reading)
_RATING = Columns(Rating)
_RATED = Columns(RatedCurve)
_OUTER = Columns(Spring)
_NESTED = Columns(NestedSpring)


@dataclass(frozen=True, slots=True)
class SpringTable:
    """All springs of a job in SI: a row per spring, the outer one in column 0; one row more for no spring named.

    curves : SpringCurves
    curve, seat_step, coil_bind_height : array (S + 1, K), as calc.head_assembly.Springs has them
    mass : array (S + 1,), of all its springs; NaN unless each was weighed [kg]
    row : each spring's row by its id
    """

    curves: SpringCurves
    curve: IntArray
    seat_step: FloatArray
    coil_bind_height: FloatArray
    mass: FloatArray
    row: dict[str, int]

    def rows(self, names: Sequence[str | None]) -> IntArray:
        """The rows of the springs that positions name."""
        return np.array([NOT_NAMED if name is None else self.row[name] for name in names], dtype=np.int64)


def springs_to_si(springs: Sequence[Spring], scales: Scales) -> SpringTable:
    """Every spring's curve, coil-bind heights and mass."""
    most = 1 + max((len(spring.nested) for spring in springs), default=0)
    shape = (len(springs) + 1, most)
    curve = np.full(shape, NO_SPRING, dtype=np.int64)
    seat_step = np.zeros(shape)
    coil_bind_height = np.full(shape, -np.inf)
    mass = np.zeros(shape)
    curve[:, 0], coil_bind_height[NOT_NAMED, 0], mass[NOT_NAMED, 0] = UNKNOWN_CURVE, np.nan, np.nan

    outer = _OUTER.to_si(springs, scales)
    coil_bind_height[:NOT_NAMED, 0], mass[:NOT_NAMED, 0] = outer["coil_bind_height"], outer["mass"]
    nested = [(row, place) for row, spring in enumerate(springs) for place in range(1, 1 + len(spring.nested))]
    if nested:
        where = tuple(np.array(nested).T)
        inner = _NESTED.to_si([one for spring in springs for one in spring.nested], scales)
        seat_step[where], coil_bind_height[where] = inner["seat_step"], inner["coil_bind_height"]
        mass[where] = inner["mass"]
    curves = _curves_to_si(springs, curve, scales)
    return SpringTable(
        curves=curves,
        curve=curve,
        seat_step=seat_step,
        coil_bind_height=coil_bind_height,
        mass=mass.sum(axis=1),
        row={spring.id: row for row, spring in enumerate(springs)},
    )


def _curves_to_si(springs: Sequence[Spring], curve: IntArray, scales: Scales) -> SpringCurves:
    """The curves of all springs; writes each one's place into `curve`."""
    bench: list[BenchReadings] = []
    rated: list[RatedCurve] = []
    places: list[tuple[int, int, bool]] = []
    for row, spring in enumerate(springs):
        together: tuple[OneSpring, ...] = (spring, *spring.nested)
        for column, one in enumerate(together):
            match one.load_curve:
                case BenchReadings() as read:
                    places.append((row, column, True))
                    bench.append(read)
                case RatedCurve() as printed:
                    places.append((row, column, False))
                    rated.append(printed)
                case None:
                    covered = column > 0 and spring.tested_together
                    curve[row, column] = NO_SPRING if covered else UNKNOWN_CURVE
    bench_place, rated_place = 0, len(bench)
    for row, column, is_bench in places:
        if is_bench:
            curve[row, column], bench_place = bench_place, bench_place + 1
        else:
            curve[row, column], rated_place = rated_place, rated_place + 1
    curves = []
    if bench:
        owner, columns = _readings_to_si(bench, scales)
        curves.append(from_readings(owner, columns["height"], columns["load"]))
    if rated:
        curves.append(from_rating(**_RATED.to_si(rated, scales)))
    return SpringCurves(joined(curves or [unknown_curves()]))


def _readings_to_si(bench: Sequence[BenchReadings], scales: Scales) -> tuple[IntArray, dict[str, FloatArray]]:
    owner = np.repeat(np.arange(len(bench)), [len(one.readings) for one in bench])
    return owner, _READING.to_si([reading for one in bench for reading in one.readings], scales)


def each_spring(springs: Sequence[Spring]) -> Iterator[tuple[Spring, str, OneSpring]]:
    """Every spring and nested spring with the spring it belongs to and its pointer."""
    for place, spring in enumerate(springs):
        yield spring, f"/springs/{place}", spring
        for inner_place, inner in enumerate(spring.nested):
            yield spring, f"/springs/{place}/nested/{inner_place}", inner


def spring_faults(springs: Sequence[Spring], scales: Scales) -> Iterator[Pointed]:
    """Statements about springs that cannot all hold."""
    yield from repeated_ids([spring.id for spring in springs], "/springs", "spring")
    for place, spring in enumerate(springs):
        if not spring.tested_together:
            continue
        if not spring.nested:
            yield Pointed(f"/springs/{place}/tested_together", "tested together with what? no nested spring is given")
        for inner_place, inner in enumerate(spring.nested):
            if inner.load_curve is not None:
                yield Pointed(
                    f"/springs/{place}/nested/{inner_place}/load_curve",
                    "the springs were tested together, so this load would count twice",
                )
    read = [
        (pointer, one, one.load_curve)
        for _, pointer, one in each_spring(springs)
        if isinstance(one.load_curve, BenchReadings)
    ]
    if read:
        yield from _reading_faults(read, scales)


def _reading_faults(read: Sequence[tuple[str, OneSpring, BenchReadings]], scales: Scales) -> Iterator[Pointed]:
    owner, columns = _readings_to_si([curve for *_, curve in read], scales)
    height, load = columns["height"], columns["load"]
    starts = list(accumulate((len(curve.readings) for *_, curve in read), initial=0))

    def place(reading: int) -> tuple[str, int]:
        spring = int(owner[reading])
        return f"{read[spring][0]}/load_curve/readings", reading - starts[spring]

    def shown(array: FloatArray, quantity: str, reading: int) -> str:
        return say(float(array[reading]), quantity, scales)

    def span(array: FloatArray, quantity: str, first: int, second: int) -> str:
        return f"{shown(array, quantity, first).split()[0]} to {shown(array, quantity, second)}"

    for fault, first, second in find_reading_faults(owner, height, load):
        pointer, one = place(first)
        _, other = place(second)
        heights = span(height, "length", first, second)
        loads = shown(load, "force", first), shown(load, "force", second)
        both = f"readings {one + 1} and {other + 1}"
        match fault:
            case "falls":
                fall = span(load, "force", first, second)
                detail = f"{both}: load falls from {fall} as the spring is compressed from {heights}"
            case "flat":
                detail = f"{both}: load stays at {loads[0]} while the spring is compressed from {heights}"
            case "repeats":
                detail = f"{both}: {loads[0]} and {loads[1]} at one height, {shown(height, 'length', first)}"
            case "too few":
                yield Pointed(
                    pointer,
                    f"all readings are at {shown(height, 'length', first)}; a curve needs two different heights",
                )
                continue
        yield Pointed(f"{pointer}/{other}", detail)

    bind = np.array([one.coil_bind_height for _, one, _ in read], dtype=np.float64) * scales["length"].factor
    for reading in np.flatnonzero(height < bind[owner] - 1e-9).tolist():
        pointer, one = place(reading)
        detail = (
            f"reading {one + 1} was taken at {shown(height, 'length', reading)}, below the coil-bind height of "
            f"{say(float(bind[owner[reading]]), 'length', scales)}: the spring cannot be that short"
        )
        yield Pointed(f"{pointer}/{one}/height", detail)


def repeated_ids(ids: Sequence[str], pointer: str, what: str) -> Iterator[Pointed]:
    """One id, two owners."""
    first: dict[str, int] = {}
    for place, name in enumerate(ids):
        if name in first:
            yield Pointed(
                f"{pointer}/{place}/id", f"{what}s {first[name] + 1} and {place + 1} both have the id {name!r}"
            )
        first.setdefault(name, place)


def unknown_springs(names: Sequence[str | None], springs: Sequence[Spring]) -> Iterator[Pointed]:
    """Positions that name a spring which is not there."""
    known = {spring.id for spring in springs}
    for place, name in enumerate(names):
        if name is not None and name not in known:
            there = ", ".join(sorted(known)) or "none at all"
            yield Pointed(f"/positions/{place}/spring", f"there is no spring {name!r}; there are: {there}")


def open_springs(
    springs: Sequence[Spring], used: set[str], wanted: Sequence[str], holds_back: dict[str, list[str]]
) -> Iterator[OpenItem]:
    """What was not read of the springs in use: `wanted` out of load_curve, coil_bind_height, mass."""
    say_what = {
        "load_curve": "Read its load on the tester, at two heights at least.",
        "coil_bind_height": "Read the height at which its coils touch.",
        "mass": "Weigh it.",
    }
    for spring, pointer, one in each_spring(springs):
        if spring.id not in used:
            continue
        which = (
            f"Spring {spring.id}" if one is spring else f"Spring {spring.id}, nested spring {pointer.rsplit('/')[-1]}"
        )
        for reading in wanted:
            value = getattr(one, reading)
            covered = reading == "load_curve" and one is not spring and spring.tested_together
            if isinstance(value, RatedCurve):
                detail = f"{which}: known by its rating only. Read its load on the tester, at two heights at least."
            elif value is None and not covered:
                detail = f"{which}: {say_what[reading]}"
            else:
                continue
            yield OpenItem(
                pointer=f"{pointer}/{reading}",
                position=None,
                spring=spring.id,
                holds_back=holds_back[reading],
                detail=detail,
            )
