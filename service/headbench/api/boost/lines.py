"""Boost lines: each valve against the pressure in its port."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.boost.request import BoostedSeat, BoostLoadRequest, BoostPosition
from headbench.api.springs.spring import SpringsRead
from headbench.api.train.lift_notes import valve_lifts
from headbench.api.train.valvetrain import lift_of, lifts, path_of
from headbench.api.vocabulary.checks import ForceCheck, LengthCheck, VerdictName, force_check, length_check, worst_of
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut, number_of
from headbench.api.vocabulary.targets import limit_of
from headbench.calc.boost.boost import BoostedValve, HeldShut, Opening, hold_shut, opening
from headbench.calc.boost.limits import POSSIBLE_SEAT, POSSIBLE_SEAT_LOAD, POSSIBLE_STEM, USUAL_PORT_PRESSURE
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.verdicts import Verdict, accepted_if_proven, at_least, setting_verdict
from headbench.calc.springs.spring_set import SpringSet

_UNKNOWN: Final = "null = not measured."
_PIVOTS: Final = {"rocker_and_pushrod": 1.0, "finger": -1.0}
"""What a pivot carries beside the lobe's load: the valve's too, or less by it."""


class OpeningLine(Answer, kw_only=True, frozen=True):
    """What an exhaust valve opens against; spring and pressure alone, nothing for what moves."""

    pressure_load: Annotated[ForceOut | None, Meta(description=f"Cylinder pressure over the seat; {_UNKNOWN}")]
    valve_load: Annotated[ForceOut | None, Meta(description=f"That and the spring, at the valve; {_UNKNOWN}")]
    lobe_load: Annotated[
        ForceOut | None,
        Meta(description="At the lobe, and at the pushrod where there is one; null = rocker ratio not given."),
    ]
    pivot_load: Annotated[
        ForceOut | None,
        Meta(description="At the pivot of rocker or finger; null = not known, or there is none."),
    ]


class BoostLine(PositionAnswer, kw_only=True, frozen=True):
    """One valve: what pushes it off its seat, what holds it there, and the shim that makes up what is short."""

    installed_height: Annotated[LengthOut | None, Meta(description=f"Height with the valve closed; {_UNKNOWN}")]
    seat_load: Annotated[
        ForceOut | None,
        Meta(description=f"As measured on the head, else by the spring's load curve; {_UNKNOWN}"),
    ]
    open_load: Annotated[ForceOut | None, Meta(description="Load at full lift; null = not measured, or coil bind.")]
    pressure_load: Annotated[
        ForceOut | None,
        Meta(description=f"What pressure pushes it off its seat with; negative = holds it shut; {_UNKNOWN}"),
    ]
    seat_load_needed: Annotated[
        ForceOut | None, Meta(description="Seat load wanted without pressure, and pressure_load; null = not known.")
    ]
    needed_load_check: Annotated[
        ForceCheck | None, Meta(description="Seat load against what is needed; null = what is needed is not known.")
    ]
    held_shut_check: Annotated[
        ForceCheck, Meta(description="What is left on the seat once pressure pushes; rejected where nothing is.")
    ]
    short_by: Annotated[ForceOut | None, Meta(description=f"Seat load that is missing; 0 = none; {_UNKNOWN}")]
    shim_needed: Annotated[
        LengthOut | None,
        Meta(description="Shim to add for the load needed; 0 = none; null = not known, or coil bind comes first."),
    ]
    height_with_shim: Annotated[LengthOut | None, Meta(description=f"Installed height then; {_UNKNOWN}")]
    open_load_with_shim: Annotated[
        ForceOut | None, Meta(description="Open load then; null = not measured, or coil bind.")
    ]
    coil_bind_with_shim_check: Annotated[
        LengthCheck | None,
        Meta(
            description="Coil-bind clearance at full lift with that shim; does not count toward the verdict on what is "
            "in. Null = no shim is needed, or none is known to do."
        ),
    ]
    coil_bind_clearance_check: Annotated[
        LengthCheck, Meta(description="Coil-bind clearance at full lift as it stands.")
    ]
    opening: Annotated[
        OpeningLine | None,
        Meta(description="What opening takes; null = an intake valve, or no cylinder pressure given."),
    ]
    verdict: Annotated[VerdictName, Meta(description="The worst of the checks that count.")]


@dataclass(frozen=True, slots=True)
class Boosted:
    """One valve, worked: what was asked for, what holds it, and its line."""

    position: BoostPosition
    springs: SpringSet
    held: HeldShut
    line: BoostLine


_NO_SEAT: Final = BoostedSeat()


def seat_of(request: BoostLoadRequest, kind: ValveKind) -> BoostedSeat:
    """What is known of the seats of one kind of valve."""
    seat: BoostedSeat | None = getattr(request.seats, kind)
    return seat or _NO_SEAT


def across_of(seat: BoostedSeat) -> float:
    """The diameter that pressure works on [m]; NaN where none was measured."""
    own = sealing_diameter(seat)
    return if_possible(number_of(seat.head_diameter), POSSIBLE_SEAT) if math.isnan(own) else own


def sealing_diameter(seat: BoostedSeat) -> float:
    """The seat's own diameter as it counts [m]; NaN where none was measured, or one that cannot be right."""
    return if_possible(number_of(seat.seat_diameter), POSSIBLE_SEAT)


