"""Loaded by every Python that starts with this folder on its path: notes what is imported, and hides what must not be.

The environment of the tests holds more than the service ships with, and libraries import what they find. Whatever the
file named in LOCK_ALONE_HIDDEN lists is not there; every other import goes into the file named in LOCK_ALONE_NOTES.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType


class _Notes(MetaPathFinder):
    """Asked first for every module."""

    def __init__(self, hidden: Path, notes: Path) -> None:
        self._hidden = frozenset(hidden.read_text().split())
        self._notes = os.open(notes, os.O_WRONLY | os.O_APPEND | os.O_CREAT)

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Find nothing: hide the module, or note it and leave it to the others."""
        del target
        if path is None:
            if fullname in self._hidden:
                raise ModuleNotFoundError(f"No module named {fullname!r}", name=fullname)
            os.write(self._notes, f"{fullname}\n".encode())
        return None


sys.meta_path.insert(0, _Notes(Path(os.environ["LOCK_ALONE_HIDDEN"]), Path(os.environ["LOCK_ALONE_NOTES"])))
