"""Pushrod findings: what is still to measure of pushrods and lifters, and what to order or to turn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from headbench.api.findings import Note, OpenItem, note
from headbench.api.milled import Movement, open_places
from headbench.api.pushrod_lines import PushrodLine, PushrodSection
from headbench.api.pushrods import Adjuster, Lifters, Placed, PushrodFit
from headbench.api.quantities import say, shows
from headbench.units import Scales

_CHECK: Final = "preload_check"
_LENGTHS: Final = ("length_before", "length_for_same_preload", "length_for_wanted_preload")
_STOCK: Final = ("stock_steps_shorter", "length_to_order")
_FROM_BEFORE: Final = ("length_for_wanted_preload", "preload", *_STOCK)


def open_pushrods(
    placed: Sequence[Placed], section: PushrodSection, lifters: Lifters, movement: Movement, scales: Scales
) -> Iterator[OpenItem]:
    """What is still to be measured of the pushrods and their lifters."""
    if lifters.plunger_travel is None and lifters.preload_maximum is None and section.preload_minimum >= 0.0:
        most = say(scales["length"].to_si(section.preload_maximum), "length", scales)
        yield OpenItem(
            pointer="/lifters/plunger_travel",
            position=None,
            spring=None,
            needed_for=["preload_maximum"],
            detail=f"Measure the lifters' plunger travel, clip to bottom; until then {most} is taken as the most "
            "preload.",
        )
    places = [
        (f"/positions/{one.place}", f"Position {one.position.id}", one.position.id, one.distance_across)
        for one in placed
    ]
    waiting = ["head_drop", "shortening", "length_for_same_preload", *_FROM_BEFORE, _CHECK]
    yield from open_places(movement, places, waiting)
    for one, line in zip(placed, section.positions, strict=True):
        yield from _open_of(one, line, movement)


def _open_of(one: Placed, line: PushrodLine, movement: Movement) -> Iterator[OpenItem]:
    """What is still to be measured of one pushrod."""
    pushrod = one.pushrod

    def item(field: str, fields: Sequence[str], detail: str) -> OpenItem:
        missing = [name for name in fields if getattr(line, name) is None]
        if line.preload_check.verdict == "not_measured":
            missing.append(_CHECK)
        return OpenItem(
            pointer=f"/positions/{one.place}/{field}",
            position=one.position.id,
            spring=None,
            needed_for=missing,
            detail=f"Position {one.position.id}: {detail}",
        )

    if pushrod.geometry is None:
        fields = ["shortening", *_LENGTHS, "preload", "stock_steps_shorter"]
        if pushrod.mock_up is not None:
            fields.append("preload_by_mock_up")
        yield item("pushrod/geometry", fields, "measure pushrod length and its angle to the bore.")
    if pushrod.mock_up is None and not movement.flat:
        # what was read before says too little once the rockers have swung: nothing else is asked for
        detail = "an angle cut swings the rockers; check lifter preload on the mock-up with an adjustable pushrod."
        yield item("pushrod/mock_up", ["preload_by_mock_up", "length_by_mock_up", *_STOCK], detail)
    elif pushrod.mock_up is None and pushrod.preload is None:
        detail = "measure lifter preload, or check it with an adjustable pushrod."
        yield item("pushrod/preload", ["preload_before", *_FROM_BEFORE], detail)
    if one.position.seat_ground > 0.0 and one.rocker_ratio is None:
        fields = ["from_sunk_valve", "length_for_same_preload", *_FROM_BEFORE]
        yield item("rocker_ratio", fields, "enter the rocker ratio.")


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
    fit: PushrodFit,
    adjuster: Adjuster | None,
    movement: Movement,
    scales: Scales,
) -> Iterator[Note]:
    """What to order or to turn, and what a mock-up does not bear out."""
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
    for one, before, mocked in zip(placed, fit.preload.tolist(), fit.by_mock_up.tolist(), strict=True):
        if shows(abs(mocked - before), "length", scales):
            figured, found = (say(value, "length", scales) for value in (before, mocked))
            detail = (
                f"Position {one.position.id}: preload figured from the earlier readings is {figured}, the mock-up "
                f"shows {found}; the mock-up is used. If they are far apart, read both again."
            )
            yield note("mock_up_disagrees", f"/positions/{one.place}/pushrod/mock_up", detail)
    for row, (one, line) in enumerate(zip(placed, section.positions, strict=True)):
        yield from _preload_notes(row, one, line, fit, adjuster, scales)


def _preload_notes(
    row: int, one: Placed, line: PushrodLine, fit: PushrodFit, adjuster: Adjuster | None, scales: Scales
) -> Iterator[Note]:
    """What a preload off its range asks for, and what it does meanwhile."""
    judged = float(fit.judged[row])
    check = line.preload_check
    if np.isnan(judged) or (check.verdict == "accept" and line.stock_in_range):
        return
    low, high = (say(value, "length", scales) for value in (fit.minimum, fit.maximum))
    which, pointer = f"Position {one.position.id}", f"/positions/{one.place}/pushrod"
    amount = f"preload {say(judged, 'length', scales)}" if judged >= 0.0 else f"lash {say(-judged, 'length', scales)}"
    found = f"{which}: {amount}, range {low} to {high}."
    if check.check_class == "damage":
        found += f" {_harm(check.rule)}"
    if adjuster is not None:
        turns = line.turns_for_wanted_preload
        if turns is not None and check.verdict != "accept":
            how = "Tighten the nut" if turns > 0.0 else "Back the nut off"
            yield note("preload_off", pointer, f"{found} {how} {abs(turns):.2f} turns.")
        return
    order = (
        ""
        if line.length_to_order is None
        else f" {say(scales['length'].to_si(line.length_to_order), 'length', scales)}"
    )
    if not line.stock_in_range:
        made = (
            f"order a custom length{order and ','}{order}."
            if order
            else "check the length on the mock-up, then order a custom one."
        )
        yield note("no_stock_length", pointer, f"{found} No stock length gives preload in range; {made}")
    elif check.verdict != "accept":
        yield note("preload_off", pointer, f"{found} {_stock_order(line, order)}")


def _harm(rule: str) -> str:
    if rule == "at_most":
        return "The valve cannot close: do not run it."
    return "The lifter has no preload and will clatter: do not run it."


def _stock_order(line: PushrodLine, order: str) -> str:
    steps = line.stock_steps_shorter or 0
    if not steps:
        return "The present pushrod will do if you accept that."
    way = f"{abs(steps)} stock step{'s' if abs(steps) > 1 else ''} {'shorter' if steps > 0 else 'longer'}"
    return f"Order a pushrod{order}, {way}." if order else f"Go {way}, once the mock-up shows the same."
