"""Followed: the functions a measured height passes through, from the body of a request to the sheet.

A job of one position, everything read at it, is decoded, answered and encoded, and every function that is entered
meanwhile is counted: those of the package, and apart from them those of numpy and pint. Comprehensions are part of the
function they stand in. The framework around is left out; so are numpy's ufuncs, which no profile sees.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FrameType
from typing import Any, Final

import msgspec
import numpy as np
import pint
from tests.benchmarks.beside_echo import HEAD
from tests.benchmarks.jobs import whole_head
from tests.benchmarks.table import Row

import headbench
from headbench.api.exchange.decoding import decode

_FOLDERS: Final = {module.__name__: str(Path(str(module.__file__)).parent) for module in (headbench, np, pint)}

_INSIDE: Final = {"<listcomp>", "<setcomp>", "<dictcomp>", "<genexpr>"}

Entered = dict[str, Counter[CodeType | str]]
"""By package: how often each of its functions was entered."""


def answer(body: bytes) -> bytes:
    """From the body of a request to that of its answer, without the framework."""
    return msgspec.json.encode(HEAD(decode(body, HEAD.request)))


def follow(body: bytes) -> Entered:
    """Answer once and count."""
    entered: Entered = {name: Counter() for name in _FOLDERS}

    def watch(frame: FrameType, event: str, called: Any) -> None:
        if event == "call" and frame.f_code.co_name not in _INSIDE:
            for name, folder in _FOLDERS.items():
                if frame.f_code.co_filename.startswith(folder):
                    entered[name][frame.f_code] += 1
        elif event == "c_call":
            home = called.__module__ or type(called.__self__).__module__
            package = home.partition(".")[0]
            if package in entered:
                entered[package][called.__qualname__] += 1

    # what is made with the first request is not part of one
    answer(body)
    sys.setprofile(watch)
    try:
        answer(body)
    finally:
        sys.setprofile(None)
    return entered


def measure() -> Iterator[Row]:
    """One line."""
    entered = follow(json.dumps(whole_head(1)).encode())
    own = entered.pop(headbench.__name__)
    others = ", ".join(f"{counted.total():,} calls of {len(counted)} in {name}" for name, counted in entered.items())
    yield Row(
        "one position followed from body to sheet: functions passed",
        f"{len(own):,} functions, {own.total():,} calls ({others})",
        "counted",
    )
