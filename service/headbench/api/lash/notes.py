"""Lash notes: what was found of the lashes, what is still to be read, and what to do."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial
from typing import Final

from headbench.api.lash.lines import LashLine, LashWorked, to_buy
from headbench.api.lash.request import LashShimsRequest, LashTarget
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, note
from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.positions import measure_again
from headbench.api.vocabulary.quantities import number_of
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.possible import if_possible, is_possible
from headbench.calc.judging.rules import Rule
from headbench.calc.lash.lash_shims import is_no_lash
from headbench.calc.lash.limits import POSSIBLE_LASH, POSSIBLE_LASH_SHIM, USUAL_LASH, USUAL_LASH_SHIM

NOTES: Final = {
    "no_lash": "A valve has no lash at all: how much too thick its shim is can't be told. It must not be run so.",
    "lash_out_of_range": "No shim at hand or sold brings a lash into its range; by how much it is off, and what would.",
    "lash_unusual": "A lash or a shim is outside what is usually seen; check the reading and its unit.",
    "positions_not_dealt": "Shims of some valves are left where they are, as a reading is missing.",
    "shims_to_buy": "The shims to buy.",
    "exhaust_wide": "Exhaust lashes are aimed toward the wide end of their range.",
    "lash_read_again": "Lashes are figured; how to read them again once the shims are in.",
}
"""The notes of lash shims: code -> meaning."""

_note = partial(note, known=NOTES)
_HELD: Final = (
    "shim_wanted", "shim_dealt", "supply", "lash_after", "lash_minimum_check", "lash_maximum_check",
)  # fmt: skip


def _length(value: float) -> str:
    return say(value, "length")


def open_lashes(request: LashShimsRequest) -> Iterator[OpenItem]:
    """What is still to be measured or entered of the lashes."""
    kinds = {position.valve for position in request.positions}
    for kind in KINDS:
        if kind in kinds and getattr(request.targets, kind) is None:
            detail = f"Enter the range of lash wanted for the {kind} valves, cold."
            yield _open(f"/targets/{kind}", None, ["lash_aim", "in_range_as_read", *_HELD], detail)
        elif kind in kinds:
            yield from _slipped_range(kind, getattr(request.targets, kind))
    for place, one in enumerate(request.stock):
        if not one.can_be_right:
            detail = f"Drawer: {measure_again('the shim', one.thickness)} It is dealt to nobody."
            yield _open(f"/stock/{place}/thickness", None, ["left_over", *_HELD], detail)
    for place, position in enumerate(request.positions):
        own, where = position.id, f"/positions/{place}"
        if todo := _lash_to_read(position.lash):
            yield _open(f"{where}/lash", own, ["in_range_as_read", *_HELD], f"{own}: {todo}")
        if position.shim is None:
            todo = "measure the shim that is in with a micrometer; don't go by the print on it."
            yield _open(f"{where}/shim", own, [*_HELD], f"{own}: {todo}")
        elif not is_possible(position.shim, POSSIBLE_LASH_SHIM):
            yield _open(f"{where}/shim", own, [*_HELD], f"{own}: {measure_again('the shim', position.shim)}")


def _open(pointer: str, position: str | None, needed_for: list[str], detail: str) -> OpenItem:
    return OpenItem(pointer=pointer, position=position, spring=None, needed_for=needed_for, detail=detail)


def _slipped_range(kind: str, target: LashTarget) -> Iterator[OpenItem]:
    named = {"lash_minimum": "minimum lash", "lash_maximum": "maximum lash", "shim_ratio": "shim ratio"}
    for field in target.slips():
        entered = getattr(target, field)
        shown = f"{entered:g}" if field == "shim_ratio" else _length(entered)
        detail = (
            f"Check the {named[field]} of the {kind} valves and enter it again; {shown} can't be right, a decimal "
            "point may have slipped."
        )
        yield _open(f"/targets/{kind}/{field}", None, ["lash_aim", "in_range_as_read", *_HELD], detail)


def _lash_to_read(lash: float | None) -> str:
    """What is to be done about a lash that counts as not taken; nothing where it counts."""
    if lash is None:
        return "read the lash with a feeler gauge, cold, cam on its base circle."
    if on_grid(lash) == 0:
        return "fit a thin shim, read the lash again, and enter both."
    if is_no_lash(lash):
        return (
            f"{_length(lash)} is less than any feeler reads: read the lash again. If none goes in, fit a thin shim, "
            "read again and enter both."
        )
    if not is_possible(lash, POSSIBLE_LASH):
        return f"{measure_again('the lash', lash)} If it is right, fit a thicker shim, read again and enter both."
    return ""


def lash_notes(request: LashShimsRequest, worked: LashWorked) -> Iterator[Note]:
    """What was found, in the order of the work."""
    yield PLAIN_COMPARISON
    yield from _no_lash(request, worked)
    yield from _unusual(request)
    for place, line in enumerate(worked.lines):
        yield from _out_of_range(place, line, request)
    left_out = [line.id for line in worked.lines if line.supply is None]
    if left_out and len(left_out) < len(worked.lines):
        detail = (
            f"{', '.join(left_out)}: left as {'it is' if len(left_out) == 1 else 'they are'}, as not all is known. "
            "Read first: with their shims counted in, another deal may be better."
        )
        yield _note("positions_not_dealt", "/positions", detail)
    if bought := to_buy(worked.lines):
        told = "; ".join(f"{one.count} x {_length(one.thickness)} for {', '.join(one.positions)}" for one in bought)
        yield _note("shims_to_buy", "/shims_sold", f"Buy {told}.")
    yield from _work(request, worked)


def _no_lash(request: LashShimsRequest, worked: LashWorked) -> Iterator[Note]:
    thin = {
        place: min((size for size in worked.plan.left if one.shim is None or size < one.shim), default=math.nan)
        for place, one in enumerate(request.positions)
        if is_no_lash(number_of(one.lash))
    }
    for place, size in thin.items():
        position = request.positions[place]
        sharing = [request.positions[other].id for other, its in thin.items() if its == size]
        if math.isnan(size):
            fit = "Fit a thin one and read again."
        elif len(sharing) > worked.plan.left[size]:
            where = f"{', '.join(sharing[:-1])} and {sharing[-1]}"
            fit = f"Fit {_length(size)}, the thinnest that is left, at {where} one after another and read each."
        else:
            fit = f"Fit {_length(size)}, the thinnest that is left, and read again."
        as_good = "as good as " if position.lash else ""
        detail = (
            f"{position.id}: {as_good}no lash, so its shim is too thick, nobody knows by how much. Do not run it: "
            f"the valve may not seat. {fit}"
        )
        yield _note("no_lash", f"/positions/{place}/lash", detail)


def _unusual(request: LashShimsRequest) -> Iterator[Note]:
    for place, position in enumerate(request.positions):
        # what cannot be right, or is no lash, is asked for again
        counts = {
            "lash": (if_possible(number_of(position.lash), POSSIBLE_LASH), USUAL_LASH),
            "shim": (if_possible(number_of(position.shim), POSSIBLE_LASH_SHIM), USUAL_LASH_SHIM),
        }
        for field, (reading, rule) in counts.items():
            is_none = field == "lash" and is_no_lash(reading)
            if not (math.isnan(reading) or is_none or _is_usual(reading, rule)):
                low, high = (_length(one) for one in rule.values)
                detail = (
                    f"{position.id}: {field} {_length(reading)} is outside the usual {low} to {high}. Check the "
                    "reading and the unit."
                )
                yield _note("lash_unusual", f"/positions/{place}/{field}", detail)


def _is_usual(reading: float, rule: Rule) -> bool:
    low, high = rule.values
    return on_grid(low) <= on_grid(reading) <= on_grid(high)


def _out_of_range(place: int, line: LashLine, request: LashShimsRequest) -> Iterator[Note]:
    if line.verdict not in {"reject", "borderline"} or line.lash_after is None or line.shim_wanted is None:
        return
    target = getattr(request.targets, line.valve)
    is_tight = line.verdict == "reject"
    off = target.lash_minimum - line.lash_after if is_tight else line.lash_after - target.lash_maximum
    if line.shim_wanted <= 0.0:
        what = "no shim is thin enough: check the valve's tip, its seat and the cam"
    else:
        what = f"it wants a shim of {_length(line.shim_wanted)}: have one ground, or see whether another size is sold"
    side = "tight. Do not run it" if is_tight else "wide"
    detail = f"{line.id}: lash {_length(line.lash_after)} at best, {_length(off)} too {side}: {what}."
    yield _note("lash_out_of_range", f"/positions/{place}", detail)


def _work(request: LashShimsRequest, worked: LashWorked) -> Iterator[Note]:
    """What to mind at the work and after it."""
    target = request.targets.exhaust
    aimed = [line.lash_aim for line in worked.lines if line.valve == "exhaust" and line.supply is not None]
    if target is not None and target.lash_aim is None and aimed:
        detail = (
            f"Exhaust lashes are aimed at {_length(aimed[0] or math.nan)}, toward the wide end: their seats sink most, "
            "which closes lash."
        )
        yield _note("exhaust_wide", "/targets/exhaust", detail)
    if worked.plan.moves:
        detail = (
            "Measure every shim before it goes in, drawer and new ones too. Then turn the cam twice to squeeze the oil "
            "out and read every lash again."
        )
        yield _note("lash_read_again", "/positions", detail)
