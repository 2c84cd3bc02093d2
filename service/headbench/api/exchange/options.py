"""Options of routes, by which those who stand around all routes tell them apart."""

from __future__ import annotations

from typing import Final

OPEN: Final = "open"
"""It takes requests without a key, and as many as come."""

PACKED: Final = "packed"
"""It packs what it sends itself."""
