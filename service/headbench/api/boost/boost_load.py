"""POST /v1/boost-load: whether springs hold valves shut against boost and back pressure, and what shim would."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.boost.lines import Boosted, BoostLine, boosted_valves, in_cylinder, seat_of
from headbench.api.boost.notes import NOTES, above, boost_notes
from headbench.api.boost.request import BoostedSeat, BoostLoadRequest, boost_faults
from headbench.api.clearances.coil_bind import coil_bind_notes
from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.exchange.resource import Resource
from headbench.api.springs.notes import coil_bind_repeats, known_by_notes, open_binds_again
from headbench.api.springs.spring import open_springs, read_runs, read_springs
from headbench.api.springs.tested import TestedSprings, open_tests, outside_notes, tested_notes, tested_springs
from headbench.api.springs.worked import Worked, open_heights
from headbench.api.train.lift_notes import lift_notes, open_lift_slips
from headbench.api.train.ratios import ratio_notes
from headbench.api.train.valvetrain import lift_of, lifts, open_lifts
from headbench.api.vocabulary.checks import VerdictName
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for, merged
from headbench.api.vocabulary.names import KINDS, WHICH_SPRING
from headbench.api.vocabulary.positions import measure_again, open_readings, open_slips, raise_if_any, unusual
from headbench.api.vocabulary.quantities import Answer, UnitsUsed, number_of, units_used
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import limit_of
from headbench.api.vocabulary.unplaced_limits import unplaced_limits, worst_with
from headbench.calc.boost import limits
from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import POSSIBLE_HEIGHT, Rule


class BoostLoadAnswer(Answer, kw_only=True, frozen=True):
    """Every valve against the pressure in its port."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: Annotated[list[BoostLine], Meta(description="A line per position, in the order given.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_SHIMMED: Final = ["shim_needed", "height_with_shim", "open_load_with_shim", "coil_bind_with_shim_check"]
_OF_WANTED: Final = ["seat_load_needed", "needed_load_check", "short_by", *_SHIMMED]
_OF_PRESSURE: Final = ["pressure_load", "held_shut_check", *_OF_WANTED]
_OF_SEAT_LOAD: Final = ["seat_load", "needed_load_check", "held_shut_check", "short_by", "opening"]
_OF_CURVE: Final = [*_OF_SEAT_LOAD, "open_load", *_SHIMMED]
_OF_SPRING: Final = [*_OF_CURVE, "coil_bind_clearance_check"]
_OF_BIND: Final = ["coil_bind_clearance_check", "coil_bind_with_shim_check"]
_OF_LIFT: Final = ["open_load", "open_load_with_shim", *_OF_BIND]


def _open_items(request: BoostLoadRequest, found: Sequence[Boosted], tested: TestedSprings) -> Iterator[OpenItem]:
    positions, by_kind = request.positions, lifts(request.valvetrain)
    yield from _open_pressures(request)
    yield from _slips(request, found)
    yield from open_readings(positions, "spring", _OF_SPRING, WHICH_SPRING)
    yield from open_readings(positions, "installed_height", _OF_SPRING, "enter the installed height.")
    yield from open_slips(positions, "installed_height", POSSIBLE_HEIGHT, _OF_SPRING, "the installed height")
    used = {one.spring for one in positions if one.spring is not None}
    # a load that was read on the head proves itself
    proving = {one.spring for one in positions if one.spring is not None and one.seat_load is None}
    yield from open_springs(request.springs, used, {"load_curve": _OF_CURVE, "coil_bind_height": _OF_BIND})
    yield from open_springs(request.springs, proving, {"load_curve": _OF_CURVE, "proof": _OF_SEAT_LOAD})
    yield from open_tests(tested, used, {"load_curve": _OF_CURVE, "proof": _OF_SEAT_LOAD})
    yield from open_binds_again(request.springs, used, _OF_BIND)
    unlifted = [one.valve for one in positions if one.valve_lift is None]
    yield from open_lifts(request.valvetrain, by_kind, unlifted, _OF_LIFT)
    yield from open_lift_slips(request.valvetrain, by_kind, positions, _OF_LIFT)
    yield from open_heights(
        [one.id for one in positions],
        [one.spring for one in positions],
        request.springs,
        [one.springs for one in found],
        [Worked("installed", _by_curve(found), _OF_SEAT_LOAD)],
    )


