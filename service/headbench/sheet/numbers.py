"""Numbers as sheets have them: in the places a bench reads."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from headbench import units
from headbench.api.vocabulary.checks import VerdictName
from headbench.api.vocabulary.quantities import UnitsUsed
from headbench.api.vocabulary.saying import in_places

OPEN: Final = "__"
"""A number that is not measured yet."""
WORDS: Final[dict[VerdictName, str]] = {
    "accept": "accept",
    "borderline": "you decide",
    "not_measured": "NOT MEASURED",
    "reject": "REJECT",
}
"""Verdicts as they are printed; those that must not be overlooked are loud."""
MARKS: Final[dict[VerdictName, str]] = {"accept": " ", "borderline": "~", "not_measured": "?", "reject": "!"}
"""Verdicts beside a number."""

_PURE: Final = {"%": "percent", "times": "ratio", "": "count"}
"""Units of numbers without one, as sheets write them: what `units.places` calls them."""


_SPOKEN: Final = {
    "in": "inches", "mm": "millimeters", "lbf": "pounds", "N": "newtons", "kgf": "kilograms-force", "g": "grams",
    "kg": "kilograms", "oz": "ounces", "lb": "pounds",
}  # fmt: skip
"""Units as they are spoken."""


def units_told(used: UnitsUsed) -> str:
    """What lengths, loads and weights are in, as a person says it.

    >>> from headbench.api.vocabulary.quantities import units_used
    >>> units_told(units_used())
    'lengths in inches, loads in pounds, weights in grams'
    """
    length, force, mass = (_SPOKEN[unit] for unit in (used.length, used.force, used.mass))
    return f"lengths in {length}, loads in {force}, weights in {mass}"


def unit_of(quantity: str, used: UnitsUsed) -> str:
    """The unit a quantity is written in.

    >>> from headbench.api.vocabulary.quantities import units_used
    >>> unit_of("length", units_used()), unit_of("percent", units_used())
    ('in', '%')
    """
    written = {"percent": "%", "ratio": "times", "count": ""}
    return written[quantity] if quantity in written else str(getattr(used, quantity))


def most_places(unit: str) -> int:
    """The decimals of a number in a table."""
    places = units.places(_PURE.get(unit, unit))
    return 3 if places is None else places.most


def number(value: float | None, unit: str, *, signed: bool = False) -> str:
    """A number in a table: the places a bench always reads, and those beyond only where they were read.

    >>> number(1.75, "in"), number(1.8485, "in"), number(0.004, "in", signed=True), number(88, "g"), number(None, "in")
    ('1.750', '1.8485', '+0.004', '88.0', '__')
    >>> number(0.85, "lbf"), number(0.851, "lbf")
    ('0.9', '0.9')
    """
    if value is None:
        return OPEN
    places = most_places(unit)
    # a half goes up as it is written, whatever the float beside it is
    value = float(Decimal(repr(value)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)) + 0.0
    text = f"{value:{'+' if signed and value else ''}.{places}f}"
    read = units.places(unit)
    if read is None or not read.least:
        return text
    whole, _, fraction = text.partition(".")
    return f"{whole}.{fraction.rstrip('0').ljust(read.least, '0')}"


def shown(value: float, unit: str, *, signed: bool = False) -> str:
    """A number in a sentence, with its unit.

    >>> shown(0.06, "in"), shown(5.0, "%", signed=True)
    ('0.060 in', '+5 %')
    """
    text = in_places(value, _PURE.get(unit, unit))
    return f"{'+' if signed and value > 0.0 else ''}{text} {unit}".rstrip()
