"""Catalogue: the parts that can be had, and the cuts that are allowed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Final, NamedTuple

from msgspec import Meta

from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.positions import repeated_ids
from headbench.api.vocabulary.quantities import Length, Model, Name, PositiveMass, SignedLength, number_of
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.possible import if_possible, is_possible
from headbench.calc.judging.rules import POSSIBLE_LOCATOR, Rule
from headbench.calc.ways_out import parts as calc
from headbench.calc.ways_out.limits import (
    POSSIBLE_LENGTH_CHANGE,
    POSSIBLE_OFFSET,
    POSSIBLE_POCKET_CUT,
)
from headbench.errors import Pointed

MOST_PARTS: Final = 12
"""Parts of one kind in a catalogue."""

_WHICH = Meta(description="The kind of valve it is for; null = both.", examples=["exhaust"])
_MASS = Meta(
    description="What it weighs, both locks together. Null = not weighed: float is figured with the part it replaces, "
    "and not accepted.",
    examples=[5.3],
)


class PartModel(Model, kw_only=True, frozen=True):
    """A part that can be had."""

    id: Annotated[Name, Meta(description="Its name in the shop.", examples=["+0.050 locks"])]
    valve: Annotated[ValveKind | None, _WHICH] = None


class Locks(PartModel, kw_only=True, frozen=True):
    """Other locks."""

    offset: Annotated[
        SignedLength | None,
        Meta(
            description="How much higher than the fitted ones they carry the retainer; negative = lower. Null = not "
            "known.",
            examples=[0.050],
        ),
    ] = None
    mass: Annotated[PositiveMass | None, _MASS] = None


class Retainer(PartModel, kw_only=True, frozen=True):
    """Another retainer."""

    offset: Annotated[
        SignedLength | None,
        Meta(
            description="How much higher than the fitted one it carries the spring, its underside and its top alike; "
            "negative = lower. Null = not known.",
            examples=[0.030],
        ),
    ] = None
    mass: Annotated[PositiveMass | None, _MASS] = None


class Locator(PartModel, kw_only=True, frozen=True):
    """Another spring locator, in place of the one that is fitted."""

    thickness: Annotated[
        Length | None,
        Meta(description="Its thickness under the spring; 0 = none is fitted. Null = not known.", examples=[0.030]),
    ] = None


class OtherValve(PartModel, kw_only=True, frozen=True):
    """Another valve."""

    length_change: Annotated[
        SignedLength | None,
        Meta(
            description="How much longer than the fitted one, from seat to lock groove and tip alike; negative = "
            "shorter. Null = not known.",
            examples=[0.100],
        ),
    ] = None
    mass: Annotated[PositiveMass | None, _MASS] = None


class PocketCut(Model, kw_only=True, frozen=True):
    """Leave to cut spring pockets deeper."""

    valve: Annotated[ValveKind | None, _WHICH] = None
    depth_maximum: Annotated[
        Length | None,
        Meta(description="Deepest that a pocket may still be cut. Null = not known.", examples=[0.060]),
    ] = None


def _listed(what: str, example: dict[str, Any]) -> Meta:
    return Meta(max_length=MOST_PARTS, description=what, examples=[[example]])


class Catalogue(Model, kw_only=True, frozen=True):
    """What can be had beside what is fitted. All valves of one kind get the same."""

    locks: Annotated[list[Locks], _listed("Other locks.", {"id": "+0.050 locks", "offset": 0.05})] = []
    retainers: Annotated[list[Retainer], _listed("Other retainers.", {"id": "deep retainer", "offset": 0.03})] = []
    locators: Annotated[list[Locator], _listed("Other locators.", {"id": "thin locator", "thickness": 0.03})] = []
    valves: Annotated[list[OtherValve], _listed("Other valves.", {"id": "valve +0.100", "length_change": 0.1})] = []
    pocket_cuts: Annotated[
        list[PocketCut],
        Meta(
            max_length=2,
            description="Where pockets may be cut deeper, each kind of valve once: only at valves that need it, each "
            "as deep as it needs.",
            examples=[[{"valve": "exhaust", "depth_maximum": 0.06}]],
        ),
    ] = []
    mixed_locks: Annotated[
        bool, Meta(description="Whether valves of one kind may have locks of two kinds.", examples=[False])
    ] = False


class Kept(NamedTuple):
    """What of a catalogue is for one kind of valve: as the kernel takes it, and the masses of its parts [kg]."""

    parts: calc.Catalogue
    masses: dict[str, tuple[float, ...]]
    places: dict[str, tuple[int, ...]]


_NUMBERS: Final[dict[str, tuple[str, Rule, str]]] = {
    "locks": ("offset", POSSIBLE_OFFSET, "how much higher than the fitted ones they carry the retainer"),
    "retainers": ("offset", POSSIBLE_OFFSET, "how much higher than the fitted one it carries the spring"),
    "locators": ("thickness", POSSIBLE_LOCATOR, "how thick it is under the spring"),
    "valves": ("length_change", POSSIBLE_LENGTH_CHANGE, "how much longer than the fitted one it is"),
    "pocket_cuts": ("depth_maximum", POSSIBLE_POCKET_CUT, "how deep pockets may still be cut"),
}
"""By its list: the number that a part is chosen by, those that are possible, and what it says."""


def _is_for(part: PartModel | PocketCut, kind: ValveKind) -> bool:
    return part.valve in {None, kind}


def kept_for(catalogue: Catalogue, kind: ValveKind) -> Kept:
    """What can be had for one kind of valve: every part whose number is known and possible."""
    found: dict[str, tuple[calc.Part, ...]] = {}
    masses: dict[str, tuple[float, ...]] = {}
    places: dict[str, tuple[int, ...]] = {}
    for name in ("locks", "retainers", "locators", "valves"):
        field, possible, _ = _NUMBERS[name]
        own = [
            (place, part, change)
            for place, part in enumerate(getattr(catalogue, name))
            if _is_for(part, kind) and not math.isnan(change := if_possible(number_of(getattr(part, field)), possible))
        ]
        found[name] = tuple(calc.Part(part.id, change) for _, part, change in own)
        masses[name] = tuple(number_of(getattr(part, "mass", None)) for _, part, _ in own)
        places[name] = tuple(place for place, *_ in own)
    cuts = (number_of(cut.depth_maximum) for cut in catalogue.pocket_cuts if _is_for(cut, kind))
    deepest = max((one for cut in cuts if not math.isnan(one := if_possible(cut, POSSIBLE_POCKET_CUT))), default=0.0)
    return Kept(calc.Catalogue(**found, pocket_cut=deepest, mixed_locks=catalogue.mixed_locks), masses, places)


def is_empty(catalogue: Catalogue) -> bool:
    """Whether nothing can be had."""
    return not any(getattr(catalogue, name) for name in _NUMBERS)


def catalogue_faults(catalogue: Catalogue) -> Iterator[Pointed]:
    """What of a catalogue contradicts itself."""
    for name in ("locks", "retainers", "locators", "valves"):
        own = [part.id for part in getattr(catalogue, name)]
        yield from repeated_ids(own, f"/catalogue/{name}", name.removesuffix("s"))
    if len(catalogue.pocket_cuts) == 2:  # noqa: PLR2004 - as many as there may be
        first, second = (cut.valve for cut in catalogue.pocket_cuts)
        if first == second or None in {first, second}:
            detail = "two pocket cuts are for the same kind of valve; keep one, or say which kind each is for"
            yield Pointed("/catalogue/pocket_cuts/1/valve", detail)


def open_parts(catalogue: Catalogue, kinds: Sequence[ValveKind]) -> Iterator[OpenItem]:
    """What is still to be entered of the parts for some kinds of valve; they are left out until then."""
    if is_empty(catalogue):
        detail = "Enter what can be had: other locks, retainers, locators, valves, or how deep pockets may be cut."
        yield _item("/catalogue", detail)
    for name, (field, possible, what) in _NUMBERS.items():
        for place, part in enumerate(getattr(catalogue, name)):
            if not any(_is_for(part, kind) for kind in kinds):
                continue
            number, named = getattr(part, field), f"{part.id}: e" if isinstance(part, PartModel) else "E"
            pointer = f"/catalogue/{name}/{place}/{field}"
            if number is None:
                yield _item(pointer, f"{named}nter {what}; it is left out until then.")
            elif not is_possible(number, possible):
                slip = f"{say(number, 'length')} can't be right, a decimal point may have slipped"
                yield _item(pointer, f"{named}nter again {what}; {slip}. It is left out until then.")


def _item(pointer: str, detail: str) -> OpenItem:
    return OpenItem(pointer=pointer, position=None, spring=None, needed_for=["ways"], detail=detail)


def id_of(catalogue: Catalogue, name: str, kept: Kept, place: int) -> str | None:
    """What a part of one kind of valve is called; None where the fitted one stays."""
    return None if place == calc.AS_FITTED else str(getattr(catalogue, name)[kept.places[name][place]].id)
