"""POST /v1/valve-mass: what everything that moves with the valves weighs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Final

import numpy as np
from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.coil_bind import WHICH_SPRING, SpringName
from headbench.api.findings import CAUTIONS, NOTE_CODES, Note, OpenItem, note
from headbench.api.positions import MOST_POSITIONS, PositionAnswer, PositionModel, open_readings, raise_if_any, unusual
from headbench.api.quantities import (
    Answer,
    Columns,
    Mass,
    MassOut,
    Model,
    PositiveMass,
    Units,
    UnitsUsed,
    say,
    units_used,
)
from headbench.api.spreads import MassSpread, spread_rows
from headbench.api.springs import SpringList, open_springs, repeated_ids, spring_faults, springs_to_si, unknown_springs
from headbench.api.valvetrain import KINDS, ValveKind
from headbench.calc import FloatArray
from headbench.calc.spread import odd_ones_out
from headbench.calc.valve_mass import moving_mass
from headbench.errors import Pointed
from headbench.units import Scales


class Masses(Model, kw_only=True, frozen=True):
    """What the scale shows for the parts of one valve."""

    valve: Annotated[PositiveMass | None, Meta(description="The valve; null: not weighed.")] = None
    retainer: Annotated[PositiveMass | None, Meta(description="The retainer; null: not weighed.")] = None
    locks: Annotated[PositiveMass | None, Meta(description="Both locks together; null: not weighed.")] = None
    lash_cap: Annotated[Mass, Meta(description="The lash cap; 0 if there is none.")] = 0.0


class MassReadings(PositionModel, kw_only=True, frozen=True):
    """The parts of one valve on the scale, and the spring over them."""

    masses: Masses = Masses()
    spring: SpringName = None


class ValveMassRequest(Model, kw_only=True, frozen=True):
    """Everything that was weighed."""

    units: Units = Units()
    springs: SpringList = []
    positions: Annotated[list[MassReadings], Meta(min_length=1, max_length=MOST_POSITIONS)]


class MassLine(PositionAnswer, kw_only=True, frozen=True):
    """What moves with one valve."""

    valve_mass: Annotated[MassOut | None, Meta(description="The valve, as weighed.")]
    retainer_mass: Annotated[MassOut | None, Meta(description="The retainer, as weighed.")]
    locks_mass: Annotated[MassOut | None, Meta(description="Both locks, as weighed.")]
    lash_cap_mass: Annotated[MassOut, Meta(description="The lash cap, 0 if there is none.")]
    spring_mass: Annotated[MassOut | None, Meta(description="All springs on this valve, whole.")]
    moving_mass: Annotated[
        MassOut | None, Meta(description="Valve, retainer, locks, lash cap and a third of the springs (Rayleigh).")
    ]


class MassTotal(Answer, kw_only=True, frozen=True):
    """The parts of all valves of one kind, together."""

    positions: Annotated[int, Meta(description="How many valves of this kind there are.")]
    weighed: Annotated[int, Meta(description="Of how many of them valve, retainer and locks were all weighed.")]
    valve: Annotated[MassOut, Meta(description="All valves weighed.")]
    retainer: Annotated[MassOut, Meta(description="All retainers weighed.")]
    locks: Annotated[MassOut, Meta(description="All locks weighed.")]
    lash_cap: Annotated[MassOut, Meta(description="All lash caps.")]


class MassTotals(Answer, kw_only=True, frozen=True):
    """Totals of the intake and of the exhaust valves; null where there is none of a kind."""

    intake: MassTotal | None
    exhaust: MassTotal | None


class MassSpreads(Answer, kw_only=True, frozen=True):
    """What the masses of one kind of valve run to."""

    valve_mass: MassSpread
    retainer_mass: MassSpread
    locks_mass: MassSpread
    moving_mass: MassSpread


class MassSpreadsByKind(Answer, kw_only=True, frozen=True):
    """Spreads of the intake and of the exhaust valves; null where there is none of a kind."""

    intake: MassSpreads | None
    exhaust: MassSpreads | None


class ValveMassAnswer(Answer, kw_only=True, frozen=True):
    """Every position's parts, their totals and spreads."""

    units: UnitsUsed
    positions: list[MassLine]
    mass_totals: MassTotals
    spreads: MassSpreadsByKind
    open_items: list[OpenItem]
    notes: list[Note]
    cautions: list[str]


_MASSES = Columns(Masses)
_NUMBERS = Columns(MassLine)
_TOTAL = Columns(MassTotal)
_PARTS: Final = {"valve": "valve", "retainer": "retainer", "locks": "pair of locks"}
_MOVING: Final = ["moving_mass"]

EXAMPLE: Final[dict[str, Any]] = {
    "units": {"mass": "g"},
    "springs": [{"id": "S1", "mass": 88.2}],
    "positions": [
        {"id": "1I", "valve": "intake", "spring": "S1", "masses": {"valve": 104.5, "retainer": 19.8, "locks": 5.1}},
        {"id": "2I", "valve": "intake", "spring": "S1", "masses": {"valve": 103.9, "retainer": 19.9}},
    ],
}


def masses_to_si(masses: Sequence[Masses], scales: Scales) -> dict[str, FloatArray]:
    """What was weighed, as columns over the positions."""
    return _MASSES.to_si(masses, scales)


