"""Load remedies: loads off their target, and what shims can do about each, worked out before it is said."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from headbench.api.head.sheet import PositionLine
from headbench.api.vocabulary.checks import PercentCheck
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import least_shown, say
from headbench.calc.head.assembly import ValveSheet
from headbench.calc.head.load_remedy import Bar, LoadRemedy, load_remedy
from headbench.calc.judging.load_target import LoadTarget
from headbench.calc.judging.touching import is_closed

_MISSED: Final = {"borderline", "reject"}


def off_target_loads(place: int, valve: ValveSheet, line: PositionLine, stack_maximum: float) -> Iterator[Note]:
    """Loads off their target, by how much, and what would bring them there."""
    targets = valve.readings.targets
    missed = [
        (what, deviation < 0.0, load, target)
        for what, check, load, target in (
            ("seat load", line.seat_load_check, valve.seat_load, targets.seat_load),
            ("open load", line.open_load_check, valve.open_load, targets.open_load),
        )
        if _is_missed(check) and not math.isnan(deviation := target.deviation(load))
    ]
    both_ways = len({is_under for _, is_under, *_ in missed}) > 1
    for what, is_under, load, target in missed:
        by = target.low - load if is_under else load - target.high
        at_full_lift = what == "open load"
        remedy = (
            "No shim stack gives both loads: change the spring."
            if both_ways
            else _told(
                load_remedy(valve, stack_maximum, least_shown("length"), at_full_lift=at_full_lift),
                valve,
                stack_maximum,
                at_full_lift=at_full_lift,
            )
        )
        detail = (
            f"{line.id}: {what} {say(load, 'force')}, {_wanted(target)} wanted: "
            f"{say(by, 'force')} {'under' if is_under else 'over'}. {remedy}"
        )
        yield note("load_off_target", f"/positions/{place}/spring", detail)


def _told(remedy: LoadRemedy, valve: ValveSheet, stack_maximum: float, *, at_full_lift: bool) -> str:
    """How much shim, where that can be laid; else what it would come to, and so: another spring."""
    amount = f"{_length(abs(remedy.more))} {'more' if remedy.more > 0.0 else 'less'} shim"
    if remedy.bar is Bar.NOTHING:
        waits = remedy.more > 0.0 and not remedy.coils_known
        return f"Fit {amount}{' once its coil bind is measured and allows it' if waits else ''}, or change the spring."
    if remedy.bar is Bar.CURVE:
        return "Test its spring at two heights to know what shims can do, or change the spring."
    if remedy.bar is Bar.COILS:
        return (
            f"{_binds(amount, remedy.comes_to, valve.readings.limits.coil_bind_clearance_minimum)}: change the spring."
        )
    targets, off = valve.readings.targets, valve.readings.limits.installed_height_tolerance
    low, high = _length(valve.target_height - off), _length(valve.target_height + off)
    other, wanted = ("seat", targets.seat_load) if at_full_lift else ("open", targets.open_load)
    in_all = (
        f"{_length(remedy.comes_to)} in all, and {_length(stack_maximum)} is the limit per pocket"
        if remedy.more > 0.0
        else f"and {_length(valve.height.shim_stack)} is in"
    )
    why = {
        Bar.POCKET: f"It takes {amount}, {in_all}",
        Bar.OTHER_LOAD: f"The {amount} for that would put the {other} load at {say(remedy.comes_to, 'force')}, "
        f"{_wanted(wanted)} wanted",
        Bar.HEIGHT: f"The {amount} for that would stand it at {_length(remedy.comes_to)}, {low.split()[0]} to {high} "
        "wanted",
    }
    return f"{why[remedy.bar]}: change the spring."


def _binds(amount: str, clearance: float, least: float) -> str:
    """What shim that is not to be laid would leave between the coils."""
    if math.isnan(clearance):
        return "No shim stack gives that before its coils touch"
    if is_closed(clearance):
        return f"It takes {amount}, and the coils would touch before full lift"
    return f"The {amount} for that would leave {_length(clearance)} before coil bind, {_length(least)} is the minimum"


def _length(value: float) -> str:
    return say(value, "length")


def _is_missed(check: PercentCheck | None) -> bool:
    return check is not None and check.verdict in _MISSED


def _wanted(target: LoadTarget) -> str:
    """The loads that are good, one end not there where only the other counts."""
    least, most = say(target.low, "force"), say(target.high, "force")
    if math.isnan(target.high):
        return f"{least} or more"
    if math.isnan(target.low):
        return f"{most} or less"
    return f"{least.split()[0]} to {most}"
