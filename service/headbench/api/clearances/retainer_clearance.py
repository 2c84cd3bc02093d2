"""POST /v1/retainer-clearance: room between retainer and seal at full lift, and the gaps around them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Final, Literal, Protocol

from msgspec import Meta

from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, Job, JobAnswered, JobAsked, Release
from headbench.api.exchange.resource import Resource
from headbench.api.train.lift_notes import lift_notes, open_lift_slips, valve_lifts
from headbench.api.train.valvetrain import Valvetrain, lift_faults, lifts, open_lifts
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, note
from headbench.api.vocabulary.names import KINDS, ValveKind
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
    Length,
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
from headbench.api.vocabulary.targets import Limits, RetainerLimits, limit_of, named_limit
from headbench.api.vocabulary.unplaced_limits import unplaced_limits, worst_with
from headbench.calc.clearances.retainer_clearance import check_retainer
from headbench.calc.judging.limits import (
    RETAINER_TO_ROCKER_MINIMUM,
    RETAINER_TO_SEAL_CLEARANCE_MINIMUM,
    SEAL_TO_SPRING_MINIMUM,
)
from headbench.calc.judging.rules import POSSIBLE_RETAINER_TO_SEAL
from headbench.calc.judging.touching import clearance_verdict, is_closed
from headbench.errors import Pointed

RetainerToSeal = Annotated[
    Length | None,
    Meta(
        description="Distance from the underside of the retainer to the top of the seal, valve closed. "
        "Null = not measured.",
        examples=[0.602],
    ),
]
RetainerToRocker = Annotated[
    Length | None,
    Meta(description="Smallest gap between retainer and rocker over the lift; null = not measured.", examples=[0.062]),
]
SealToSpring = Annotated[
    Length | None,
    Meta(description="Gap between the seal and the spring around it; null = not measured.", examples=[0.055]),
]
OwnLift = Annotated[
    PositiveLength | None,
    Meta(
        description="This valve's own lift, measured at the valve; null = that of its kind of valve.", examples=[0.488]
    ),
]


GAP_CHECK: Final = (
    "Gap against its minimum; null = not measured at any valve of its kind, and no minimum given: not judged."
)


class RetainerReadings(PositionModel, kw_only=True, frozen=True):
    """The gaps around one retainer."""

    valve_lift: OwnLift = None
    retainer_to_seal: RetainerToSeal = None
    retainer_to_rocker: RetainerToRocker = None
    seal_to_spring: SealToSpring = None


class RetainerClearanceRequest(Model, kw_only=True, frozen=True):
    """The gaps of some positions, and their lift."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[
        RetainerLimits,
        Meta(description="Minimum clearances.", examples=[{"retainer_to_seal_clearance_minimum": 0.050}]),
    ] = RetainerLimits()
    valvetrain: Annotated[
        Valvetrain, Meta(description="Lift of each kind of valve.", examples=[{"intake": {"valve_lift": 0.488}}])
    ] = Valvetrain()
    positions: Annotated[
        list[RetainerReadings],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work.",
            examples=[[{"id": "1I", "valve": "intake", "retainer_to_seal": 0.602}]],
        ),
    ]


class RetainerLine(PositionAnswer, kw_only=True, frozen=True):
    """The gaps of one position against their limits."""

    retainer_to_seal: Annotated[
        LengthOut | None, Meta(description="Retainer to seal with the valve closed, as measured; null = not measured.")
    ]
    valve_lift: Annotated[LengthOut | None, Meta(description="Valve lift; null = not measured.")]
    retainer_to_seal_clearance_check: Annotated[
        LengthCheck, Meta(description="Retainer-to-seal clearance at full lift.")
    ]
    retainer_to_rocker_check: Annotated[LengthCheck | None, Meta(description=GAP_CHECK)]
    seal_to_spring_check: Annotated[LengthCheck | None, Meta(description=GAP_CHECK)]
    verdict: Annotated[VerdictName, Meta(description="The worst of the checks.")]


