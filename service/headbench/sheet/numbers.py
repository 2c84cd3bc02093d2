"""Numbers as sheets have them: in the places a bench reads."""

from __future__ import annotations

from typing import Final

from headbench import units
from headbench.api.vocabulary.checks import VerdictName
from headbench.api.vocabulary.quantities import UnitsUsed
from headbench.api.vocabulary.saying import in_places

OPEN: Final = "__"
"""A number that is not measured yet."""
WORDS: Final[dict[VerdictName, str]] = {
    "accept": "accept",
    "borderline": "borderline",
    "not_measured": "NOT MEASURED",
    "reject": "REJECT",
}
"""Verdicts as they are printed; those that must not be overlooked are loud."""
MARKS: Final[dict[VerdictName, str]] = {"accept": " ", "borderline": "~", "not_measured": "?", "reject": "!"}
"""Verdicts beside a number."""

_PURE: Final = {"%": "percent", "times": "ratio", "": "count"}
"""Units of numbers without one, as sheets write them: what `units.places` calls them."""


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
    """A number in a table: every place a bench reads, so that columns line up.

    >>> number(1.75, "in"), number(0.004, "in", signed=True), number(None, "in")
    ('1.7500', '+0.0040', '__')
    """
    if value is None:
        return OPEN
    places = most_places(unit)
    value = round(value, places) + 0.0
    return f"{value:{'+' if signed and value else ''}.{places}f}"


def shown(value: float, unit: str, *, signed: bool = False) -> str:
    """A number in a sentence, with its unit.

    >>> shown(0.06, "in"), shown(5.0, "%", signed=True)
    ('0.060 in', '+5 %')
    """
    text = in_places(value, _PURE.get(unit, unit))
    return f"{'+' if signed and value > 0.0 else ''}{text} {unit}".rstrip()
