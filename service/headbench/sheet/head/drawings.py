"""The drawings of a head: its valves in the order of work, and what its springs push over their height."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from headbench.api.head.left_out import NotFitted
from headbench.api.head.sheet import PositionLine
from headbench.api.springs.curve import DrawnCurve
from headbench.sheet.head.part import Part
from headbench.sheet.model import Circle, Drawing, Label, Lines, Shape
from headbench.sheet.numbers import OPEN, WORDS, number, shown

_Point = tuple[float, float]
_WIDTH: Final = 264.0
_HEIGHT: Final = 106.0
_IN_A_ROW: Final = 8
_INTAKE, _EXHAUST = 12.5, 10.5
_LEFT, _RIGHT, _TOP, _BOTTOM = 34.0, 258.0, 14.0, 80.0
"""The field of a graph."""
_TICKS: Final = 5


def head_drawn(part: Part) -> Drawing:
    """The valves in the order of work, each with its verdict by shape and word, and the shims under its spring."""
    places = part.places
    rows = [places[place : place + _IN_A_ROW] for place in range(0, len(places), _IN_A_ROW)]
    step = 60.0
    height = max(_HEIGHT, step * len(rows) + 26.0)
    first = 18.0 + (height - 26.0 - step * len(rows)) / 2
    shapes: list[Shape] = [_box(1.0, 14.0, _WIDTH - 1.0, height - 1.0)]
    shapes.append(Label(1.0, 9.0, "Head, in the order of work: shims under each spring", 7.0, _WIDTH, "start"))
    for row, own in enumerate(rows):
        for place, position in enumerate(own):
            across = _WIDTH / len(own)
            x, top = across * (place + 0.5), first + step * row
            if isinstance(position, NotFitted):
                shapes += _empty(position, x, top, across - 2.0)
            else:
                shapes += _valve(position, x, top, across - 2.0, part)
    told = "; ".join(f"{one.id} {'not fitted' if isinstance(one, NotFitted) else WORDS[one.verdict]}" for one in places)
    return Drawing(_WIDTH, height, f"The head in the order of work. {told}.", shapes)


def _empty(position: NotFitted, x: float, top: float, room: float) -> Iterator[Shape]:
    yield Label(x, top + 10.0, position.id, 8.0, room, strong=True)
    yield Circle(x, top + 28.0, _INTAKE if position.valve == "intake" else _EXHAUST, ink="faint")
    yield Label(x, top + 47.0, "not fitted", 6.5, room)


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
    words = {"accept": "accept", "borderline": "off target", "not_measured": "not meas.", "reject": "REJECT"}
    yield Label(x, top + 47.0, words[position.verdict], 6.5, room, strong=position.verdict != "accept")
    stack = None if position.shim_needed is None else position.shim_stack
    said = OPEN if stack is None else "no shim" if not position.shims else shown(stack, length).split()[0]
    yield Label(x, top + 56.0, said, 6.5, room)


def curves_drawn(part: Part) -> Iterator[Drawing]:
    """What the springs push over their height, and where each valve works; nothing if none is known."""
    springs = {one.spring for one in part.positions}
    curves = {name: _points(curve) for name, curve in part.curves.items() if name in springs}
    if any(curves.values()):
        yield _Graph(part, curves).drawn()


class _Graph:
    """The curves of some springs in a field of their own."""

    def __init__(self, part: Part, curves: Mapping[str, Sequence[_Point]]) -> None:
        self._part = part
        self._used = part.answer.units
        self._curves = curves
        points = [point for curve in curves.values() for point in curve]
        worked = [height for one in part.positions for height in (one.installed_height, one.open_height)]
        self._short, self._tall = _ends(
            [height for height in (*(at for at, _ in points), *worked) if height is not None]
        )
        self._light, self._heavy = _ends([load for _, load in points])
        self._odd = {
            one.spring
            for one in part.positions
            for check in (one.seat_load_check, one.open_load_check, one.coil_bind_clearance_check)
            if check is not None and check.verdict in {"reject", "borderline"}
        }

    def drawn(self) -> Drawing:
        """The whole graph."""
        told = f"Load over height of springs {', '.join(self._curves)}."
        odd = [name for name in self._curves if name in self._odd]
        if odd:
            told += f" Drawn heavier, because a load or a clearance is off: {', '.join(odd)}."
        return Drawing(_WIDTH, _HEIGHT, told, [*self._field(), *self._lines(), *self._marks()])

    def _at(self, height: float, load: float) -> _Point:
        x = _LEFT + (_RIGHT - _LEFT) * (self._tall - height) / (self._tall - self._short)
        return x, _BOTTOM - (_BOTTOM - _TOP) * (load - self._light) / (self._heavy - self._light)

    def _field(self) -> Iterator[Shape]:
        title = f"Load {self._used.force} over height {self._used.length}; dots: where valves work"
        yield Label(1.0, 9.0, title, 7.0, _WIDTH, "start")
        for load in _ticks(self._light, self._heavy):
            _, y = self._at(self._short, load)
            yield Lines([(_LEFT, y), (_RIGHT, y)], "faint")
            yield Label(_LEFT - 3.0, y + 2.5, f"{load:g}", 6.5, 30.0, "end")
        for height in _ticks(self._short, self._tall):
            x, _ = self._at(height, self._light)
            yield Lines([(x, _TOP), (x, _BOTTOM)], "faint")
            yield Label(x, _BOTTOM + 9.0, f"{height:.4g}", 6.5, 40.0)
        yield _box(_LEFT, _TOP, _RIGHT, _BOTTOM)

    def _lines(self) -> Iterator[Shape]:
        for name, curve in self._curves.items():
            line = [self._at(*point) for point in curve]
            if len(line) < 2:  # noqa: PLR2004 - ends of a line
                continue
            yield Lines(line, "strong" if name in self._odd else "thin")
            if name in self._odd:
                x, y = line[len(line) // 2]
                yield Label(x + 2.0, y + 9.0, name, 7.0, 60.0, "start", strong=True)
        if self._odd & set(self._curves):
            yield Label(_LEFT, _BOTTOM + 25.0, "heavy line: a load or clearance is off", 6.5, 150.0, "start")

    def _marks(self) -> Iterator[Shape]:
        """Where the valves work: each by a dot, and the middle of all."""
        positions = self._part.positions
        for word, places in (
            ("closed", [(one.installed_height, one.seat_load) for one in positions]),
            ("open", [(one.open_height, one.open_load) for one in positions]),
        ):
            known = [height for height, _ in places if height is not None]
            if known:
                mean = sum(known) / len(known)
                x, _ = self._at(mean, self._light)
                yield Lines([(x, _TOP), (x, _BOTTOM)], dashed=True)
                yield Label(x, _BOTTOM + 17.0, f"{word}, mean {number(mean, self._used.length)}", 6.5, 90.0)
            for height, pushed in places:
                if height is not None and pushed is not None and self._light <= pushed <= self._heavy:
                    yield Circle(*self._at(height, pushed), 1.3, ink="strong")


def _points(curve: DrawnCurve) -> list[_Point]:
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
