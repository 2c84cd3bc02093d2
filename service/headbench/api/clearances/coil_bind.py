"""POST /v1/coil-bind: what is left between the coils at full lift."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.clearances.retainer_clearance import OwnLift
from headbench.api.exchange.resource import Resource
from headbench.api.springs.notes import coil_bind_repeats, open_bind_repeats
from headbench.api.springs.spring import (
    SpringList,
    SpringTable,
    open_springs,
    spring_faults,
    spring_table,
    unknown_springs,
)
from headbench.api.train.lift_notes import lift_notes, open_lift_slips
from headbench.api.train.ratios import ratio_notes
from headbench.api.train.valvetrain import Valvetrain, lift_faults, lifts, open_lifts, per_position
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_checks, verdict_names
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, note
from headbench.api.vocabulary.names import SPRING_PLACES, WHICH_SPRING, SpringName, SpringPlace
from headbench.api.vocabulary.positions import (
    MOST_POSITIONS,
    PositionAnswer,
    PositionModel,
    open_readings,
    raise_if_any,
    repeated_ids,
    unusual,
)
from headbench.api.vocabulary.quantities import (
    Answer,
    Columns,
    LengthOut,
    Model,
    PositiveLength,
    Units,
    UnitsUsed,
    units_used,
)
from headbench.api.vocabulary.saying import room_to_make, say, shows
from headbench.api.vocabulary.spreads import LengthSpread, length_spread
from headbench.api.vocabulary.targets import CoilBindLimits, limits_of
from headbench.api.vocabulary.unplaced_limits import unplaced_limits, worst_with
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.clearances.coil_bind import CoilBind, coil_bind_clearance, coil_bind_verdict
from headbench.calc.heights.installed_height import open_height
from headbench.calc.judging.limits import COIL_BIND_CLEARANCE_MINIMUM
from headbench.calc.judging.rules import WIDE_CLEARANCE
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict, accepted_if_proven
from headbench.calc.train.lift_slips import lift_is_possible
from headbench.errors import Pointed

TightestSpring = Annotated[
    SpringPlace | None,
    Meta(description="Which of its springs has the smallest clearance; null = not measured."),
]


class CoilBindReadings(PositionModel, kw_only=True, frozen=True):
    """One position's height, and the spring in it."""

    valve_lift: OwnLift = None
    installed_height: Annotated[
        PositiveLength | None,
        Meta(
            description="Height of the outer spring with its shims, valve closed; null = not measured.", examples=[1.82]
        ),
    ] = None
    spring: SpringName = None


class CoilBindRequest(Model, kw_only=True, frozen=True):
    """Springs at their heights, and the lift they are compressed by."""

    units: Units = Units()
    limits: Annotated[
        CoilBindLimits, Meta(description="Minimum clearances.", examples=[{"coil_bind_clearance_minimum": 0.060}])
    ] = CoilBindLimits()
    valvetrain: Annotated[
        Valvetrain, Meta(description="Lift of each kind of valve.", examples=[{"intake": {"valve_lift": 0.488}}])
    ] = Valvetrain()
    springs: SpringList = []
    positions: Annotated[
        list[CoilBindReadings],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work.",
            examples=[[{"id": "1I", "valve": "intake", "installed_height": 1.82, "spring": "S1"}]],
        ),
    ]


class CoilBindNumbers(PositionAnswer, kw_only=True, frozen=True):
    """One position's heights."""

    installed_height: Annotated[LengthOut | None, Meta(description="Height with the valve closed, as entered.")]
    valve_lift: Annotated[LengthOut | None, Meta(description="Valve lift; null = not measured.")]
    open_height: Annotated[
        LengthOut | None, Meta(description="Height at full lift: installed_height - valve_lift; null = not measured.")
    ]


class CoilBindLine(CoilBindNumbers, kw_only=True, frozen=True):
    """What is left between the coils of one position."""

    coil_bind_clearance_check: Annotated[
        LengthCheck,
        Meta(description="Coil-bind clearance: the smallest of the nested springs, each at its own height."),
    ]
    tightest_spring: TightestSpring
    verdict: Annotated[VerdictName, Meta(description="The verdict of its check.")]


