"""Match wish: what is asked of a match beside the readings themselves."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.springs.spring import Spring
from headbench.api.vocabulary.names import KINDS
from headbench.api.vocabulary.positions import MOST_POSITIONS, PositionModel
from headbench.api.vocabulary.quantities import Force, Model, Name, PositiveLength
from headbench.api.vocabulary.targets import Targets, by_default, has_load
from headbench.calc.matching.choices import Goal
from headbench.calc.matching.limits import HEIGHT_WINDOW
from headbench.errors import Pointed

MOST_MATCHED: Final = 32
"""Positions that one match may have: a pair of heads with four valves a cylinder."""
MOST_SPRINGS: Final = 64
"""Springs that one match may choose from."""

_MOST_BARRED: Final = 512


class Barred(Model, kw_only=True, frozen=True):
    """A spring that may not go to a position."""

    position: Annotated[Name, Meta(description="Id of the position.", examples=["1I"])]
    spring: Annotated[Name, Meta(description="Id of the spring.", examples=["S4"])]


class MatchWish(Model, kw_only=True, frozen=True):
    """What springs are matched by."""

    equalize: Annotated[
        Goal,
        Meta(
            description="Which loads are brought near the ones wanted: seat loads, open loads, or both, the worse "
            "counting, an open load in proportion to the seat load. Where no load is wanted of a kind of valve, its "
            "loads are brought near each other.",
            examples=["seat_load"],
        ),
    ] = "seat_load"
    height_window: Annotated[
        PositiveLength | None,
        by_default(HEIGHT_WINDOW, "How far a spring may stand from its target height for it, either way."),
    ] = None
    kept: Annotated[
        list[Name],
        Meta(
            max_length=MOST_POSITIONS,
            description="Positions whose spring stays where it is; their shims are chosen.",
            examples=[["1I"]],
        ),
    ] = []
    barred: Annotated[
        list[Barred],
        Meta(
            max_length=_MOST_BARRED,
            description="Springs that may not go to a position.",
            examples=[[{"position": "1I", "spring": "S4"}]],
        ),
    ] = []
    tester_repeats: Annotated[
        Force | None,
        Meta(
            description="What your tester repeats a load to; loads nearer than that count as met in the sum. Null = "
            "not given, they count to 0.1 lbf.",
            examples=[1.0],
        ),
    ] = None


def wish_faults(
    wish: MatchWish,
    positions: Sequence[PositionModel],
    springs: Sequence[Spring],
    names: Sequence[str | None],
    targets: Targets,
    pointer: str,
) -> Iterator[Pointed]:
    """What of a wish contradicts the job; `names` is the spring that lies at every position, `pointer` the wish's."""
    if len(positions) > MOST_MATCHED:
        detail = f"springs of at most {MOST_MATCHED} positions are matched at once; send the heads one by one"
        yield Pointed("/positions", detail)
    if len(springs) > MOST_SPRINGS:
        yield Pointed("/springs", f"at most {MOST_SPRINGS} springs are matched at once; leave the worst out")
    lies = {position.id: name for position, name in zip(positions, names, strict=True)}
    yield from _lying_twice(ids=[position.id for position in positions], names=names)
    yield from _kept_faults(wish.kept, lies, f"{pointer}/kept")
    yield from _barred_faults(wish, lies, {spring.id for spring in springs}, f"{pointer}/barred")
    for kind in KINDS if wish.equalize == "both" else ():
        for load in ("seat_load", "open_load"):
            wanted = has_load(getattr(targets, kind), load)
            if not wanted and any(position.valve == kind for position in positions):
                what = load.replace("_", " ")
                detail = f"both loads are to be equalized, but no {what} is wanted of the {kind} valves"
                yield Pointed(f"/targets/{kind}/{load}", detail)


def _lying_twice(ids: Sequence[str], names: Sequence[str | None]) -> Iterator[Pointed]:
    """A spring that is entered at several positions can lie at one of them only."""
    for place, name in enumerate(names):
        if name is not None and names.count(name) > 1:
            others = ", ".join(
                own for own, other in zip(ids, names, strict=True) if other == name and own != ids[place]
            )
            detail = f"{ids[place]}: spring {name} is entered at {others}, too; enter the one that lies there, or none"
            yield Pointed(f"/positions/{place}/spring", detail)


def _kept_faults(kept: Sequence[str], lies: Mapping[str, str | None], pointer: str) -> Iterator[Pointed]:
    for place, name in enumerate(kept):
        if name not in lies:
            yield Pointed(f"{pointer}/{place}", f'no position "{name}" in this job')
            continue
        if lies[name] is None:
            yield Pointed(f"{pointer}/{place}", f"{name}: its spring is to stay, but none is entered there")


def _barred_faults(
    wish: MatchWish, lies: Mapping[str, str | None], known: Collection[str], pointer: str
) -> Iterator[Pointed]:
    for place, barred in enumerate(wish.barred):
        if barred.position not in lies:
            yield Pointed(f"{pointer}/{place}/position", f'no position "{barred.position}" in this job')
        if barred.spring not in known:
            yield Pointed(f"{pointer}/{place}/spring", f'no spring "{barred.spring}" in this job')
        elif barred.position in wish.kept and lies.get(barred.position) == barred.spring:
            detail = f"{barred.position}: spring {barred.spring} is to stay there and may not be there; take one back"
            yield Pointed(f"{pointer}/{place}/spring", detail)
