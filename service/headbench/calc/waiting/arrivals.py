"""Arrivals: between which days a part is here, by what was said of it, and no day that nobody named."""

from __future__ import annotations

from typing import Literal, NamedTuple

Basis = Literal["in_hand", "arrival_known", "promised", "lead_time", "lead_time_from_today", "nothing"]


class PartTerms(NamedTuple):
    """What is known of a part; None is what nobody said.

    needed, in_hand : int, how many [-]
    ordered : int or None, day it was ordered [day]
    promised : tuple (2,) or None, first and last day it was promised for [day]
    lead : tuple (2,) or None, least and most days from order to arrival [day]
    known : int or None, day on which it is known to come [day]
    """

    needed: int = 1
    in_hand: int = 0
    ordered: int | None = None
    promised: tuple[int, int] | None = None
    lead: tuple[int, int] | None = None
    known: int | None = None


class Arrival(NamedTuple):
    """When a part is here.

    basis : str, what the days rest on [-]
    soonest, latest : int or None, between which days; None where no day is known [day]
    late_by : int or None, how long ago its last day was; None where that is still to come [day]
    """

    basis: Basis
    soonest: int | None
    latest: int | None
    late_by: int | None = None

    @property
    def is_here(self) -> bool:
        """Whether nothing of it is outstanding.

        >>> arrival_of(PartTerms(needed=16, in_hand=16), 100).is_here
        True
        """
        return self.basis == "in_hand"


def arrival_of(part: PartTerms, today: int) -> Arrival:
    """Days between which a part is here: a known day, else the promise, else order + lead time, else none.

    Parameters
    ----------
    part : PartTerms
        What is known of it [-]
    today : int
        The day on which all this is so [day]

    Returns
    -------
    Arrival

    Notes
    -----
    A part that is late has no day any more: the one it had has passed, and another is for its supplier to name.
    Where a range has begun the soonest is today. One not ordered yet comes by its lead time if it is ordered today.
    Own derivation.

    >>> arrival_of(PartTerms(ordered=100, lead=(35, 42)), 110)
    Arrival(basis='lead_time', soonest=135, latest=142, late_by=None)
    >>> arrival_of(PartTerms(ordered=100, lead=(35, 42)), 156)
    Arrival(basis='lead_time', soonest=None, latest=None, late_by=14)
    """
    if part.in_hand >= part.needed:
        return Arrival("in_hand", today, today)
    basis, days = _said(part, today)
    if days is None:
        return Arrival(basis, None, None)
    soonest, latest = days
    if latest < today:
        return Arrival(basis, None, None, late_by=today - latest)
    return Arrival(basis, max(soonest, today), latest)


def _said(part: PartTerms, today: int) -> tuple[Basis, tuple[int, int] | None]:
    """What the days of a part rest on, and the days as they were said."""
    if part.known is not None:
        return "arrival_known", (part.known, part.known)
    if part.promised is not None:
        return "promised", part.promised
    if part.lead is None:
        return "nothing", None
    least, most = part.lead
    if part.ordered is None:
        return "lead_time_from_today", (today + least, today + most)
    return "lead_time", (part.ordered + least, part.ordered + most)