class CoilBindAnswer(Answer, kw_only=True, frozen=True):
    """Every position's coil-bind clearance, and the spread of the set."""

    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: Annotated[list[CoilBindLine], Meta(description="A line per position, in the order given.")]
    coil_bind_clearance_spread: Annotated[
        LengthSpread, Meta(description="Spread of coil-bind clearance over all positions; the smallest decides.")
    ]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_READINGS = Columns(CoilBindReadings)
_NUMBERS = Columns(CoilBindNumbers)


def coil_bind_checks(bind: CoilBind, limit: FloatArray, verdicts: IntArray) -> list[LengthCheck]:
    """The clearance of every position against its limit."""
    return length_checks(bind.clearance, limit, "at_least", verdicts, check_class="damage")


def tightest_springs(bind: CoilBind) -> list[SpringPlace | None]:
    """Which spring of each position decides; null where none was measured."""
    read = ~np.isnan(bind.clearance)
    return [
        SPRING_PLACES[own] if known else None for own, known in zip(bind.tightest.tolist(), read.tolist(), strict=True)
    ]


def coil_bind_notes(bind: CoilBind, verdicts: IntArray, ids: Sequence[str], limit: FloatArray) -> Iterator[Note]:
    """What is to be said about clearances that are gone, small, or wide."""
    for place in np.flatnonzero(bind.touches).tolist():
        by = max(-float(bind.clearance[place]), 0.0)
        wanted = room_to_make(float(limit[place]), COIL_BIND_CLEARANCE_MINIMUM.value)
        short = say(wanted + by, "length")
        before = f"coil bind {say(by, 'length')} before" if shows(by, "length") else "the coils touch at"
        detail = (
            f"{ids[place]}: {before} full lift. Do not turn this engine over. Set the spring {short} taller, or "
            f"fit one that binds {short} lower."
        )
        yield note("coils_touch", f"/positions/{place}", detail)
    for place in np.flatnonzero(~bind.touches & (verdicts == Verdict.REJECT) & (bind.clearance < limit)).tolist():
        short = say(float(limit[place] - bind.clearance[place]), "length")
        detail = (
            f"{ids[place]}: coil-bind clearance {say(float(bind.clearance[place]), 'length')}, {short} "
            f"under the minimum. Set the spring {short} taller, or fit one that binds {short} lower."
        )
        yield note("coil_bind_close", f"/positions/{place}", detail)
    much = WIDE_CLEARANCE.values[0] * np.maximum(limit, COIL_BIND_CLEARANCE_MINIMUM.value)
    wide = np.flatnonzero(bind.complete & (bind.clearance > much)).tolist()
    if wide:
        which = ", ".join(ids[place] for place in wide)
        detail = (
            f"{which}: coil-bind clearance is over {say(float(much[wide].min()), 'length')}; ask the spring "
            f"maker whether less would control surge better."
        )
        yield note("clearance_wide", "/positions", detail)


def coil_bind_by_dimensions(table: SpringTable, used: IntArray, open_height: FloatArray) -> BoolArray:
    """Positions where a spring known by its dimensions would coil-bind before full lift."""
    curve = table.curve[used]
    solid = table.curves.shortest(curve.ravel()).reshape(curve.shape)
    known = (solid > 0.0) & (curve >= 0)
    own = open_height[:, np.newaxis] - table.seat_rise[used]
    return np.asarray((known & is_closed(own - solid)).any(axis=1), dtype=np.bool_)


def early_bind_notes(touch_shut: BoolArray, by_dimensions: BoolArray, ids: Sequence[str]) -> Iterator[Note]:
    """What is to be said of springs that coil-bind too early, whatever was measured."""
    for place in np.flatnonzero(touch_shut).tolist():
        detail = (
            f"{ids[place]}: coil bind with the valve closed already. Do not turn this engine over; change the spring."
        )
        yield note("coils_touch", f"/positions/{place}", detail)
    for place in np.flatnonzero(by_dimensions).tolist():
        detail = (
            f"{ids[place]}: by its dimensions the spring coil-binds before full lift; measure its coil-bind height "
            "again."
        )
        yield note("coil_bind_by_dimensions", f"/positions/{place}/spring", detail)


