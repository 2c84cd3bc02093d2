"""Valves: the two kinds there are."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta

ValveKind = Literal["intake", "exhaust"]


KINDS: tuple[ValveKind, ...] = ("intake", "exhaust")


Valve = Annotated[ValveKind, Meta(description="Which kind of valve sits here.", examples=["intake"])]
