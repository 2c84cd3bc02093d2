"""Tester: the known loads a spring tester was checked with; every reading of the job is corrected by them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Protocol

from msgspec import Meta

from headbench.api.vocabulary.quantities import Force, Model
from headbench.api.vocabulary.saying import say
from headbench.calc.gauges.tester import calibrated, find_calibration_faults
from headbench.errors import Pointed


class KnownLoad(Model, kw_only=True, frozen=True):
    """A known load on the tester, and what it showed."""

    applied: Annotated[Force, Meta(description="The known load.", examples=[100.0])]
    indicated: Annotated[Force, Meta(description="What the tester showed under it.", examples=[101.0])]


class KnownPair(Protocol):
    """What is on a tester or a scale, and what it shows."""

    @property
    def applied(self) -> float:
        """What was put on it."""

    @property
    def indicated(self) -> float:
        """What it showed."""


class Tester(Model, kw_only=True, frozen=True):
    """The tester that all readings of the job were taken on."""

    calibration: Annotated[
        list[KnownLoad],
        Meta(
            min_length=1,
            max_length=20,
            description="Known loads in any order. One gives a scale factor; between more the correction is straight.",
            examples=[[{"applied": 100, "indicated": 101}, {"applied": 300, "indicated": 302}]],
        ),
    ]


def corrected(load: Sequence[float], tester: Tester | None) -> list[float]:
    """Loads as read, corrected if the tester was checked."""
    if tester is None:
        return list(load)
    known = calibrated(*pairs_of(tester.calibration))
    return [known.true_load(one) for one in load]


def pairs_of(known: Sequence[KnownPair]) -> tuple[list[float], list[float]]:
    """What was indicated, and what was applied."""
    return [one.indicated for one in known], [one.applied for one in known]


def tester_faults(tester: Tester | None) -> Iterator[Pointed]:
    """Known loads that make no correction."""
    if tester is None:
        return
    yield from calibration_faults(tester.calibration, "force", "/tester/calibration")


def calibration_faults(known: Sequence[KnownPair], quantity: str, pointer: str) -> Iterator[Pointed]:
    """Pairs of what was applied and indicated that make no correction, of a tester or a scale."""
    indicated, applied = pairs_of(known)
    for fault, first, second in find_calibration_faults(indicated, applied):
        match fault:
            case "repeats":
                detail = f"{say(indicated[second], quantity)} is indicated twice; enter each indication once"
            case "falls":
                detail = (
                    f"{say(applied[second], quantity)} shows more than {say(applied[first], quantity)}; the indication "
                    "must rise with what is on it"
                )
            case "no scale":
                detail = "a single known load and its indication must both be above zero"
        yield Pointed(f"{pointer}/{second}", detail)