def stem_of(seat: BoostedSeat) -> float:
    """The stem's diameter as it counts [m]."""
    return if_possible(number_of(seat.stem_diameter), POSSIBLE_STEM)


def wanted_of(seat: BoostedSeat) -> float:
    """The seat load wanted without pressure, as it counts [N]."""
    return if_possible(number_of(seat.seat_load_unboosted), POSSIBLE_SEAT_LOAD)


def most_in_cylinder(request: BoostLoadRequest) -> float:
    """The highest pressure that its ports can leave in a cylinder [Pa]."""
    boost, usual = request.pressures.boost, USUAL_PORT_PRESSURE.values[-1]
    return usual if boost is None else max(boost, 0.0)


def in_cylinder(request: BoostLoadRequest) -> float:
    """Pressure on the intake stroke as it counts [Pa]: none, the safe side, where it is above what fills it."""
    entered = request.pressures.cylinder_on_intake_stroke
    return 0.0 if entered > most_in_cylinder(request) else entered


def lifting_pressure(request: BoostLoadRequest, kind: ValveKind) -> float:
    """What is higher in the port than in the cylinder, pushing valves of a kind off their seats [Pa]."""
    pressures = request.pressures
    if kind == "intake":
        return number_of(pressures.boost)
    return number_of(pressures.back_pressure) - in_cylinder(request)


def boosted_valves(request: BoostLoadRequest, springs: SpringsRead) -> list[Boosted]:
    """Every valve against the pressure in its port."""
    all_lifts = valve_lifts(lifts(request.valvetrain), request.positions)
    minimum = {kind: limit_of(request.limits, "coil_bind_clearance_minimum", kind) for kind in KINDS}
    return [
        _boosted(request, position, springs, lift, minimum[position.valve])
        for position, lift in zip(request.positions, all_lifts, strict=True)
    ]


def _boosted(
    request: BoostLoadRequest, position: BoostPosition, springs: SpringsRead, lift: float, minimum: float
) -> Boosted:
    seat, set_there = seat_of(request, position.valve), springs.at(position.spring)
    held = hold_shut(
        BoostedValve(
            lifting_pressure=lifting_pressure(request, position.valve),
            diameter=across_of(seat),
            stem_diameter=stem_of(seat),
            wanted=wanted_of(seat),
            seat_load=number_of(position.seat_load),
            installed_height=number_of(position.installed_height),
            valve_lift=lift,
            coil_bind_minimum=minimum,
            springs=set_there,
        )
    )
    rejects = request.limits.off_target == "reject"
    enough = setting_verdict(at_least(held.seat_load, held.needed), misses_reject=rejects)
    needed = force_check(held.seat_load, held.needed, "at_least", accepted_if_proven(enough, held.is_proven), "setting")
    # a valve that is only just balanced does not seal
    off_seat = int(Verdict.REJECT) if held.left <= 0.0 else at_least(held.left, 0.0)
    shut = force_check(held.left, 0.0, "at_least", accepted_if_proven(off_seat, held.is_proven), "damage")
    bind = length_check(held.bind.at_lift.clearance, minimum, "at_least", held.bind.verdict, "damage")
    shimmed = held.bind_with_shim
    with_shim = length_check(shimmed.at_lift.clearance, minimum, "at_least", shimmed.verdict, "damage", counts=False)
    known = not math.isnan(held.needed)
    line = BoostLine(
        id=position.id,
        valve=position.valve,
        installed_height=number_of(position.installed_height),
        seat_load=held.seat_load,
        open_load=held.open_load,
        pressure_load=held.pressure_load,
        seat_load_needed=held.needed,
        needed_load_check=needed if known else None,
        held_shut_check=shut,
        short_by=math.nan if math.isnan(held.needed - held.seat_load) else max(held.needed - held.seat_load, 0.0),
        shim_needed=held.shim,
        height_with_shim=held.height_with_shim,
        open_load_with_shim=held.open_load_with_shim,
        coil_bind_with_shim_check=with_shim if held.shim > 0.0 else None,
        coil_bind_clearance_check=bind,
        opening=_opening(request, seat, position, held),
        verdict=worst_of([needed.verdict if known else "not_measured", shut.verdict, bind.verdict]),
    )
    return Boosted(position, set_there, held, line)


def _opening(
    request: BoostLoadRequest, seat: BoostedSeat, position: BoostPosition, held: HeldShut
) -> OpeningLine | None:
    """What an exhaust valve opens against, where that is asked for."""
    pressure = request.pressures.cylinder_at_exhaust_opening
    if position.valve != "exhaust" or pressure is None:
        return None
    lift = lift_of("exhaust", request.valvetrain)
    # the ratio as the valve leaves its seat
    ratio = float(path_of(lift).rocker_ratio[0])
    pivot = math.nan if lift.drive is None else _PIVOTS.get(lift.drive, math.nan)
    found: Opening = opening(pressure, across_of(seat), held.seat_load, ratio, pivot)
    return OpeningLine(**found._asdict())
