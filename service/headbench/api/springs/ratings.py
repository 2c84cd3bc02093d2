"""Ratings: springs that were read against what their data sheets print."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.springs.spring import Spring
from headbench.api.springs.tested import TestedSprings
from headbench.api.vocabulary.checks import PercentCheck, percent_check
from headbench.api.vocabulary.findings import OpenItem
from headbench.calc.judging.limits import LOAD_LOSS_MAXIMUM
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict, at_most, setting_verdict, within
from headbench.calc.springs.loads import load_loss
from headbench.calc.springs.spring_set import SpringSet, bind_height

LoadLoss = Annotated[
    PercentCheck | None,
    Meta(description="Load lost against the rating, at the rated height; null = no rating given and no limit set."),
]
RatingDeviation = Annotated[
    PercentCheck | None,
    Meta(description="Load against the rating, within its printed tolerance; null = no tolerance given."),
]

_NOT_MEASURED: Final = int(Verdict.NOT_MEASURED)


def against_rating(
    spring: Spring, springs: SpringSet, limit: float | None, *, misses_reject: bool
) -> tuple[PercentCheck | None, PercentCheck | None]:
    """A spring's loss, and its deviation within the printed tolerance; `limit` is the one the job sets, if any."""
    rating = spring.rating
    if rating is None:
        # a limit that is set while nothing can be held against it
        return (None if limit is None else percent_check(math.nan, limit, "at_most", _NOT_MEASURED)), None
    most = LOAD_LOSS_MAXIMUM.value if limit is None else limit
    # only what was read on a tester, at about that height, can have lost something
    read = springs.is_proven(rating.height) and not is_closed(rating.height - bind_height(springs))
    loss = load_loss(springs.load_at(rating.height), rating.load) if read else math.nan
    lost = percent_check(loss, most, "at_most", setting_verdict(at_most(loss, most), misses_reject=misses_reject))
    if rating.load_tolerance is None:
        return lost, None
    verdict = setting_verdict(within(-loss, rating.load_tolerance), misses_reject=misses_reject)
    return lost, percent_check(-loss, rating.load_tolerance, "within", verdict)


def open_ratings(
    springs: Sequence[Spring], losses: Sequence[PercentCheck | None], tested: TestedSprings
) -> Iterator[OpenItem]:
    """Ratings that wait for a reading near their height, and limits that wait for a rating."""
    again = {runs.spring: runs.pointer for runs in tested.apart}
    for place, (spring, loss) in enumerate(zip(springs, losses, strict=True)):
        if loss is None or loss.verdict != "not_measured":
            continue
        if spring.rating is None:
            pointer, needed_for = f"/springs/{place}/rating", ["load_loss_check"]
            what = "enter its rated load, height and rate; a load-loss limit is set."
        else:
            pointer, needed_for = f"/springs/{place}/load_curve", ["load_loss_check", "rated_load_check"]
            inner = ", its inner springs too," if spring.nested and not spring.tested_together else ""
            what = f"test it{inner} at the height of its rating."
            if spring.id in again:
                # two runs that disagree prove nothing at any height
                pointer, what = again[spring.id], "test it again."
        yield OpenItem(
            pointer=pointer,
            position=None,
            spring=spring.id,
            needed_for=needed_for,
            detail=f"Spring {spring.id}: {what}",
        )
