"""Readiness: whether this process takes more work, and why not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass
class Readiness:
    """What keeps a process from taking work; is_stopping: it was told to end."""

    is_stopping: bool = False


READINESS: Final = Readiness()
"""That of this process."""