class RetainerClearanceAnswer(Answer, kw_only=True, frozen=True):
    """Every position's gaps."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: Annotated[list[RetainerLine], Meta(description="A line per position, in the order given.")]
    retainer_to_seal_clearance_spread: Annotated[
        LengthSpread, Meta(description="Spread of retainer-to-seal clearance; the smallest decides.")
    ]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


MEASURE_SEAL: Final = "measure from the underside of the retainer to the top of the seal, valve closed."
Gap = Literal["retainer_to_rocker", "seal_to_spring"]
GAPS: Final[Mapping[Gap, str]] = {"retainer_to_rocker": "retainer to rocker", "seal_to_spring": "seal to spring"}
"""The gaps that may be left out, and what they are called."""
_REMEDIES: Final = {
    "retainer_to_rocker": "relieve the rocker or fit a retainer of another shape",
    "seal_to_spring": "fit a narrower seal or a spring with a larger inside diameter",
}
_USUAL: Final = {"retainer_to_rocker": RETAINER_TO_ROCKER_MINIMUM, "seal_to_spring": SEAL_TO_SPRING_MINIMUM}


def open_seal_slips(positions: Sequence[PositionModel], needed_for: list[str]) -> Iterator[OpenItem]:
    """Distances to the seal that cannot be right."""
    yield from open_slips(positions, "retainer_to_seal", POSSIBLE_RETAINER_TO_SEAL, needed_for, "retainer to seal")


class HasGaps(Protocol):
    """A position that may have the gaps around its retainer measured."""

    @property
    def id(self) -> str:
        """Its name."""
        ...

    @property
    def valve(self) -> ValveKind:
        """Its kind of valve."""
        ...

    @property
    def retainer_to_rocker(self) -> float | None:
        """The gap over it [m]."""
        ...

    @property
    def seal_to_spring(self) -> float | None:
        """The gap under it [m]."""
        ...


def gap_checks(positions: Sequence[HasGaps], limits: RetainerLimits | Limits, name: Gap) -> list[LengthCheck | None]:
    """A gap that may be left out against its limit; null where neither a limit nor another valve of its kind asks."""
    looked_at = _kinds_looked_at(positions, name)
    asked = {kind: kind in looked_at or named_limit(limits, f"{name}_minimum", kind) is not None for kind in KINDS}
    least = {kind: limit_of(limits, f"{name}_minimum", kind) for kind in KINDS}
    checks: list[LengthCheck | None] = []
    for position in positions:
        gap, limit = number_of(getattr(position, name)), least[position.valve]
        check = length_check(gap, limit, "at_least", clearance_verdict(gap, limit), "damage")
        checks.append(check if asked[position.valve] else None)
    return checks


def open_gaps(positions: Sequence[HasGaps], limits: RetainerLimits | Limits) -> Iterator[OpenItem]:
    """The gaps that a limit of the job, or another valve of the kind, wants measured, and nobody measured."""
    looked_at = {name: _kinds_looked_at(positions, name) for name in GAPS}
    for place, position in enumerate(positions):
        for name, what in GAPS.items():
            if getattr(position, name) is not None:
                continue
            named = named_limit(limits, f"{name}_minimum", position.valve) is not None
            if named or position.valve in looked_at[name]:
                why = "or leave its minimum out" if named else f"as at the other {position.valve} valves"
                yield OpenItem(
                    pointer=f"/positions/{place}/{name}",
                    position=position.id,
                    spring=None,
                    needed_for=[f"{name}_check"],
                    detail=f"{position.id}: measure {what}, {why}.",
                )


def unmeasured_gap_notes(checks: Mapping[Gap, Sequence[LengthCheck | None]], ids: Sequence[str]) -> Iterator[Note]:
    """One note on the gaps that may be left out and were, so that nobody takes them for checked."""
    told = []
    for name, own in checks.items():
        without = [one for one, check in zip(ids, own, strict=True) if check is None]
        if without:
            told.append(GAPS[name] + ("" if len(without) == len(ids) else f" at {', '.join(without)}"))
    if told:
        yield note("gaps_not_measured", "/positions", f"Not measured, so not judged: {'; '.join(told)}.")


def _kinds_looked_at(positions: Sequence[HasGaps], name: Gap) -> set[ValveKind]:
    return {position.valve for position in positions if getattr(position, name) is not None}


def seal_notes(
    checks: Sequence[LengthCheck],
    distances: Sequence[float],
    clearances: Sequence[float],
    ids: Sequence[str],
) -> Iterator[Note]:
    """Retainers that come too near to their seals, or strike them, and what would mend it."""

    def length(value: float) -> str:
        return say(value, "length")

    for place, (check, left) in enumerate(zip(checks, clearances, strict=True)):
        if check.verdict != "reject":
            continue
        pointer, least = f"/positions/{place}/retainer_to_seal", check.limit
        if is_closed(left):
            by = max(-left, 0.0)
            strikes = f"strikes the seal {length(by)} before" if shows(by, "length") else "touches the seal at"
            wanted = room_to_make(least, RETAINER_TO_SEAL_CLEARANCE_MINIMUM.value)
            detail = (
                f"{ids[place]}: the retainer {strikes} full lift. Do not turn this engine over. "
                f"It needs {length(wanted + by)} more room: fit a shorter seal, cut the guide, or fit "
                f"a retainer that sits higher."
            )
            yield note("retainer_strikes_seal", pointer, detail)
        elif math.isnan(left):
            there = length(distances[place])
            detail = (
                f"{ids[place]}: only {there} from retainer to seal with the valve still closed, {length(least)} is the "
                "minimum at full lift. Fit a shorter seal, or cut the guide."
            )
            yield note("seal_too_near", pointer, detail)
        else:
            detail = (
                f"{ids[place]}: {length(left)} from retainer to seal at full lift, "
                f"{length(least - left)} under the minimum. Shorten the seal or guide by as much, or "
                "fit a retainer that sits higher."
            )
            yield note("seal_close", pointer, detail)


def gap_notes(checks: Mapping[Gap, Sequence[LengthCheck | None]], ids: Sequence[str]) -> Iterator[Note]:
    """Gaps around the retainer that are too small, and what would mend them."""
    for name, own in checks.items():
        for place, check in enumerate(own):
            if (
                check is not None
                and check.verdict == "reject"
                and check.to_spare is not None
                and check.value is not None
            ):
                gap, short = (say(value, "length") for value in (check.value, -check.to_spare))
                detail = f"{ids[place]}: {GAPS[name]} {gap}, {short} under the minimum; {_REMEDIES[name]}."
                if is_closed(check.value):
                    wanted = room_to_make(check.limit, _USUAL[name].value)
                    detail = (
                        f"{ids[place]}: {GAPS[name].replace(' to ', ' and ')} touch. Do not turn this engine over. It "
                        f"needs {say(wanted, 'length')} more room: {_REMEDIES[name]}."
                    )
                yield note("gap_close", f"/positions/{place}/{name}", detail)


def answer(request: RetainerClearanceRequest) -> RetainerClearanceAnswer:
    """Answer one request; raises Contradiction."""
    positions = request.positions
    ids = [position.id for position in positions]

    def faults() -> Iterator[Pointed]:
        yield from repeated_ids(ids, "/positions", "position")
        yield from lift_faults(request.valvetrain)

    raise_if_any(faults())
    valves = [position.valve for position in positions]
    by_kind = lifts(request.valvetrain)
    limits = {kind: limit_of(request.limits, "retainer_to_seal_clearance_minimum", kind) for kind in KINDS}
    lift = valve_lifts(by_kind, positions)
    distance = [number_of(position.retainer_to_seal) for position in positions]
    own_limits = [limits[kind] for kind in valves]
    found = [check_retainer(*each) for each in zip(distance, lift, own_limits, strict=True)]
    clearance = [own.clearance for own in found]
    to_seal = [
        length_check(own.clearance, limit, "at_least", own.verdict, "damage")
        for own, limit in zip(found, own_limits, strict=True)
    ]
    gaps = {name: gap_checks(positions, request.limits, name) for name in GAPS}
    lines = [
        RetainerLine(
            id=position.id,
            valve=position.valve,
            retainer_to_seal=there,
            valve_lift=own,
            retainer_to_seal_clearance_check=seal,
            retainer_to_rocker_check=rocker,
            seal_to_spring_check=spring,
            verdict=worst_of([check.verdict for check in (seal, rocker, spring) if check is not None]),
        )
        for position, there, own, seal, rocker, spring in zip(
            positions, distance, lift, to_seal, *gaps.values(), strict=True
        )
    ]
    held = ["retainer_to_seal_clearance_check"]
    no_own_lift = [position.valve for position in positions if position.valve_lift is None]
    unplaced = [*unplaced_limits(request.limits, valves)]
    return RetainerClearanceAnswer(
        units=units_used(),
        verdict=worst_with([line.verdict for line in lines], unplaced),
        positions=lines,
        retainer_to_seal_clearance_spread=spread_as(LengthSpread, clearance, ids),
        open_items=[
            *unplaced,
            *open_lifts(request.valvetrain, by_kind, no_own_lift, ["valve_lift", *held]),
            *open_lift_slips(request.valvetrain, by_kind, positions, held),
            *open_readings(positions, "retainer_to_seal", held, MEASURE_SEAL),
            *open_seal_slips(positions, held),
            *open_gaps(positions, request.limits),
        ],
        notes=[
            PLAIN_COMPARISON,
            *lift_notes(request.valvetrain, by_kind, positions),
            *seal_notes(to_seal, distance, clearance, ids),
            *gap_notes(gaps, ids),
            *unmeasured_gap_notes(gaps, ids),
            *unusual("retainer_to_seal", distance, ids, "/positions/{}/retainer_to_seal"),
        ],
        cautions=cautions_for("springs", "retainer"),
    )


RESOURCE: Final = Resource(
    kind="retainer-clearance",
    operation_id="checkRetainerClearance",
    summary="Room around the retainer of every position",
    description="Check retainer to seal at full lift, and the gaps around the retainer.",
    tag="Bench",
    request=RetainerClearanceRequest,
    answer=RetainerClearanceAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("retainer_clearance.json"),
)
