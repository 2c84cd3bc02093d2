"""Pushrod findings: what is still to measure of pushrods and lifters, and what to order or to turn."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from headbench.api.movement.moved import open_places
from headbench.api.pushrods.lifters import Lifters, range_notes
from headbench.api.pushrods.lines import PushrodLine, PushrodSection
from headbench.api.pushrods.pushrods import Adjuster, Placed
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.saying import say
from headbench.calc.movement.movement import Movement
from headbench.calc.pushrods.lifter_preload import STOCK_GRACE
from headbench.calc.pushrods.pushrods import PushrodsAfter

_CHECK: Final = "preload_check"
_LENGTHS: Final = ("length_before", "length_for_same_preload", "length_for_target_preload")
_JUDGED: Final = ("stock_from", "stock_steps_shorter", "stock_in_range", "stock_preload", "common_preload")
_ORDER: Final = ("length_to_order",)
_TURNS: Final = ("turns_for_same_preload", "turns_for_target_preload")


def open_pushrods(
    placed: Sequence[Placed],
    section: PushrodSection,
    lifters: Lifters,
    adjuster: Adjuster | None,
    movement: Movement,
) -> Iterator[OpenItem]:
    """What is still to be measured of the pushrods and their lifters."""
    if lifters.plunger_travel is None and lifters.preload_maximum is None and section.preload_maximum > 0.0:
        most = say(section.preload_maximum, "length")
        deep = any(line.preload_check.verdict == "not_measured" for line in section.positions)
        yield OpenItem(
            pointer="/lifters/plunger_travel",
            position=None,
            spring=None,
            needed_for=["preload_maximum", *([_CHECK] if deep else [])],
            detail=f"Measure the lifters' plunger travel, clip to bottom, before ordering pushrods, or enter the "
            f"maximum preload their maker states: a short-travel lifter bottoms early. Until then maximum preload is "
            f"taken as {most}, and no preload is judged good.",
        )
    for one, line in zip(placed, section.positions, strict=True):
        if not one.is_whole(movement):
            yield from _open_of(one, line, adjuster, movement)


def _open_of(one: Placed, line: PushrodLine, adjuster: Adjuster | None, movement: Movement) -> Iterator[OpenItem]:
    """What is still to be measured of one pushrod."""
    pushrod, which = one.pushrod, one.position.id
    # with a nut no length is ordered, and none is where the present pushrod will do
    order = () if adjuster is not None or (line.stock_in_range and not line.stock_steps_shorter) else _ORDER
    judged = (*_JUDGED, *(() if adjuster is None else _TURNS), *order, _CHECK)

    check = (_CHECK,) if line.preload_check.verdict == "not_measured" else ()

    def waiting(*fields: str) -> list[str]:
        return [name for name in fields if name in check or (name != _CHECK and _is_open(getattr(line, name)))]

    def item(field: str, fields: Sequence[str], detail: str) -> OpenItem:
        return OpenItem(
            pointer=f"/positions/{one.place}/{field}",
            position=one.position.id,
            spring=None,
            needed_for=waiting(*fields),
            detail=f"{which}: {detail}",
        )

    moved = ("shortening", "length_for_same_preload", "length_for_target_preload", "preload_after", *judged)
    if not movement.flat:
        place = (f"/positions/{one.place}", which, one.position.id, one.distance_across)
        yield from open_places(movement, [place], waiting("head_drop", *moved))
    if pushrod.geometry is None:
        by_mock_up = () if pushrod.mock_up is None else ("preload_by_mock_up",)
        fields = [*_LENGTHS, "shortening", "preload_after", *by_mock_up, *judged]
        yield item("pushrod/geometry", fields, "measure pushrod length and its angle to the bore.")
    if pushrod.mock_up is None and not movement.flat:
        detail = "an angle cut swings the rockers; check lifter preload on the mock-up with an adjustable pushrod."
        # the turns back to the preload before hang on the geometry, not on a mock-up
        found = [name for name in judged if name != "turns_for_same_preload"]
        yield item("pushrod/mock_up", ["preload_by_mock_up", "length_by_mock_up", *found], detail)
    if pushrod.mock_up is None and pushrod.preload is None:
        detail = "measure lifter preload, or check it with an adjustable pushrod."
        # either reading serves, but what was read before says too little once the rockers have swung
        either = ("preload_by_mock_up", "length_by_mock_up", *judged) if movement.flat else ()
        yield item("pushrod/preload", ["preload_before", "length_for_target_preload", "preload_after", *either], detail)
    if one.position.seat_moved and one.rocker_ratio is None:
        yield item("rocker_ratio", ["from_sunk_valve", *moved[1:]], "enter the rocker ratio.")


def _is_open(value: object) -> bool:
    """Whether a field of a line has no value yet."""
    return value is None or value != value  # noqa: PLR0124 - NaN is not itself


def unread_range(lifters: Lifters, placed: Sequence[Placed], *, any_position: bool) -> Iterator[OpenItem]:
    """A range of preload that was set where no pushrod is given."""
    if placed or (lifters.preload_minimum is None and lifters.preload_maximum is None):
        return
    yield OpenItem(
        pointer="/positions/0/pushrod" if any_position else "/positions",
        position=None,
        spring=None,
        needed_for=["pushrods"],
        detail="A preload range is set: measure the pushrods and their lifter preload.",
    )


def pushrod_notes(
    section: PushrodSection,
    placed: Sequence[Placed],
    after: PushrodsAfter,
    lifters: Lifters,
    adjuster: Adjuster | None,
    movement: Movement,
) -> Iterator[Note]:
    """What to order or to turn, and what a mock-up does not bear out."""
    if placed:
        yield from range_notes(lifters)
    if placed and adjuster is not None:
        detail = (
            "Adjustable rockers: set pushrod length by the sweep of the rocker on the valve tip, then set preload with "
            "the nut."
        )
        yield note("sweep_sets_length", "/adjuster", detail)
    if placed and not movement.flat:
        detail = (
            "An angle cut swings the rockers sideways as well: that is not included in these lengths. Check every "
            "preload on the mock-up before ordering pushrods."
        )
        yield note("pushrods_swing", "/cut", detail)
    for one, its in zip(placed, after.pushrods, strict=True):
        if abs(its.by_mock_up - its.preload) > STOCK_GRACE:
            figured, found = _preload_or_lash(its.preload), _preload_or_lash(its.by_mock_up)
            detail = (
                f"{one.position.id}: figured from the earlier readings it has {figured}, the mock-up shows "
                f"{found}; the mock-up is used. If they are far apart, measure both again."
            )
            yield note("mock_up_disagrees", f"/positions/{one.place}/pushrod/mock_up", detail)
    named = lifters.preload_minimum is not None or lifters.preload_maximum is not None
    for one, line, its in zip(placed, section.positions, after.pushrods, strict=True):
        check = line.preload_check
        missed = check.to_spare is not None and check.to_spare < 0.0
        if missed or check.check_class == "damage":
            told = _as_lash(its.judged, section.preload_minimum, section.preload_maximum)
            yield _preload_note(one, line, told, its.judged, adjuster, named=named)


def _preload_note(
    one: Placed, line: PushrodLine, told: str, judged: float, adjuster: Adjuster | None, *, named: bool
) -> Note:
    """What a preload off its range asks for, and what it does meanwhile; `named` says whether the job names a range."""
    check = line.preload_check
    found = f"{one.position.id}: {told}"
    pointer = f"/positions/{one.place}/pushrod"
    if check.check_class == "damage":
        found += f" {_harm(check.rule)}"
        if judged < 0.0 and not named:
            found += " Is it a solid lifter? Then enter its lash as preload_minimum and preload_maximum, both negative."
    if adjuster is not None:
        turns = line.turns_for_target_preload or 0.0
        how = "Tighten the nut" if turns > 0.0 else "Back the nut off"
        return note("preload_off", pointer, f"{found} {how} {abs(turns):.2f} turns.")
    to_order = line.length_to_order
    length = None if to_order is None or math.isnan(to_order) else say(to_order, "length")
    if line.stock_in_range:
        order = _stock_order(line, length, say(STOCK_GRACE, "length"))
        return note("preload_off", pointer, f"{found} {order}")
    order = (
        "measure it on the mock-up, then order a custom one." if length is None else f"order a custom length, {length}."
    )
    return note("no_stock_length", pointer, f"{found} No stock length gives preload in range; {order}")


def _as_lash(judged: float, minimum: float, maximum: float) -> str:
    """A preload beside its range, below 0 as the lash it is [m]."""

    def length(value: float) -> str:
        return say(value, "length")

    amount = _preload_or_lash(judged)
    if maximum <= 0.0:
        return f"{amount}, range {length(-maximum)} to {length(-minimum)} of lash."
    return f"{amount}, range {length(minimum)} to {length(maximum)}."


def _preload_or_lash(preload: float) -> str:
    """A preload as a sentence has it [m]: below 0 it is lash."""
    amount = say(abs(preload), "length")
    return f"preload {amount}" if preload >= 0.0 else f"lash {amount}"


def _harm(rule: str) -> str:
    if rule == "at_most":
        return "The valve can't seat: do not run it."
    return "The lifter has no preload and will clatter: do not run it."


def _stock_order(line: PushrodLine, length: str | None, grace: str) -> str:
    steps = line.stock_steps_shorter or 0
    if not steps:
        return f"That is within {grace} of it: the present pushrod will do."
    way = f"{abs(steps)} stock step{'s' if abs(steps) > 1 else ''} {'shorter' if steps > 0 else 'longer'}"
    return f"Go {way} than the present pushrod." if length is None else f"Order a pushrod {length}, {way}."
