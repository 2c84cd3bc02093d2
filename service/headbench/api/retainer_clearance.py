"""POST /v1/retainer-clearance: room between retainer and seal at full lift, and the gaps around them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Final

import numpy as np
from litestar import post
from litestar.params import JSONBody
from msgspec import Meta

from headbench.api.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, note
from headbench.api.positions import MOST_POSITIONS, PositionAnswer, PositionModel, open_readings, raise_if_any, unusual
from headbench.api.quantities import Answer, Columns, Length, LengthOut, Model, Units, UnitsUsed, say, units_used
from headbench.api.rounding import rounded
from headbench.api.spreads import LengthSpread, length_spread
from headbench.api.springs import repeated_ids
from headbench.api.targets import Limits, RetainerLimits, limits_to_si
from headbench.api.valvetrain import ValveKind, Valvetrain, lift_faults, lifts, open_lifts, per_position
from headbench.calc import FloatArray
from headbench.calc.retainer_clearance import retainer_to_seal_clearance, retainer_verdict
from headbench.calc.touching import clearance_verdict
from headbench.errors import Pointed
from headbench.units import Scales

RetainerToSeal = Annotated[
    Length | None, Meta(description="Distance from the retainer's underside to the top of the seal, valve shut.")
]
RetainerToRocker = Annotated[
    Length | None, Meta(description="Least gap between retainer and rocker over the lift; null: not looked at.")
]
SealToSpring = Annotated[
    Length | None, Meta(description="Gap between the seal and the spring around it; null: not looked at.")
]


class RetainerReadings(PositionModel, kw_only=True, frozen=True):
    """The gaps around one retainer."""

    retainer_to_seal: RetainerToSeal = None
    retainer_to_rocker: RetainerToRocker = None
    seal_to_spring: SealToSpring = None


class RetainerClearanceRequest(Model, kw_only=True, frozen=True):
    """The gaps of some positions, and their lift."""

    units: Units = Units()
    limits: RetainerLimits = RetainerLimits()
    valvetrain: Valvetrain = Valvetrain()
    positions: Annotated[list[RetainerReadings], Meta(min_length=1, max_length=MOST_POSITIONS)]


class RetainerLine(PositionAnswer, kw_only=True, frozen=True):
    """The gaps of one position against their limits."""

    retainer_to_seal: Annotated[LengthOut | None, Meta(description="Distance with the valve shut, as given.")]
    valve_lift: LengthOut | None
    retainer_to_seal_clearance_check: Annotated[LengthCheck, Meta(description="Room left at full lift.")]
    retainer_to_rocker_check: Annotated[LengthCheck | None, Meta(description="Null: not looked at.")]
    seal_to_spring_check: Annotated[LengthCheck | None, Meta(description="Null: not looked at.")]
    verdict: VerdictName


class RetainerClearanceAnswer(Answer, kw_only=True, frozen=True):
    """Every position's gaps."""

    units: UnitsUsed
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: list[RetainerLine]
    spread: Annotated[LengthSpread, Meta(description="Of the retainer-to-seal clearance; the smallest decides.")]
    open_items: list[OpenItem]
    notes: list[Note]
    cautions: list[str]


WHAT_TO_MEASURE: Final = "measure from the retainer to the top of the seal, valve shut."
_READINGS = Columns(RetainerReadings)
_NUMBERS = Columns(RetainerLine)

EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in"},
    "valvetrain": {"intake": {"valve_lift": 0.630}, "exhaust": {"valve_lift": 0.610}},
    "positions": [
        {"id": "1I", "valve": "intake", "retainer_to_seal": 0.700, "retainer_to_rocker": 0.062},
        {"id": "1E", "valve": "exhaust"},
    ],
}


def gap_checks(
    gaps: FloatArray, limits: RetainerLimits | Limits, name: str, valves: Sequence[ValveKind], scales: Scales
) -> list[LengthCheck | None]:
    """A gap that may be left out against its limit; null where it was not looked at."""
    if np.isnan(gaps).all():
        return [None] * len(gaps)
    limit = limits_to_si(limits, f"{name}_minimum", valves, scales)
    checks = length_checks(gaps, limit, "at_least", clearance_verdict(gaps, limit), scales, check_class="damage")
    return [None if check.value is None else check for check in checks]