def _by_curve(found: Sequence[Boosted]) -> list[float]:
    """Heights at which seat loads go by the springs' curves; NaN where one was read on the head."""
    return [number_of(one.line.installed_height if one.position.seat_load is None else None) for one in found]


def _open_pressures(request: BoostLoadRequest) -> Iterator[OpenItem]:
    """Pressures, diameters and loads that a kind of valve needs and nobody entered."""
    there = [kind for kind in KINDS if any(one.valve == kind for one in request.positions)]
    pressures, ratio = request.pressures, lift_of("exhaust", request.valvetrain)
    asked: list[tuple[str, bool, list[str], str]] = []
    for kind in there:
        field = "boost" if kind == "intake" else "back_pressure"
        name = "boost in the intake ports" if kind == "intake" else "back pressure in the exhaust ports"
        asked.append(
            (f"/pressures/{field}", getattr(pressures, field) is None, _OF_PRESSURE, f"Enter the {name}, by its gauge.")
        )
        seat = seat_of(request, kind)
        across = [*_OF_PRESSURE, *(["opening"] if kind == "exhaust" and _opens(request) else [])]
        detail = f"Measure the {kind} seats where they seal, or the valve heads."
        unread = seat.seat_diameter is None and seat.head_diameter is None
        asked.append((f"/seats/{kind}/seat_diameter", unread, across, detail))
        detail = f"Enter the seat load wanted for the {kind} valves without pressure in the ports."
        asked.append((f"/seats/{kind}/seat_load_unboosted", seat.seat_load_unboosted is None, _OF_WANTED, detail))
    if "exhaust" in there and _opens(request):
        unknown = ratio.rocker_ratio is None and not ratio.rocker_ratios and ratio.drive != "bucket"
        detail = "Enter the exhaust rocker ratio."
        asked.append(("/valvetrain/exhaust/rocker_ratio", unknown, ["opening"], detail))
        detail = "Enter what drives the exhaust valves: bucket, finger, or rocker_and_pushrod."
        asked.append(("/valvetrain/exhaust/drive", ratio.drive is None, ["opening"], detail))
    for pointer, missing, needed_for, detail in asked:
        if missing:
            yield _item(pointer, needed_for, detail)


def _slips(request: BoostLoadRequest, found: Sequence[Boosted]) -> Iterator[OpenItem]:
    """Readings that cannot be right: they count as not taken until they are taken again."""
    for kind in KINDS:
        seat: BoostedSeat | None = getattr(request.seats, kind)
        if seat is None or all(one.position.valve != kind for one in found):
            continue
        asked: list[tuple[str, float | None, Rule, list[str], str]] = [
            ("seat_diameter", seat.seat_diameter, limits.POSSIBLE_SEAT, _OF_PRESSURE, f"the {kind} seats"),
            ("head_diameter", seat.head_diameter, limits.POSSIBLE_SEAT, _OF_PRESSURE, f"the {kind} valves' heads"),
            ("stem_diameter", seat.stem_diameter, limits.POSSIBLE_STEM, _OF_PRESSURE, f"the {kind} valves' stems"),
        ]
        for field, reading, possible, needed_for, what in asked:
            if reading is not None and not is_possible(reading, possible):
                yield _item(f"/seats/{kind}/{field}", needed_for, measure_again(what, reading).capitalize())
        wanted = seat.seat_load_unboosted
        if wanted is not None and not is_possible(wanted, limits.POSSIBLE_SEAT_LOAD):
            detail = f"Enter the seat load wanted for the {kind} valves again; {_slipped(wanted, 'force')}"
            yield _item(f"/seats/{kind}/seat_load_unboosted", _OF_WANTED, detail)
    entered = request.pressures.cylinder_on_intake_stroke
    if entered != in_cylinder(request) and any(one.position.valve == "exhaust" for one in found):
        detail = (
            f"Enter the pressure in the cylinder on its intake stroke again; {say(entered, 'pressure')} is "
            f"{above(request)}."
        )
        yield _item("/pressures/cylinder_on_intake_stroke", _OF_PRESSURE, detail)
    for place, one in enumerate(found):
        read, figured = one.position.seat_load, one.held.figured_seat_load
        if read is not None and one.held.is_slip:
            by_curve = "" if math.isnan(figured) else f" Its spring's load curve has {say(figured, 'force')} there."
            detail = f"{one.position.id}: measure the seat load again; {_slipped(read, 'force')}{by_curve}"
            yield _item(f"/positions/{place}/seat_load", _OF_SEAT_LOAD, detail, one.position.id)


