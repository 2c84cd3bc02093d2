"""Lash notes: what was found of the lashes, what is still to be read, and what to do."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial
from typing import Final

from headbench.api.lash.lines import LashLine, LashWorked, to_buy
from headbench.api.lash.request import LashShimsRequest
from headbench.api.vocabulary.findings import PLAIN_COMPARISON, Note, OpenItem, note
from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.rules import Rule
from headbench.calc.lash.limits import USUAL_LASH, USUAL_LASH_SHIM

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
            yield OpenItem(
                pointer=f"/targets/{kind}",
                position=None,
                spring=None,
                needed_for=["lash_aim", "in_range_as_read", *_HELD],
                detail=f"Enter the range of lash wanted for the {kind} valves, cold.",
            )
    for place, position in enumerate(request.positions):

        def item(field: str, todo: str, place: int = place, own: str = position.id) -> OpenItem:
            return OpenItem(
                pointer=f"/positions/{place}/{field}",
                position=own,
                spring=None,
                needed_for=[*(["in_range_as_read"] if field == "lash" else []), *_HELD],
                detail=f"{own}: {todo}",
            )

        if position.lash is None:
            yield item("lash", "read the lash with a feeler gauge, cold, cam on its base circle.")
        elif on_grid(position.lash) == 0:
            yield item("lash", "fit a thin shim, read the lash again, and enter both.")
        if position.shim is None:
            yield item("shim", "measure the shim that is in with a micrometer; don't go by the print on it.")


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
    for place, position in enumerate(request.positions):
        if position.lash is not None and on_grid(position.lash) == 0:
            thinner = [size for size in worked.plan.left if position.shim is None or size < position.shim]
            thin = f"{_length(min(thinner))}, the thinnest that is left," if thinner else "a thin one"
            detail = (
                f"{position.id}: no lash, so its shim is too thick, nobody knows by how much. Do not run it: the valve "
                f"may not seat. Fit {thin} and read again."
            )
            yield _note("no_lash", f"/positions/{place}/lash", detail)


def _unusual(request: LashShimsRequest) -> Iterator[Note]:
    for place, position in enumerate(request.positions):
        for field, rule in (("lash", USUAL_LASH), ("shim", USUAL_LASH_SHIM)):
            reading = getattr(position, field)
            if reading is not None and on_grid(reading) > 0 and not _is_usual(reading, rule):
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