def seal_notes(retainer_to_seal: FloatArray, limit: FloatArray, ids: Sequence[str], scales: Scales) -> Iterator[Note]:
    """Retainers that stand too near with the valve shut, so that no lift at all is good."""
    for place in np.flatnonzero(retainer_to_seal < limit).tolist():
        there = say(float(retainer_to_seal[place]), "length", scales)
        detail = f"Position {ids[place]}: only {there} from retainer to seal with the valve still shut."
        yield note("seal_too_near", f"/positions/{place}/retainer_to_seal", detail)


def worst_gap(checks: Sequence[LengthCheck | None]) -> VerdictName:
    """The worst of the checks that apply."""
    return worst_of([check.verdict for check in checks if check is not None])


@post(
    "/v1/retainer-clearance",
    operation_id="checkRetainerClearance",
    summary="Room around the retainer of every position",
    tags=["Bench"],
    status_code=200,
    opt={"example": EXAMPLE},
)
async def retainer_clearance(data: JSONBody[RetainerClearanceRequest]) -> RetainerClearanceAnswer:
    """Say how near each retainer comes to its seal at full lift, and judge the gaps around it."""
    return rounded(answer(data), data.units)


def answer(request: RetainerClearanceRequest) -> RetainerClearanceAnswer:
    """Answer one request; raises Contradiction."""
    scales = request.units.scales()
    positions = request.positions
    ids = [position.id for position in positions]

    def faults() -> Iterator[Pointed]:
        yield from repeated_ids(ids, "/positions", "position")
        yield from lift_faults(request.valvetrain, scales)

    raise_if_any(faults())
    valves = [position.valve for position in positions]
    by_kind = lifts(request.valvetrain, scales)
    lift = per_position(by_kind, valves)
    columns = _READINGS.to_si(positions, scales)
    clearance = retainer_to_seal_clearance(columns["retainer_to_seal"], lift)
    limit = limits_to_si(request.limits, "retainer_to_seal_clearance_minimum", valves, scales)
    judged = retainer_verdict(clearance, columns["retainer_to_seal"], limit)
    to_seal = length_checks(clearance, limit, "at_least", judged, scales, check_class="damage")
    to_rocker = gap_checks(columns["retainer_to_rocker"], request.limits, "retainer_to_rocker", valves, scales)
    to_spring = gap_checks(columns["seal_to_spring"], request.limits, "seal_to_spring", valves, scales)
    verdicts = [worst_gap(checks) for checks in zip(to_seal, to_rocker, to_spring, strict=True)]
    numbers = _NUMBERS.from_si({"retainer_to_seal": columns["retainer_to_seal"], "valve_lift": lift}, scales)
    held = ["retainer_to_seal_clearance_check"]
    return RetainerClearanceAnswer(
        units=units_used(scales),
        verdict=worst_of(verdicts),
        positions=[
            RetainerLine(
                id=position.id,
                valve=position.valve,
                retainer_to_seal_clearance_check=seal,
                retainer_to_rocker_check=rocker,
                seal_to_spring_check=spring,
                verdict=verdict,
                **row,
            )
            for position, seal, rocker, spring, verdict, row in zip(
                positions, to_seal, to_rocker, to_spring, verdicts, numbers, strict=True
            )
        ],
        spread=length_spread(clearance, ids, scales),
        open_items=[
            *open_lifts(request.valvetrain, by_kind, valves, held),
            *open_readings(positions, "retainer_to_seal", held, WHAT_TO_MEASURE),
        ],
        notes=[
            PLAIN_COMPARISON,
            *seal_notes(columns["retainer_to_seal"], limit, ids, scales),
            *unusual(
                "retainer_to_seal",
                columns["retainer_to_seal"],
                ids,
                "/positions/{}/retainer_to_seal",
                scales,
            ),
        ],
        cautions=cautions_for("springs", "retainer"),
    )