def _item(pointer: str, needed_for: list[str], detail: str, position: str | None = None) -> OpenItem:
    return OpenItem(pointer=pointer, position=position, spring=None, needed_for=needed_for, detail=detail)


def _slipped(reading: float, quantity: str) -> str:
    return f"{say(reading, quantity)} can't be right, a decimal point may have slipped."


def _opens(request: BoostLoadRequest) -> bool:
    return request.pressures.cylinder_at_exhaust_opening is not None


def _bind_notes(request: BoostLoadRequest, found: Sequence[Boosted]) -> Iterator[Note]:
    """Springs without room at full lift as they stand; what more than enough means is not asked here."""
    minimum = {kind: limit_of(request.limits, "coil_bind_clearance_minimum", kind) for kind in KINDS}
    told = coil_bind_notes(
        [one.held.bind.at_lift for one in found],
        [one.held.bind.verdict for one in found],
        [one.position.id for one in found],
        [minimum[one.position.valve] for one in found],
    )
    yield from (one for one in told if one.code != "clearance_wide")


def answer(request: BoostLoadRequest) -> BoostLoadAnswer:
    """Answer one request; raises Contradiction."""
    runs = read_runs(request.springs, request.tester)
    raise_if_any(boost_faults(request, runs))
    springs = read_springs(request.springs, runs)
    used = {one.spring for one in request.positions if one.spring is not None}
    tested = tested_springs(request.springs, used, springs)
    found = boosted_valves(request, springs)
    ids, by_kind = [one.id for one in request.positions], lifts(request.valvetrain)
    unplaced = [*unplaced_limits(request.limits, [one.valve for one in request.positions])]
    heights = [number_of(one.installed_height) for one in request.positions]
    return BoostLoadAnswer(
        units=units_used(),
        verdict=worst_with([one.line.verdict for one in found], unplaced),
        positions=[one.line for one in found],
        open_items=merged([*unplaced, *_open_items(request, found, tested)]),
        notes=[
            PLAIN_COMPARISON,
            *boost_notes(request, found),
            *_bind_notes(request, found),
            *lift_notes(request.valvetrain, by_kind, request.positions),
            *ratio_notes(request.valvetrain),
            *outside_notes(ids, [one.springs for one in found], (("seat load", _by_curve(found)),)),
            *known_by_notes(request.springs, used),
            *tested_notes(tested),
            *coil_bind_repeats(request.springs, used),
            *unusual("installed_height", heights, ids, "/positions/{}/installed_height"),
        ],
        cautions=cautions_for("springs", "tester", "boost"),
    )


RESOURCE: Final = Resource(
    kind="boost-load",
    operation_id="findBoostLoad",
    summary="Seat load against boost and back pressure",
    description="Figure the seat load valves need against boost and back pressure, what is short, and the shim for it.",
    tag="Bench",
    request=BoostLoadRequest,
    answer=BoostLoadAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("boost_load.json"),
    rules=limits.RULES,
    notes=NOTES,
)
