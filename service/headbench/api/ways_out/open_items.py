"""Open items of ways out: what only a change of parts asks for."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from typing import Final

from headbench.api.valve_float.setting import FLOAT_HELD
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.positions import measure_again
from headbench.api.vocabulary.saying import say
from headbench.api.ways_out.catalogue import open_parts
from headbench.api.ways_out.groups import KindFound
from headbench.api.ways_out.judging import HeadBench
from headbench.api.ways_out.request import unknown_locator
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import POSSIBLE_POCKET_FLOOR, READ_BACK_APART
from headbench.calc.ways_out.limits import POSSIBLE_TIP

_TIP: Final = "tip_above_retainer_check"
_ROCKER: Final = "retainer_to_rocker_check"
_FLOOR: Final = "pocket_floor_check"


def ways_open(bench: HeadBench, found: Sequence[KindFound], read_back_off: Sequence[float]) -> Iterator[OpenItem]:
    """What is still to be measured or entered, beside what the head's own sheet waits for.

    `read_back_off` says of each position how much taller it was read with its shims in than figured [m].
    """
    needed: list[ValveKind] = [one.kind for one in found if one.line.change_needed]
    waiting = {name for one in found for name in one.waits_for}
    if needed:
        yield from open_parts(bench.request.catalogue, needed)
    yield from _of_positions(bench, needed, _cut(found), waiting, read_back_off)
    if bench.request.intended_speed is not None:
        yield from _masses(bench, found)


def _cut(found: Sequence[KindFound]) -> set[str]:
    """The positions whose pockets some way cuts."""
    return {name for one in found for way in one.line.ways for name in way.pockets_cut}


def _of_positions(
    bench: HeadBench,
    needed: Collection[ValveKind],
    cut: Collection[str],
    waiting: Collection[str],
    read_back_off: Sequence[float],
) -> Iterator[OpenItem]:
    for place, position in enumerate(bench.request.positions):

        def item(
            field: str, needed_for: Sequence[str], detail: str, place: int = place, own: str = position.id
        ) -> OpenItem:
            return OpenItem(
                pointer=f"/positions/{place}/{field}",
                position=own,
                spring=None,
                needed_for=list(needed_for),
                detail=f"{own}: {detail}",
            )

        off = read_back_off[place]
        # what is farther off the head's sheet asks for
        if off and position.id in waiting and not abs(off) > READ_BACK_APART.values[0] + GRID:
            detail = (
                f"check which shims are in, and measure the height again; with them it reads "
                f"{say(abs(off), 'length')} {'taller' if off > 0.0 else 'shorter'} than figured, and no way is looked "
                "for until both agree."
            )
            yield item("height_with_shims", ["ways"], detail)
        kept, limits = bench.kept[position.valve].parts, bench.limits[position.valve]
        raises = position.valve in needed and any(part.change > 0.0 for part in (*kept.locks, *kept.retainers))
        tip, floor = position.tip_above_retainer, position.pocket_floor
        if tip is None and (raises or limits.tip_asked):
            yield item("tip_above_retainer", [_TIP], "measure how far the tip stands over retainer and locks.")
        elif tip is not None and not is_possible(tip, POSSIBLE_TIP):
            yield item("tip_above_retainer", [_TIP], measure_again("tip above retainer", tip))
        if raises and position.retainer_to_rocker is None and not math.isnan(limits.rocker_minimum):
            yield item("retainer_to_rocker", [_ROCKER], "measure retainer to rocker, over the whole lift.")
        if floor is None and position.id in cut:
            yield item("pocket_floor", [_FLOOR], "measure the floor under its spring pocket before it is cut.")
        elif floor is not None and not is_possible(floor, POSSIBLE_POCKET_FLOOR):
            yield item("pocket_floor", [_FLOOR], measure_again("the floor under its spring pocket", floor))
        if position.valve in needed and kept.locators and unknown_locator(bench.request, position):
            yield item("locator_thickness", ["ways"], "enter the thickness of the locator that was in place.")


def _masses(bench: HeadBench, found: Sequence[KindFound]) -> Iterator[OpenItem]:
    """The parts of ways that nobody weighed, while float is judged."""
    told: set[str] = set()
    for one in found:
        if one.found is None:
            continue
        kept = bench.kept[one.kind]
        for way in one.found.ways:
            for slot, place in sorted(way.tried.choice.changes):
                name = {"locks": "locks", "retainer": "retainers", "valve": "valves"}.get(slot)
                if name is None or not math.isnan(kept.masses[name][place]):
                    continue
                at = kept.places[name][place]
                pointer = f"/catalogue/{name}/{at}/mass"
                if pointer not in told:
                    told.add(pointer)
                    part = getattr(bench.request.catalogue, name)[at].id
                    yield OpenItem(
                        pointer=pointer,
                        position=None,
                        spring=None,
                        needed_for=FLOAT_HELD,
                        detail=f"{part}: weigh it; float with it is not accepted until then.",
                    )