def spring_height_notes(table: SpringTable, used: IntArray) -> Iterator[Note]:
    """Coil-bind heights outside what benches show."""
    in_use = np.isin(np.arange(len(table.row)), used)
    yield from unusual(
        "coil_bind_height",
        np.where(in_use, table.coil_bind_height[: len(table.row), 0], np.nan),
        list(table.row),
        "/springs/{}/coil_bind_height",
    )


def answer(request: CoilBindRequest) -> CoilBindAnswer:
    """Answer one request; raises Contradiction."""
    positions = request.positions
    names = [position.spring for position in positions]
    ids = [position.id for position in positions]

    def faults() -> Iterator[Pointed]:
        yield from spring_faults(request.springs)
        yield from repeated_ids(ids, "/positions", "position")
        yield from unknown_springs(names, request.springs)
        yield from lift_faults(request.valvetrain)

    raise_if_any(faults())
    valves = [position.valve for position in positions]
    by_kind = lifts(request.valvetrain)
    columns = _READINGS.of(positions)
    height = columns["installed_height"]
    lift = np.where(np.isnan(columns["valve_lift"]), per_position(by_kind, valves), columns["valve_lift"])
    table = spring_table(request.springs)
    used = table.rows(names)
    at_lift = open_height(height, lift)
    bind = coil_bind_clearance(at_lift, table.seat_rise[used], table.coil_bind_height[used], table.bind_doubtful[used])
    limit = limits_of(request.limits, "coil_bind_clearance_minimum", valves)
    closed = coil_bind_clearance(height, table.seat_rise[used], table.coil_bind_height[used])
    verdicts = accepted_if_proven(coil_bind_verdict(bind, closed, limit), lift_is_possible(lift))
    checks = coil_bind_checks(bind, limit, verdicts)
    numbers = _NUMBERS.rows({"installed_height": height, "valve_lift": lift, "open_height": at_lift})
    bound = ["coil_bind_clearance_check", "tightest_spring"]
    held = ["open_height", *bound]
    no_own_lift = [position.valve for position in positions if position.valve_lift is None]
    unplaced = [*unplaced_limits(request.limits, valves)]
    return CoilBindAnswer(
        units=units_used(),
        verdict=worst_with(verdict_names(verdicts), unplaced),
        positions=[
            CoilBindLine(
                id=position.id,
                valve=position.valve,
                coil_bind_clearance_check=check,
                tightest_spring=tightest,
                verdict=check.verdict,
                **row,
            )
            for position, check, tightest, row in zip(positions, checks, tightest_springs(bind), numbers, strict=True)
        ],
        coil_bind_clearance_spread=length_spread(bind.clearance, ids),
        open_items=[
            *unplaced,
            *open_lifts(request.valvetrain, by_kind, no_own_lift, ["valve_lift", *held]),
            *open_lift_slips(request.valvetrain, by_kind, positions, columns["valve_lift"], bound),
            *open_springs(
                request.springs,
                {name for name in names if name},
                {"coil_bind_height": bound},
            ),
            *open_bind_repeats(request.springs, {name for name in names if name}, bound),
            *open_readings(positions, "installed_height", held, "enter the installed height."),
            *open_readings(positions, "spring", bound, WHICH_SPRING),
        ],
        notes=[
            PLAIN_COMPARISON,
            *lift_notes(request.valvetrain, by_kind, positions, columns["valve_lift"]),
            *ratio_notes(request.valvetrain),
            *coil_bind_notes(bind, verdicts, ids, limit),
            *early_bind_notes(closed.touches, coil_bind_by_dimensions(table, used, at_lift), ids),
            *spring_height_notes(table, used),
            *coil_bind_repeats(request.springs, {name for name in names if name}),
            *unusual("installed_height", height, ids, "/positions/{}/installed_height"),
        ],
        cautions=cautions_for("springs", "tester"),
    )


RESOURCE: Final = Resource(
    kind="coil-bind",
    operation_id="checkCoilBind",
    summary="Coil-bind clearance of every position",
    description="Figure the coil-bind clearance of every spring at full lift.",
    tag="Bench",
    request=CoilBindRequest,
    answer=CoilBindAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("coil_bind.json"),
)
