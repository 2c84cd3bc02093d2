"""POST /v1/guide-boss: guide tops, bosses and spring pockets to cut, by drawing, before the parts are there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.clearances.retainer_clearance import open_seal_slips
from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.exchange.resource import Resource
from headbench.api.guide_boss.lines import BossLine, BossWorked, boss_worked
from headbench.api.guide_boss.notes import NOTES, boss_notes
from headbench.api.guide_boss.request import GuideBossRequest, boss_faults, parts_of
from headbench.api.heights.readings import kinds_in
from headbench.api.vocabulary.checks import VerdictName, worst_of
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, cautions_for
from headbench.api.vocabulary.positions import measure_again, open_readings, open_slips, raise_if_any
from headbench.api.vocabulary.quantities import Answer, UnitsUsed, units_used
from headbench.calc.guide_boss import limits
from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import POSSIBLE_HEIGHT, POSSIBLE_LIFT, POSSIBLE_LOCATOR, POSSIBLE_POCKET_FLOOR


class GuideBossAnswer(Answer, kw_only=True, frozen=True):
    """Every valve's cuts, and what was read afterward."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[
        VerdictName, Meta(description="The worst of all positions: not measured until all is read with the parts in.")
    ]
    plan_verdict: Annotated[VerdictName, Meta(description="Whether the cuts can be made: the worst of all plans.")]
    positions: Annotated[list[BossLine], Meta(description="A line per position, in the order given.")]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]


_GUIDE: Final = (
    "guide_height_wanted",
    "guide_cut",
    "guide_height_after",
    "guide_height_over_pocket",
    "retainer_to_seal_figured",
    "clearance_figured",
    "guide_in_seal_check",
    "retainer_to_seal_difference_check",
)
_POCKET: Final = ("pocket_depth", "shim_room", "guide_height_over_pocket", "pocket_floor_check")
_AFTER: Final = ("retainer_to_seal_difference_check", "retainer_to_seal_clearance_check")
_ASKED: Final[dict[str, tuple[tuple[str, ...], str]]] = {
    "installed_height": ((*_POCKET, *_GUIDE), "the installed height wanted"),
    "valve_lift": ((*_GUIDE, "retainer_to_seal_clearance_check"), "the lift at the valve"),
    "retainer_underside": (_GUIDE, "how far the retainer's underside is above its spring step, negative = below"),
    "seal_height": (_GUIDE, "how far the seal's top stands over the guide"),
    "seal_outside_diameter": (("seal_to_spring_check",), "the seal's outside diameter"),
    "guide_in_seal_minimum": (("guide_in_seal_check",), "the least length of guide that the seal sits on"),
    "spring_inside_diameter": (("seal_to_spring_check",), "the innermost spring's inside diameter"),
    "locator_thickness": (_POCKET, "the locator's thickness, 0 if there is none"),
}
"""What is asked of the parts of each kind of valve: what waits for it, and what it is."""


_POSSIBLE: Final = {
    "installed_height": POSSIBLE_HEIGHT,
    "valve_lift": POSSIBLE_LIFT,
    "retainer_underside": limits.POSSIBLE_UNDERSIDE,
    "seal_height": limits.POSSIBLE_SEAL_HEIGHT,
    "locator_thickness": POSSIBLE_LOCATOR,
}
"""Those of them that can be seen to have slipped."""


def open_bosses(request: GuideBossRequest, worked: Sequence[BossWorked]) -> Iterator[OpenItem]:
    """What is still to be measured or entered."""
    for kind in kinds_in(request.positions):
        parts = parts_of(request, kind)
        for name, (needed_for, what) in _ASKED.items():
            given = getattr(parts, name)
            pointer = f"/parts/{kind}/{name}"
            if given is None:
                yield _of_kind(pointer, needed_for, f"Enter, for the {kind} valves, {what}.")
        for name, possible in _POSSIBLE.items():
            given = getattr(parts, name)
            if given is not None and not is_possible(given, possible):
                again = measure_again(f"the {name.replace('_', ' ')} of the {kind} valves", given)
                detail = f"{again[0].upper()}{again[1:]}"
                yield _of_kind(f"/parts/{kind}/{name}", _ASKED[name][0], detail)
        if (
            parts.pocket_diameter is not None
            and parts.locator_thickness != 0.0
            and parts.locator_outside_diameter is None
        ):
            detail = f"Enter, for the {kind} valves, the locator's outside diameter."
            yield _of_kind(f"/parts/{kind}/locator_outside_diameter", ("locator_room_check",), detail)
    positions = request.positions
    yield from open_readings(
        positions,
        "bare_height",
        list(_POCKET),
        "measure spring seat to the retainer's spring step, with a dummy valve.",
    )
    yield from open_slips(positions, "bare_height", POSSIBLE_HEIGHT, [*_POCKET, *_GUIDE], "the bare height")
    yield from open_readings(
        positions, "guide_height", list(_GUIDE[1:]), "measure the guide's top above the spring seat."
    )
    yield from open_readings(
        positions, "guide_in_seal", ["guide_in_seal_check"], "measure how much guide stands over the boss."
    )
    for field, needed_for, what in (
        ("guide_height", _GUIDE[1:], "the guide's height over the spring seat"),
        ("guide_in_seal", ("guide_in_seal_check",), "how much guide stands over the boss"),
    ):
        yield from open_slips(positions, field, limits.POSSIBLE_GUIDE, list(needed_for), what)
    cut = [one.line.pocket_floor_check is not None for one in worked]
    floor = "measure the floor under the spring seat by ultrasonic gauge, before it is cut."
    for item in open_readings(positions, "pocket_floor", ["pocket_floor_check"], floor):
        if cut[int(item.pointer.split("/")[2])]:
            yield item
    yield from open_slips(positions, "pocket_floor", POSSIBLE_POCKET_FLOOR, ["pocket_floor_check"], "the pocket floor")
    yield from open_readings(
        positions, "retainer_to_seal", list(_AFTER), "once cut and assembled, measure retainer to seal, valve closed."
    )
    yield from open_seal_slips(positions, list(_AFTER))


def _of_kind(pointer: str, needed_for: Sequence[str], detail: str) -> OpenItem:
    return OpenItem(
        pointer=pointer, position=None, spring=None, needed_for=list(dict.fromkeys(needed_for)), detail=detail
    )


def answer(request: GuideBossRequest) -> GuideBossAnswer:
    """Answer one request; raises Contradiction."""
    raise_if_any(boss_faults(request))
    worked = [boss_worked(request, position) for position in request.positions]
    lines = [one.line for one in worked]
    return GuideBossAnswer(
        units=units_used(),
        verdict=worst_of([line.verdict for line in lines]),
        plan_verdict=worst_of([line.plan_verdict for line in lines]),
        positions=lines,
        open_items=list(open_bosses(request, worked)),
        notes=[PLAIN_COMPARISON, *boss_notes(request, worked)],
        cautions=cautions_for("springs", "retainer", "milling"),
    )


RESOURCE: Final = Resource(
    kind="guide-boss",
    operation_id="planGuideBosses",
    summary="Guide tops, bosses and spring pockets to cut",
    description="Figure the cuts on guides, bosses and pockets from drawings; compare with the reading afterward.",
    tag="Bench",
    request=GuideBossRequest,
    answer=GuideBossAnswer,
    compute=answer,
    example_file=Path(__file__).with_name("guide_boss.json"),
    limits=limits.LIMITS,
    rules=limits.RULES,
    notes=NOTES,
)
