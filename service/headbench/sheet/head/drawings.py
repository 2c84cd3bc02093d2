"""The drawings of a head: its valves in the order of work, and what its springs push over their height."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from headbench.api.head.sheet import PositionLine
from headbench.api.springs.curve import DrawnCurve
from headbench.sheet.head.part import Part
from headbench.sheet.model import Circle, Drawing, Label, Lines, Shape
from headbench.sheet.numbers import OPEN, WORDS, number, shown

_WIDTH: Final = 264.0
_HEIGHT: Final = 118.0
_IN_A_ROW: Final = 8
_INTAKE, _EXHAUST = 12.5, 10.5
_LEFT, _RIGHT, _TOP, _BOTTOM = 34.0, 258.0, 14.0, 92.0
"""The field of a graph."""
_TICKS: Final = 5


def head_drawn(part: Part) -> Drawing:
    """The valves in the order of work, each with its verdict by shape and word, and the shims under its spring."""
    positions = part.positions
    rows = [positions[place : place + _IN_A_ROW] for place in range(0, len(positions), _IN_A_ROW)]
    step = 74.0
    height = max(_HEIGHT, step * len(rows) + 26.0)
    first = 18.0 + (height - 26.0 - step * len(rows)) / 2
    shapes: list[Shape] = [_box(1.0, 14.0, _WIDTH - 1.0, height - 1.0)]
    shapes.append(Label(1.0, 9.0, "Head, in the order of work: shims under each spring", 7.0, _WIDTH, "start"))
    for row, own in enumerate(rows):
        for place, position in enumerate(own):
            across = _WIDTH / len(own)
            shapes += _valve(position, across * (place + 0.5), first + step * row, across - 2.0, part)
    told = "; ".join(f"{one.id} {WORDS[one.verdict]}" for one in positions)
    return Drawing(_WIDTH, height, f"The head in the order of work. {told}.", shapes)


def _valve(position: PositionLine, x: float, top: float, room: float, part: Part) -> Iterator[Shape]:
    radius = _INTAKE if position.valve == "intake" else _EXHAUST
    y = top + 28.0
    yield Label(x, top + 10.0, position.id, 8.0, room, strong=True)
    yield Circle(x, y, radius, position.verdict)
    match position.verdict:
        case "reject":
            reach = radius * math.sqrt(0.5)
            yield Lines([(x - reach, y - reach), (x + reach, y + reach)], "strong")
            yield Lines([(x - reach, y + reach), (x + reach, y - reach)], "strong")
        case "borderline":
            yield Label(x, y + 4.0, "~", 12.0, room, strong=True)
        case "not_measured":
            yield Label(x, y + 4.0, "?", 11.0, room, strong=True)
        case "accept":
            yield Lines([(x - 4.0, y), (x - 1.0, y + 3.5), (x + 5.0, y - 4.0)], "plain")
    length = part.answer.units.length
    words = {"accept": "accept", "borderline": "decide", "not_measured": "not meas.", "reject": "REJECT"}
    yield Label(x, top + 47.0, words[position.verdict], 6.5, room, strong=position.verdict != "accept")
    stack = None if position.shim_needed is None else position.shim_stack
    said = OPEN if stack is None else "no shim" if not position.shims else shown(stack, length).split()[0]
    yield Label(x, top + 56.0, said, 6.5, room)


def curves_drawn(part: Part) -> Iterator[Drawing]:
    """What the springs push over their height, with the heights they work at; nothing if none is known."""
    springs = {one.spring for one in part.positions}
    curves = {name: curve for name, curve in part.curves.items() if name in springs}
    points = [point for curve in curves.values() for point in _points(curve)]
    if not points:
        return
    used = part.answer.units
    worked = [
        height for one in part.positions for height in (one.installed_height, one.open_height) if height is not None
    ]
    short, tall = _ends([height for height, _ in points] + worked)
    light, heavy = _ends([load for _, load in points])

    def at(height: float, load: float) -> tuple[float, float]:
        x = _LEFT + (_RIGHT - _LEFT) * (tall - height) / (tall - short)
        return x, _BOTTOM - (_BOTTOM - _TOP) * (load - light) / (heavy - light)

    title = f"Load {used.force} over height {used.length}; dots: where valves work"
    shapes: list[Shape] = [
        Label(_LEFT - 33.0, 9.0, title, 7.0, _WIDTH, "start"),
        _box(_LEFT, _TOP, _RIGHT, _BOTTOM),
    ]
    for load in _ticks(light, heavy):
        _, y = at(short, load)
        shapes += [
            Lines([(_LEFT, y), (_RIGHT, y)], "faint"),
            Label(_LEFT - 3.0, y + 2.5, f"{load:g}", 6.5, 30.0, "end"),
        ]
    for height in _ticks(short, tall):
        x, _ = at(height, light)
        shapes += [Lines([(x, _TOP), (x, _BOTTOM)], "faint"), Label(x, _BOTTOM + 9.0, f"{height:.4g}", 6.5, 40.0)]
    odd = {
        one.spring
        for one in part.positions
        for check in (one.seat_load_check, one.open_load_check, one.coil_bind_clearance_check)
        if check is not None and check.verdict in {"reject", "borderline"}
    }
    for name, curve in curves.items():
        line = [at(*point) for point in _points(curve)]
        shapes.append(Lines(line, "strong" if name in odd else "thin"))
        if name in odd:
            x, y = line[len(line) // 2]
            shapes.append(Label(x + 2.0, y + 9.0, name, 7.0, 60.0, "start", strong=True))
    for word, field in (("closed", "installed_height"), ("open", "open_height")):
        known = [height for one in part.positions if (height := getattr(one, field)) is not None]
        if known:
            mean = sum(known) / len(known)
            x, _ = at(mean, light)
            shapes += [
                Lines([(x, _TOP), (x, _BOTTOM)], dashed=True),
                Label(x, _BOTTOM + 17.0, f"{word}, mean {number(mean, used.length)}", 6.5, 90.0),
            ]
    for one in part.positions:
        for height, pushed in ((one.installed_height, one.seat_load), (one.open_height, one.open_load)):
            if height is not None and pushed is not None and light <= pushed <= heavy:
                shapes.append(Circle(*at(height, pushed), 1.3, ink="strong"))
    told = f"Load over height of springs {', '.join(curves)}."
    if odd:
        told += f" Drawn heavier, a load or a clearance is off: {', '.join(sorted(one for one in odd if one))}."
        shapes.append(Label(_LEFT, _BOTTOM + 25.0, "heavy: a load or clearance is off", 6.5, 150.0, "start"))
    yield Drawing(_WIDTH, _HEIGHT, told, shapes)


def _points(curve: DrawnCurve) -> list[tuple[float, float]]:
    pairs = zip(curve.heights, curve.loads, strict=True)
    return [(height, load) for height, load in pairs if load is not None]


def _ends(values: Sequence[float]) -> tuple[float, float]:
    """The ends of an axis: those of the values and a little more."""
    low, high = min(values), max(values)
    more = 0.04 * (high - low) or 0.04 * abs(high) or 1.0
    return low - more, high + more


def _ticks(low: float, high: float) -> list[float]:
    """Round numbers, evenly apart, between the ends of an axis."""
    rough = (high - low) / _TICKS
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(one * power for one in (1.0, 2.0, 2.5, 5.0, 10.0) if one * power >= rough * (1.0 - 1e-9))
    return [round(step * place, 9) + 0.0 for place in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _box(left: float, top: float, right: float, bottom: float) -> Lines:
    return Lines([(left, top), (right, top), (right, bottom), (left, bottom), (left, top)])