def mass_totals(columns: Mapping[str, FloatArray], valves: Sequence[ValveKind], scales: Scales) -> MassTotals:
    """Totals by kind, over what was weighed."""
    kinds = np.array(valves)
    totals: dict[str, MassTotal | None] = {}
    for kind in KINDS:
        own = {name: column[kinds == kind] for name, column in columns.items()}
        count = int((kinds == kind).sum())
        weighed = ~np.isnan(own["valve"] + own["retainer"] + own["locks"])
        sums = {name: np.array([np.where(np.isnan(column), 0.0, column).sum()]) for name, column in own.items()}
        row = _TOTAL.from_si(sums, scales)[0]
        totals[kind] = MassTotal(positions=count, weighed=int(weighed.sum()), **row) if count else None
    return MassTotals(**totals)


def open_masses(positions: Sequence[PositionModel], masses: Sequence[Masses]) -> Iterator[OpenItem]:
    """An open item for every part that was not weighed."""
    for place, (position, weighed) in enumerate(zip(positions, masses, strict=True)):
        open_parts = {part: name for part, name in _PARTS.items() if getattr(weighed, part) is None}
        if len(open_parts) == len(_PARTS):
            open_parts = {"": "valve, the retainer and the locks"}
        for part, name in open_parts.items():
            yield OpenItem(
                pointer=f"/positions/{place}/masses/{part}".rstrip("/"),
                position=position.id,
                spring=None,
                holds_back=_MOVING,
                detail=f"Position {position.id}: weigh the {name}.",
            )


def mass_notes(
    columns: Mapping[str, FloatArray], valves: Sequence[ValveKind], ids: Sequence[str], scales: Scales
) -> Iterator[Note]:
    """Parts that do not belong to their set, and masses no bench shows."""
    kinds = np.array(valves)
    for part, name in _PARTS.items():
        for kind in KINDS:
            own = np.flatnonzero(kinds == kind)
            for place in own[odd_ones_out(columns[part][own])].tolist():
                mass = say(float(columns[part][place]), "mass", scales)
                middle = say(float(np.nanmedian(columns[part][own])), "mass", scales)
                detail = f"Position {ids[place]}: its {name} weighs {mass}; the middle of the {kind} set is {middle}."
                yield note("odd_one_out", f"/positions/{place}/masses/{part}", detail)
        yield from unusual(part, columns[part], f"/positions/{{}}/masses/{part}", scales)


def _spreads(
    numbers: Mapping[str, FloatArray], valves: Sequence[ValveKind], ids: Sequence[str], scales: Scales
) -> MassSpreadsByKind:
    fields = ("valve_mass", "retainer_mass", "locks_mass", "moving_mass")
    kinds = np.array(valves)
    spreads: dict[str, MassSpreads | None] = {}
    for kind in KINDS:
        own = np.flatnonzero(kinds == kind)
        values = np.stack([numbers[field][own] for field in fields])
        factors = np.full(len(fields), scales["mass"].factor)
        rows = spread_rows(values, factors, [ids[place] for place in own.tolist()])
        by_field = {field: MassSpread(**row) for field, row in zip(fields, rows, strict=True)}
        spreads[kind] = MassSpreads(**by_field) if len(own) else None
    return MassSpreadsByKind(**spreads)


@post(
    "/v1/valve-mass",
    operation_id="sumValveMass",
    summary="What moves with every valve",
    tags=["Bench"],
    status_code=200,
    opt={"example": EXAMPLE},
)
async def valve_mass(data: JSONBody[ValveMassRequest]) -> ValveMassAnswer:
    """Add up what was weighed, give each valve's moving mass, and name the part that does not belong."""
    return answer(data)


def answer(request: ValveMassRequest) -> ValveMassAnswer:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()
    positions = request.positions
    ids = [position.id for position in positions]
    names = [position.spring for position in positions]

    def faults() -> Iterator[Pointed]:
        yield from spring_faults(request.springs, scales)
        yield from repeated_ids(ids, "/positions", "position")
        yield from unknown_springs(names, request.springs)

    raise_if_any(faults())
    valves = [position.valve for position in positions]
    masses = [position.masses for position in positions]
    columns = masses_to_si(masses, scales)
    table = springs_to_si(request.springs, scales)
    springs = table.mass[table.rows(names)]
    numbers = {f"{name}_mass": column for name, column in columns.items()}
    numbers |= {"spring_mass": springs, "moving_mass": moving_mass(**columns, springs=springs)}
    return ValveMassAnswer(
        units=units_used(scales),
        positions=[
            MassLine(id=position.id, valve=position.valve, **row)
            for position, row in zip(positions, _NUMBERS.from_si(numbers, scales), strict=True)
        ],
        mass_totals=mass_totals(columns, valves, scales),
        spreads=_spreads(numbers, valves, ids, scales),
        open_items=[
            *open_springs(request.springs, {name for name in names if name}, {"mass": _MOVING}),
            *open_masses(positions, masses),
            *open_readings(positions, "spring", _MOVING, WHICH_SPRING),
        ],
        notes=[
            note("valve_side_only", "", NOTE_CODES["valve_side_only"]),
            *mass_notes(columns, valves, ids, scales),
        ],
        cautions=list(CAUTIONS),
    )
