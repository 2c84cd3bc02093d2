"""Desk: what a computing process does with a message: one request, or a few lines of a batch."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeAlias

import msgspec

from headbench.api.batch.jobs import Answering, readable_id, refused
from headbench.api.batch.lines import Group
from headbench.api.computing.budget import Abandoned, OutOfTime, budgeted
from headbench.api.exchange.asking import Asked, Told, too_much_work
from headbench.api.exchange.negotiating import Form
from headbench.api.exchange.problems import refusal, told
from headbench.api.exchange.resource import Resource


class Lines(msgspec.Struct, frozen=True, tag=True):
    """Some lines of a batch."""

    group: Group


class Written(msgspec.Struct, frozen=True, tag=True):
    """The lines that answer them."""

    lines: bytes


class GivenUp(msgspec.Struct, frozen=True, tag=True):
    """Nothing, because nobody waits for it."""


Message: TypeAlias = Asked | Lines
Reply: TypeAlias = Told | Written | GivenUp


class Desk:
    """Answers messages with resources, and what else is asked by a name of its own (`others`)."""

    def __init__(
        self,
        resources: Sequence[Resource[Any, Any]],
        forms: Sequence[Form],
        others: Mapping[str, Callable[[], Told]],
    ) -> None:
        self.resources = resources
        self._by_kind = {resource.kind: resource for resource in resources}
        self._forms = forms
        self._others = others
        self._lines = Answering(resources)

    def __call__(self, message: Message) -> Reply:
        """The reply to a message, within the time that each job has."""
        try:
            if isinstance(message, Lines):
                return Written(b"".join(self._line(number, raw) for number, raw in message.group))
            return self._told(message)
        except Abandoned:
            return GivenUp()

    def _told(self, asked: Asked) -> Told:
        try:
            with budgeted():
                other = self._others.get(asked.kind)
                return self._by_kind[asked.kind].tell(asked, self._forms) if other is None else other()
        except OutOfTime:
            return told(refusal(too_much_work()), asked.accept)

    def _line(self, number: int, raw: bytes) -> bytes:
        try:
            with budgeted():
                return self._lines(number, raw)
        except OutOfTime:
            return refused(number, refusal(too_much_work()), readable_id(raw))
