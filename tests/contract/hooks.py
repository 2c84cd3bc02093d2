"""What schemathesis must be told of a stream of lines: how one is written, and how one is read."""

from __future__ import annotations

import json
from typing import Any

import schemathesis
from schemathesis import DeserializationContext, Response, SerializationContext


@schemathesis.serializer("application/x-ndjson")
def written(ctx: SerializationContext, value: Any) -> bytes:  # noqa: ARG001 - the signature is theirs
    """A batch of one line; what is made to be no JSON goes as it is."""
    return value if isinstance(value, bytes) else json.dumps(value).encode()


@schemathesis.deserializer("application/x-ndjson")
def read(ctx: DeserializationContext, response: Response) -> Any:  # noqa: ARG001 - likewise
    """The answer to the one line."""
    (line,) = response.content.splitlines()
    return json.loads(line)
