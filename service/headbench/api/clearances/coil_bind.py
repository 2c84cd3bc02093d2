"""POST /v1/coil-bind: what is left between the coils at full lift."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.clearances.retainer_clearance import OwnLift
from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, Job, JobAnswered, JobAsked, Release
from headbench.api.exchange.resource import Resource
from headbench.api.gauges.repeats import slipped, tallest_where_apart
from headbench.api.springs.notes import coil_bind_repeats, open_binds_again
from headbench.api.springs.spring import (
    Spring,
    SpringList,
    open_springs,
    read_runs,
    read_springs,
    spring_faults,
    unknown_springs,
)
from headbench.api.train.lift_notes import lift_notes, open_lift_slips, valve_lifts
from headbench.api.train.ratios import ratio_notes
from headbench.api.train.valvetrain import Valvetrain, lift_faults, lifts, open_lifts
from headbench.api.vocabulary.checks import VERDICTS, LengthCheck, VerdictName, length_check
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, note
from headbench.api.vocabulary.names import KINDS, SPRING_PLACES, WHICH_SPRING, SpringName, SpringPlace
from headbench.api.vocabulary.positions import (
    MOST_POSITIONS,
    PositionAnswer,
    PositionModel,
    open_readings,
    open_slips,
    raise_if_any,
    repeated_ids,
    unusual,
)
from headbench.api.vocabulary.quantities import (
    Answer,
    LengthOut,
    Model,
    PositiveLength,
    Units,
    UnitsUsed,
    number_of,
    units_used,
)
from headbench.api.vocabulary.saying import room_to_make, say, shows
from headbench.api.vocabulary.spreads import LengthSpread, spread_as
from headbench.api.vocabulary.targets import CoilBindLimits, limit_of
from headbench.api.vocabulary.unplaced_limits import unplaced_limits, worst_with
from headbench.calc.clearances.coil_bind import CoilBind, check_coil_bind
from headbench.calc.judging.limits import COIL_BIND_CLEARANCE_MINIMUM
from headbench.calc.judging.rules import POSSIBLE_COIL_BIND_HEIGHT, POSSIBLE_HEIGHT, WIDE_CLEARANCE
from headbench.calc.judging.verdicts import Verdict
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
    job: JobAsked = Job()
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

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: Annotated[list[CoilBindLine], Meta(description="A line per position, in the order given.")]
    coil_bind_clearance_spread: Annotated[
        LengthSpread, Meta(description="Spread of coil-bind clearance over all positions; the smallest decides.")
    ]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


def tightest_spring(bind: CoilBind) -> SpringPlace | None:
    """Which spring of a position decides; null where none was measured."""
    return None if math.isnan(bind.clearance) else SPRING_PLACES[bind.tightest]


def coil_bind_notes(
    binds: Sequence[CoilBind], verdicts: Sequence[int], ids: Sequence[str], limits: Sequence[float]
) -> Iterator[Note]:
    """What is to be said about clearances that are gone, small, or wide."""
    rows = list(zip(range(len(ids)), ids, binds, verdicts, limits, strict=True))
    for place, which, bind, _, limit in rows:
        if bind.touches:
            by = max(-bind.clearance, 0.0)
            short = say(room_to_make(limit, COIL_BIND_CLEARANCE_MINIMUM.value) + by, "length")
            before = f"coil bind {say(by, 'length')} before" if shows(by, "length") else "the coils touch at"
            detail = (
                f"{which}: {before} full lift. Do not turn this engine over. Set the spring {short} taller, or "
                f"fit one that binds {short} lower."
            )
            yield note("coils_touch", f"/positions/{place}", detail)
    for place, which, bind, verdict, limit in rows:
        if verdict == Verdict.REJECT and bind.clearance < limit and not bind.touches:
            short = say(limit - bind.clearance, "length")
            detail = (
                f"{which}: coil-bind clearance {say(bind.clearance, 'length')}, {short} under the minimum. Set the "
                f"spring {short} taller, or fit one that binds {short} lower."
            )
            yield note("coil_bind_close", f"/positions/{place}", detail)
    wide = [
        (which, much)
        for _, which, bind, _, limit in rows
        if bind.complete
        and bind.clearance > (much := WIDE_CLEARANCE.values[0] * max(limit, COIL_BIND_CLEARANCE_MINIMUM.value))
    ]
    if wide:
        detail = (
            f"{', '.join(which for which, _ in wide)}: coil-bind clearance is over "
            f"{say(min(much for _, much in wide), 'length')}; ask the spring maker whether less would control surge "
            "better."
        )
        yield note("clearance_wide", "/positions", detail)


def early_bind_notes(touch_shut: Sequence[bool], would_bind: Sequence[bool], ids: Sequence[str]) -> Iterator[Note]:
    """What is to be said of springs that coil-bind too early, whatever was measured."""
    for place, (which, touches) in enumerate(zip(ids, touch_shut, strict=True)):
        if touches:
            detail = (
                f"{which}: coil bind with the valve closed already. Do not turn this engine over; change the spring."
            )
            yield note("coils_touch", f"/positions/{place}", detail)
    for place, (which, binds) in enumerate(zip(ids, would_bind, strict=True)):
        if binds:
            detail = (
                f"{which}: by its dimensions the spring coil-binds before full lift; measure its coil-bind height "
                "again."
            )
            yield note("coil_bind_by_dimensions", f"/positions/{place}/spring", detail)


def spring_height_notes(springs: Sequence[Spring], used: set[str]) -> Iterator[Note]:
    """Coil-bind heights outside what benches show."""
    for place, spring in enumerate(springs):
        if spring.id in used:
            odd = slipped(spring.coil_bind_height, POSSIBLE_COIL_BIND_HEIGHT)
            height = tallest_where_apart(spring.coil_bind_height)[0] if odd is None else odd
            yield from unusual("coil_bind_height", [height], [spring.id], f"/springs/{place}/coil_bind_height")


def answer(request: CoilBindRequest) -> CoilBindAnswer:
    """Answer one request; raises Contradiction."""
    positions = request.positions
    names = [position.spring for position in positions]
    ids = [position.id for position in positions]
    runs = read_runs(request.springs)

    def faults() -> Iterator[Pointed]:
        yield from spring_faults(request.springs, runs)
        yield from repeated_ids(ids, "/positions", "position")
        yield from unknown_springs(names, request.springs)
        yield from lift_faults(request.valvetrain)

    raise_if_any(faults())
    valves = [position.valve for position in positions]
    by_kind = lifts(request.valvetrain)
    springs = read_springs(request.springs, runs)
    limits = {kind: limit_of(request.limits, "coil_bind_clearance_minimum", kind) for kind in KINDS}
    own_limits = [limits[kind] for kind in valves]
    heights = [number_of(position.installed_height) for position in positions]
    valve_lift = valve_lifts(by_kind, positions)
    sets = [springs.at(name) for name in names]
    found = [check_coil_bind(*each) for each in zip(heights, valve_lift, sets, own_limits, strict=True)]
    lines = [
        CoilBindLine(
            id=position.id,
            valve=position.valve,
            installed_height=height,
            valve_lift=lift,
            open_height=own.open_height,
            coil_bind_clearance_check=length_check(own.at_lift.clearance, limit, "at_least", own.verdict, "damage"),
            tightest_spring=tightest_spring(own.at_lift),
            verdict=VERDICTS[own.verdict],
        )
        for position, height, lift, own, limit in zip(positions, heights, valve_lift, found, own_limits, strict=True)
    ]
    bound = ["coil_bind_clearance_check", "tightest_spring"]
    held = ["open_height", *bound]
    used = {name for name in names if name}
    no_own_lift = [position.valve for position in positions if position.valve_lift is None]
    unplaced = [*unplaced_limits(request.limits, valves)]
    return CoilBindAnswer(
        units=units_used(),
        verdict=worst_with([line.verdict for line in lines], unplaced),
        positions=lines,
        coil_bind_clearance_spread=spread_as(LengthSpread, [own.at_lift.clearance for own in found], ids),
        open_items=[
            *unplaced,
            *open_lifts(request.valvetrain, by_kind, no_own_lift, ["valve_lift", *held]),
            *open_lift_slips(request.valvetrain, by_kind, positions, held),
            *open_springs(request.springs, used, {"coil_bind_height": bound}),
            *open_binds_again(request.springs, used, bound),
            *open_readings(positions, "installed_height", held, "enter the installed height."),
            *open_slips(positions, "installed_height", POSSIBLE_HEIGHT, held, "the installed height"),
            *open_readings(positions, "spring", bound, WHICH_SPRING),
        ],
        notes=[
            PLAIN_COMPARISON,
            *lift_notes(request.valvetrain, by_kind, positions),
            *ratio_notes(request.valvetrain),
            *coil_bind_notes([own.at_lift for own in found], [own.verdict for own in found], ids, own_limits),
            *early_bind_notes([own.closed.touches for own in found], [own.by_dimensions for own in found], ids),
            *spring_height_notes(request.springs, used),
            *coil_bind_repeats(request.springs, used),
            *unusual("installed_height", heights, ids, "/positions/{}/installed_height"),
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
