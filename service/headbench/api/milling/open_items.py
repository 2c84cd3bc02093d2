"""Milling open: what is still to be measured or entered of a head that is milled."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from headbench.api.cylinders.chambers import open_chambers, open_shape, open_thickness
from headbench.api.cylinders.cylinder import open_cylinder
from headbench.api.intake.notes import open_intake
from headbench.api.milling.cam_drive import open_cam_drive
from headbench.api.milling.request import Milled, MillingRequest
from headbench.api.milling.seats import open_seats
from headbench.api.movement.moved import open_places
from headbench.api.pistons.clearances import unread_minimums
from headbench.api.pistons.lines import open_clearances
from headbench.api.pushrods.findings import open_pushrods, unread_range
from headbench.api.pushrods.lines import PushrodSection
from headbench.api.vocabulary.findings import OpenItem

_PLACED: Final = [
    "depth",
    "head_drop",
    "removed_volume",
    "chamber_volume_after",
    "chamber_volume",
    "clearance_volume",
    "static_ratio",
    "effective_ratio",
    "beyond_pours",
    "head_thickness_after",
    "head_thickness_check",
]
"""What an angle cut leaves open at a chamber whose place nobody gave."""


def _open_sections(request: MillingRequest) -> Iterator[OpenItem]:
    """Whole sections that what is asked cannot do without."""

    def item(pointer: str, needed_for: list[str], detail: str) -> OpenItem:
        return OpenItem(pointer=pointer, position=None, spring=None, needed_for=needed_for, detail=detail)

    wanted = request.targets
    if not request.chambers and (request.cylinder is not None or wanted is not None):
        yield item("/chambers", ["chambers", "compression", "for_targets"], "List the head's chambers, and cc them.")
    if wanted is None or request.cylinder is not None:
        return
    if wanted.static_ratio is not None:
        detail = "Enter bore, stroke, deck clearance and gasket."
        yield item("/cylinder", ["compression", "depth_for_ratio", "chambers"], detail)
    elif wanted.quench is not None:
        yield item("/cylinder", ["compression", "chambers"], "Measure piston-to-deck at TDC, and enter the gasket.")


def unjudged_limits(request: MillingRequest, milled: Milled) -> Iterator[OpenItem]:
    """Limits that were named where what they limit was not read."""

    def item(pointer: str, needed_for: str, detail: str) -> OpenItem:
        return OpenItem(pointer=pointer, position=None, spring=None, needed_for=[needed_for], detail=detail)

    limits = request.limits
    if limits.head_thickness_minimum is not None and not request.chambers:
        detail = "A minimum head thickness is set: list the chambers and measure thickness at each."
        yield item("/chambers", "head_thickness_check", detail)
    if limits.quench_minimum is not None:
        if request.cylinder is None:
            detail = "A minimum quench is set: measure piston-to-deck at TDC, and enter the gasket."
            yield item("/cylinder", "quench_check", detail)
        if not request.chambers:
            yield item("/chambers", "quench_check", "A minimum quench is set: list the chambers it is for.")
    yield from unread_minimums(request.limits, request.positions, milled.clearances)
    yield from unread_range(request.lifters, milled.pushrods, any_position=bool(request.positions))


def open_milling(request: MillingRequest, milled: Milled, pushrods: PushrodSection | None) -> Iterator[OpenItem]:
    """Everything still to be measured or entered; one reading may be named by several rooms."""
    movement, cam = milled.movement, milled.done.cam
    yield from _open_sections(request)
    yield from unjudged_limits(request, milled)
    yield from open_chambers(request.chambers, "chamber_volume_before", "chamber_volume_after")
    yield from open_thickness(
        request.chambers,
        request.limits.head_thickness_minimum,
        depth_wanted=bool(request.targets and request.targets.depth_fields),
    )
    places = [
        (f"/chambers/{place}", f"Chamber {chamber.id}", None, chamber.distance_across)
        for place, chamber in enumerate(request.chambers)
    ]
    yield from open_places(movement, places, _PLACED)
    if request.chambers:
        # a quench asks for no chamber's shape, and without a cut nothing but a depth does
        depths = request.targets.depth_fields if request.targets is not None else []
        yield from open_shape(request.chamber_shape, cut=not movement.nothing_cut, depths=depths)
    if request.cylinder is not None:
        yield from open_cylinder(request.cylinder, request.chambers)
    yield from open_seats(request.positions, request.chambers_measured, has_chambers=bool(request.chambers))
    if pushrods is not None:
        yield from open_pushrods(milled.pushrods, pushrods, request.lifters, request.adjuster, movement)
    yield from open_clearances(
        milled.clearances, milled.done.valves, movement, timing_moved=cam is not None and cam.timing_moved
    )
    if request.cam_drive is not None and cam is not None:
        yield from open_cam_drive(request.cam_drive, cam, movement)
    if request.intake_side is not None:
        yield from open_intake(request.intake_side, movement)
