"""Envelope: what stands around every job and every answer: whose job it is, and which release computed it."""

from __future__ import annotations

from typing import Annotated, Final, Protocol

from msgspec import Meta

from headbench import __version__
from headbench.api.vocabulary.converting import HasUnits
from headbench.api.vocabulary.quantities import Answer, Model, Name

Text = Annotated[str, Meta(min_length=1, max_length=500, pattern=r"^[^\u0000-\u001f\u007f-\u009f\u2028\u2029]+$(?!\n)")]
"""One line of free text."""

Parts = Annotated[
    list[Name],
    Meta(
        max_length=40, description="Parts fitted, in the shop's own words.", examples=[["retainers, 10 degree, steel"]]
    ),
]


class Job(Model, kw_only=True, frozen=True):
    """The job, and whom it is for."""

    reference: Annotated[
        Name | None, Meta(description="The shop's name for the job; null = not given.", examples=["KW-0317"])
    ] = None
    head: Annotated[
        Name | None, Meta(description="Which head, if it is one; null = not given.", examples=["port side"])
    ] = None
    customer: Annotated[
        Name | None, Meta(description="Whom it is for; null = not given.", examples=["harbor launch club"])
    ] = None
    engine: Annotated[
        Name | None, Meta(description="Which engine it goes on; null = not given.", examples=["launch Marrowbill"])
    ] = None
    remarks: Annotated[
        Text | None,
        Meta(description="Remarks; null = none.", examples=["new guides on all intakes"]),
    ] = None
    parts: Parts = []


class HasJob(HasUnits, Protocol):
    """A request: it names its units, and may say whose job it is."""

    @property
    def job(self) -> Job:
        """The job, and whom it is for."""
        ...


class JobEcho(Answer, kw_only=True, frozen=True):
    """The job, as entered."""

    reference: Annotated[str | None, Meta(description="The shop's name for the job; null = not given.")]
    head: Annotated[str | None, Meta(description="Which head; null = not given.")]
    customer: Annotated[str | None, Meta(description="Whom it is for; null = not given.")]
    engine: Annotated[str | None, Meta(description="Which engine it goes on; null = not given.")]
    remarks: Annotated[str | None, Meta(description="Remarks; null = none.")]
    parts: Annotated[list[str], Meta(description="Parts fitted.")]


def job_echo(job: Job) -> JobEcho:
    """The job, as entered."""
    return JobEcho(
        reference=job.reference,
        head=job.head,
        customer=job.customer,
        engine=job.engine,
        remarks=job.remarks,
        parts=list(job.parts),
    )


JobAsked = Annotated[Job, Meta(description="The job.", examples=[{"reference": "KW-0317"}])]
"""What every request has."""

JobAnswered = Annotated[JobEcho, Meta(description="The job, as entered.")]
Release = Annotated[str, Meta(description="Release of Headbench that computed this.", examples=[__version__])]
"""What every answer has; `Resource` fills them in, so that no room does."""

NO_JOB: Final = job_echo(Job())
THIS_RELEASE: Final = __version__
