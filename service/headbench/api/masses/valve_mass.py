"""POST /v1/valve-mass: what everything that moves with the valves weighs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Final

import msgspec
import numpy as np
from msgspec import Meta

from headbench.api.exchange.resource import Resource
from headbench.api.gauges.calibrated import scale_notes
from headbench.api.gauges.scale import ScaleUsed, on_scale, open_weighings, scale_faults
from headbench.api.masses.answers import (
    MassLine,
    MassNumbers,
    MassSpreads,
    MassSpreadsByKind,
    MassToRemove,
    MassTotal,
    MassTotals,
    RepeatLine,
    RepeatNumbers,
    ValveMassAnswer,
)
from headbench.api.masses.drives import drive_faults
from headbench.api.masses.moving_mass import (
    PARTS,
    Masses,
    SpringShare,
    Weighed,
    by_part,
    coverage_notes,
    heavy_spring_notes,
    open_masses,
    open_ratios,
    repeat_notes,
    weighed_parts,
)
from headbench.api.springs.notes import share_notes
from headbench.api.springs.spring import SpringList, open_springs, spring_faults, spring_table, unknown_springs
from headbench.api.train.valvetrain import ValvetrainParts
from headbench.api.vocabulary.findings import Note, cautions_for, merged, note
from headbench.api.vocabulary.names import KINDS, WHICH_SPRING, SpringName, ValveKind
from headbench.api.vocabulary.positions import (
    MOST_POSITIONS,
    PositionModel,
    open_readings,
    raise_if_any,
    repeated_ids,
    unusual,
)
from headbench.api.vocabulary.quantities import Columns, Model, Units, units_used
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.spreads import MassSpread, spread_rows
from headbench.calc import FloatArray
from headbench.calc.gauges.scale_readings import mass_to_remove
from headbench.calc.judging.spread import ODD_ABOVE, odd_ones_out
from headbench.calc.masses.valve_mass import WeighedParts, moving_mass_by_part
from headbench.errors import Pointed


class MassReadings(PositionModel, kw_only=True, frozen=True):
    """The parts of one valve on the scale, and the spring over them."""

    masses: Annotated[Masses, Meta(description="What the scale shows for its parts.")] = Masses()
    spring: SpringName = None


class ValveMassRequest(Model, kw_only=True, frozen=True):
    """Everything that was weighed."""

    units: Units = Units()
    scale: ScaleUsed = None
    valvetrain: Annotated[ValvetrainParts, Meta(description="What moves between lobe and valve, by kind of valve.")] = (
        ValvetrainParts()
    )
    spring_share: SpringShare = "third"
    springs: SpringList = []
    positions: Annotated[list[MassReadings], Meta(min_length=1, max_length=MOST_POSITIONS, description="The valves.")]


_NUMBERS = Columns(MassNumbers)
_TOTAL = Columns(MassTotal)
_REMOVE = Columns(MassToRemove)
_REPEAT = Columns(RepeatNumbers)
_MOVING: Final = ["moving_mass", "lifter_side_mass", "moving_mass_by_part"]
_JUDGED: Final = PARTS | {"pushrod": "pushrod", "lifter": "lifter"}


def mass_totals(parts: WeighedParts, valves: Sequence[ValveKind]) -> MassTotals:
    """Totals by kind, over what was weighed."""
    kinds = np.array(valves)
    columns = {name: getattr(parts, name) for name in _TOTAL.names} | {"springs": parts.springs + parts.dampers}
    table = np.nan_to_num(np.stack(list(columns.values())))
    weighed = ~np.isnan(parts.valve + parts.retainer + parts.locks)
    totals: dict[str, MassTotal | None] = {}
    for kind in KINDS:
        own = kinds == kind
        count = int(own.sum())
        sums = dict(zip(columns, table[:, own].sum(axis=1)[:, np.newaxis], strict=True))
        row = _TOTAL.rows(sums)[0]
        totals[kind] = MassTotal(position_count=count, weighed_count=int(weighed[own].sum()), **row) if count else None
    return MassTotals(**totals)


def mass_notes(weighed: Weighed, valves: Sequence[ValveKind], ids: Sequence[str]) -> Iterator[Note]:
    """Parts that do not belong to their set, and masses no bench shows."""
    yield from repeat_notes(weighed, ids)
    kinds = np.array(valves)
    for part, name in _JUDGED.items():
        column: FloatArray = getattr(weighed.parts, part)
        if part in weighed.not_given:
            column = np.where(weighed.not_given[part], np.nan, column)
        # what the valve train gives for all alike cannot be odd
        known = column[~np.isnan(column)]
        if part not in PARTS and (known == known[:1]).all():
            continue
        for kind in KINDS:
            own = np.flatnonzero(kinds == kind)
            for place in own[odd_ones_out(column[own], weighed.steps[part])].tolist():
                mass = say(float(column[place]), "mass")
                middle = say(float(np.nanmedian(column[own])), "mass")
                detail = (
                    f"{ids[place]}: {name} weighs {mass}, {kind} median {middle}. Outlier (modified z-score over "
                    f"{ODD_ABOVE:g}): check part and reading."
                )
                yield note("odd_one_out", f"/positions/{place}/masses/{part}", detail)
        if part in PARTS:
            yield from unusual(part, column, ids, f"/positions/{{}}/masses/{part}")


def _spreads(numbers: Mapping[str, FloatArray], valves: Sequence[ValveKind], ids: Sequence[str]) -> MassSpreadsByKind:
    fields = tuple(field.name for field in msgspec.structs.fields(MassSpreads))
    # what no position has, nothing can be said of
    given = {field: np.where(numbers[field] == 0.0, np.nan, numbers[field]) for field in fields}
    kinds = np.array(valves)
    spreads: dict[str, MassSpreads | None] = {}
    for kind in KINDS:
        own = np.flatnonzero(kinds == kind)
        values = np.stack([given[field][own] for field in fields])
        rows = spread_rows(values, [ids[place] for place in own.tolist()])
        by_field = {field: MassSpread(**row) for field, row in zip(fields, rows, strict=True)}
        spreads[kind] = MassSpreads(**by_field) if len(own) else None
    return MassSpreadsByKind(**spreads)


def _to_remove(parts: WeighedParts, moving: FloatArray, valves: Sequence[ValveKind]) -> list[MassToRemove]:
    kinds = np.array([KINDS.index(valve) for valve in valves])
    columns = {part: mass_to_remove(getattr(parts, part), kinds) for part in PARTS}
    columns["moving_mass"] = mass_to_remove(moving, kinds)
    return [MassToRemove(**row) for row in _REMOVE.rows(columns)]


def _repeats(weighed: Weighed, count: int) -> list[list[RepeatLine]]:
    lines: list[list[RepeatLine]] = [[] for _ in range(count)]
    for part, averaged in weighed.repeats.items():
        again = np.flatnonzero(averaged.count > 1)
        columns = {name: getattr(averaged, name)[again] for name in _REPEAT.names}
        counts = averaged.count[again].tolist()
        for place, times, row in zip(again.tolist(), counts, _REPEAT.rows(columns), strict=True):
            lines[place].append(RepeatLine(weighed_part=part, count=times, **row))  # type: ignore[arg-type] # a key of PARTS
    return lines


def _faults(request: ValveMassRequest) -> Iterator[Pointed]:
    valves, masses = [one.valve for one in request.positions], [one.masses for one in request.positions]
    yield from drive_faults(request.valvetrain, valves, masses)
    yield from spring_faults(request.springs)
    yield from repeated_ids([position.id for position in request.positions], "/positions", "position")
    yield from unknown_springs([position.spring for position in request.positions], request.springs)
    yield from scale_faults(request.scale)


def answer(request: ValveMassRequest) -> ValveMassAnswer:
    """Answer one request; raises Contradiction."""
    raise_if_any(_faults(request))
    positions = request.positions
    ids = [position.id for position in positions]
    names = [position.spring for position in positions]
    valves = [position.valve for position in positions]
    masses = [position.masses for position in positions]
    on_bench = on_scale(request.springs, request.valvetrain, positions)
    table = spring_table(request.springs, scale=request.scale)
    weighed = weighed_parts(
        masses, valves, request.valvetrain, table, table.rows(names), request.scale, request.spring_share
    )
    parts = weighed.parts
    mass = moving_mass_by_part(parts)
    numbers = {f"{part}_mass": getattr(parts, part) for part in (*PARTS, "lash_cap", "pushrod", "lifter")}
    numbers |= {
        "spring_mass": parts.springs + parts.dampers,
        "moving_mass": mass.total,
        "lifter_side_mass": np.where(weighed.ratio_known, mass.lifter_side, np.nan),
    }
    lines = zip(
        positions,
        _NUMBERS.rows(numbers),
        by_part(mass),
        _to_remove(parts, mass.total, valves),
        _repeats(weighed, len(positions)),
        strict=True,
    )
    return ValveMassAnswer(
        units=units_used(),
        positions=[
            MassLine(
                id=position.id,
                valve=position.valve,
                moving_mass_by_part=each,
                to_remove=off,
                repeat_statistics=again,
                **row,
            )
            for position, row, each, off, again in lines
        ],
        mass_totals=mass_totals(parts, valves),
        spreads=_spreads(numbers, valves, ids),
        open_items=merged(
            [
                *open_springs(request.springs, {name for name in names if name}, {"mass": ["spring_mass", *_MOVING]}),
                *open_masses(positions, masses, _MOVING),
                *open_weighings(request.scale, on_bench, _MOVING),
                *open_ratios(parts, valves, _MOVING),
                *open_readings(positions, "spring", ["spring_mass", *_MOVING], WHICH_SPRING),
            ]
        ),
        notes=[
            *scale_notes(request.scale, on_bench),
            *coverage_notes(weighed, valves, ids),
            *share_notes(request.springs, {name for name in names if name}),
            *heavy_spring_notes(parts, ids, request.spring_share),
            *mass_notes(weighed, valves, ids),
        ],
        cautions=cautions_for("springs"),
    )


RESOURCE: Final = Resource(
    kind="valve-mass",
    operation_id="sumValveMass",
    summary="What moves with every valve",
    description="Enter what was weighed; get each valve's moving mass part by part, and the parts that are outliers.",
    tag="Bench",
    request=ValveMassRequest,
    answer=ValveMassAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("valve_mass.json"),
)
