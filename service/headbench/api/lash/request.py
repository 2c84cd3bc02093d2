"""Lash readings: shims that are in and lash that was read, the range wanted, and the shims at hand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.exchange.envelope import Job, JobAsked
from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.positions import MOST_POSITIONS, PositionModel, repeated_ids
from headbench.api.vocabulary.quantities import Length, Model, PositiveLength, Ratio, Units
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import by_default
from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.possible import is_possible
from headbench.calc.lash.limits import (
    LASH_AIM_SHARE,
    LASH_SHIM_STEP,
    POSSIBLE_LASH_SHIM,
    POSSIBLE_LASH_WANTED,
    POSSIBLE_SHIM_RATIO,
)
from headbench.errors import Pointed

_MOST_SIZES: Final = 64


class LashTarget(Model, kw_only=True, frozen=True):
    """Lash wanted of one kind of valve, cold."""

    lash_minimum: Annotated[PositiveLength, Meta(description="Tight end of the range.", examples=[0.15])]
    lash_maximum: Annotated[PositiveLength, Meta(description="Wide end of the range.", examples=[0.25])]
    lash_aim: Annotated[
        PositiveLength | None,
        Meta(
            description="Lash aimed at inside the range. Null = the middle for intake, "
            f"{100 * LASH_AIM_SHARE.values[1]:g} percent of the way from the tight to the wide end for exhaust valves: "
            "their seats sink most, which closes lash.",
            examples=[0.20],
        ),
    ] = None
    shim_ratio: Annotated[
        Ratio,
        Meta(
            description="How far the shim's point moves for the lash where it is read: 1 for buckets, the finger's "
            "ratio where lash is read at the cam and the shim lies on the valve.",
            examples=[1.0],
        ),
    ] = 1.0

    def slips(self) -> Iterator[str]:
        """The fields that cannot be right; the whole counts as not given then."""
        for field in ("lash_minimum", "lash_maximum"):
            if not is_possible(getattr(self, field), POSSIBLE_LASH_WANTED):
                yield field
        if not is_possible(self.shim_ratio, POSSIBLE_SHIM_RATIO):
            yield "shim_ratio"


class LashTargets(Model, kw_only=True, frozen=True):
    """Lash wanted of the intake and of the exhaust valves."""

    intake: Annotated[
        LashTarget | None,
        Meta(description="Intake valves; null = not given.", examples=[{"lash_minimum": 0.15, "lash_maximum": 0.25}]),
    ] = None
    exhaust: Annotated[
        LashTarget | None,
        Meta(description="Exhaust valves; null = not given.", examples=[{"lash_minimum": 0.25, "lash_maximum": 0.35}]),
    ] = None


class LashPosition(PositionModel, kw_only=True, frozen=True):
    """One valve's lash, and the shim that is in."""

    shim: Annotated[
        PositiveLength | None,
        Meta(
            description="The shim that is in, as measured: the size printed on it wears off and lies. Null = not "
            "measured.",
            examples=[2.60],
        ),
    ] = None
    lash: Annotated[
        Length | None,
        Meta(
            description="Lash read cold, cam on its base circle. 0 = no gauge goes in: how much too thick the shim is "
            "can't be told from that, nor from less than the thinnest feeler reads. Null = not measured.",
            examples=[0.28],
        ),
    ] = None


class StockShim(Model, kw_only=True, frozen=True):
    """Shims of one size in the drawer."""

    thickness: Annotated[PositiveLength, Meta(description="Their thickness, as measured.", examples=[2.65])]
    count: Annotated[Annotated[int, Meta(ge=0, le=1000)], Meta(description="How many there are.", examples=[2])]

    @property
    def can_be_right(self) -> bool:
        """Whether there are such shims; one whose decimal point slipped is dealt to nobody."""
        return is_possible(self.thickness, POSSIBLE_LASH_SHIM)


class ShimsSold(Model, kw_only=True, frozen=True):
    """The sizes that can be bought."""

    step: Annotated[PositiveLength | None, by_default(LASH_SHIM_STEP, "Step of the sizes, counted from zero.")] = None
    thinnest: Annotated[
        PositiveLength | None, Meta(description="Thinnest that is sold; null = any.", examples=[1.20])
    ] = None
    thickest: Annotated[
        PositiveLength | None, Meta(description="Thickest that is sold; null = any.", examples=[3.60])
    ] = None


class LashShimsRequest(Model, kw_only=True, frozen=True):
    """The lash of an overhead-cam head, and the shims there are."""

    units: Units = Units()
    job: JobAsked = Job()
    targets: Annotated[
        LashTargets,
        Meta(description="Lash wanted, cold.", examples=[{"intake": {"lash_minimum": 0.15, "lash_maximum": 0.25}}]),
    ] = LashTargets()
    stock: Annotated[
        list[StockShim],
        Meta(
            max_length=_MOST_SIZES,
            description="The drawer, each size once. Shims that come out of this head are counted by themselves.",
            examples=[[{"thickness": 2.65, "count": 2}]],
        ),
    ] = []
    shims_sold: Annotated[
        ShimsSold, Meta(description="What can be bought.", examples=[{"step": 0.05, "thinnest": 1.2, "thickest": 3.6}])
    ] = ShimsSold()
    positions: Annotated[
        list[LashPosition],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work.",
            examples=[[{"id": "1I", "valve": "intake", "shim": 2.60, "lash": 0.28}]],
        ),
    ]


def lash_faults(request: LashShimsRequest) -> Iterator[Pointed]:
    """What of a request contradicts itself."""
    yield from repeated_ids([position.id for position in request.positions], "/positions", "position")
    for kind in KINDS:
        target: LashTarget | None = getattr(request.targets, kind)
        if target is None:
            continue
        low, high = target.lash_minimum, target.lash_maximum
        if low > high:
            detail = f"maximum lash {say(high, 'length')} is below the minimum {say(low, 'length')}"
            yield Pointed(f"/targets/{kind}/lash_maximum", detail)
        elif target.lash_aim is not None and not low <= target.lash_aim <= high:
            detail = (
                f"{say(target.lash_aim, 'length')} is outside the range {say(low, 'length')} to {say(high, 'length')}"
            )
            yield Pointed(f"/targets/{kind}/lash_aim", detail)
    first: dict[int, int] = {}
    for place, one in enumerate(request.stock):
        if first.setdefault(on_grid(one.thickness), place) != place:
            detail = f"shim size {say(one.thickness, 'length')} is listed twice; keep one with the count of both"
            yield Pointed(f"/stock/{place}/thickness", detail)
    sold = request.shims_sold
    if sold.thinnest is not None and sold.thickest is not None and sold.thickest < sold.thinnest:
        yield Pointed("/shims_sold/thickest", "thickest is below thinnest; swap them")
