"""Vectors: a drawing on paper."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from reportlab.lib import colors
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from headbench.sheet.fitting import fitted
from headbench.sheet.model import Circle, Drawing, Label, Lines
from headbench.sheet.paper.letters import BOLD, PLAIN, drawable

FILLS: Final = {
    "reject": colors.HexColor("#ffd9d6"),
    "borderline": colors.HexColor("#fff0c2"),
    "not_measured": colors.HexColor("#e4e9f5"),
}
"""What is behind a verdict that is not accepted."""
FAINT: Final = colors.HexColor("#b5b5b5")
_PENS: Final = {"faint": 0.35, "thin": 0.3, "plain": 0.6, "strong": 1.4}
"""How wide lines are."""


class Vectors(Flowable):
    """A drawing, `scale` times as large as it was made."""

    def __init__(self, drawing: Drawing, scale: float) -> None:
        super().__init__()
        self._drawing = drawing
        self._scale = scale
        self.width, self.height = drawing.width * scale, drawing.height * scale

    def wrap(self, *_: float) -> tuple[float, float]:
        """The room it takes."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it."""
        canvas = self.canv
        canvas.saveState()
        canvas.scale(self._scale, self._scale)
        for shape in self._drawing.shapes:
            match shape:
                case Lines():
                    self._lines(canvas, shape)
                case Circle():
                    self._circle(canvas, shape)
                case Label():
                    self._label(canvas, shape)
        canvas.restoreState()

    def _up(self, y: float) -> float:
        return self._drawing.height - y

    def _lines(self, canvas: Canvas, shape: Lines) -> None:
        canvas.setStrokeColor(FAINT if shape.ink == "faint" else colors.black)
        canvas.setLineWidth(_PENS[shape.ink])
        canvas.setDash((4, 2) if shape.dashed else ())
        path = canvas.beginPath()
        (first_x, first_y), *rest = shape.points
        path.moveTo(first_x, self._up(first_y))
        for x, y in rest:
            path.lineTo(x, self._up(y))
        canvas.drawPath(path)

    def _circle(self, canvas: Canvas, shape: Circle) -> None:
        canvas.setStrokeColor(colors.black)
        canvas.setLineWidth(1.6 if shape.verdict == "reject" else 0.7)
        canvas.setDash((2, 1.5) if shape.verdict == "not_measured" else ())
        inside = colors.black if shape.ink == "strong" else colors.white
        canvas.setFillColor(FILLS.get(shape.verdict or "", inside))
        canvas.circle(shape.x, self._up(shape.y), shape.radius, fill=1)

    def _label(self, canvas: Canvas, shape: Label) -> None:
        text, size = fitted(drawable(shape.text), shape.size, shape.most)
        canvas.setFillColor(colors.black)
        canvas.setFont(BOLD if shape.strong else PLAIN, size)
        write: Callable[[float, float, str], None] = {
            "start": canvas.drawString,
            "middle": canvas.drawCentredString,
            "end": canvas.drawRightString,
        }[shape.anchor]
        write(shape.x, self._up(shape.y), text)
