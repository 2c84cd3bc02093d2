"""A worker: the process that answers lines of batches, for the service that started it.

It reads groups of lines from the socket it was given as standard input and writes a block of answers for each,
until the service closes the socket or is no more; so it never outlives the service, however that ends.
"""

from __future__ import annotations

import gc
import logging
import signal
import socket
import sys
from contextlib import suppress
from importlib import import_module

import msgspec

from headbench.api.batch.jobs import Answering
from headbench.api.batch.lines import Group
from headbench.api.batch.messages import read, write


def main(resources_at: str) -> None:
    """Answer groups of lines with the resources of that name ("module:name")."""
    # Ctrl-C reaches every process of the terminal; the service says when it is over
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    logging.basicConfig(level=logging.WARNING)
    module, _, name = resources_at.partition(":")
    answered = Answering(getattr(import_module(module), name))
    # all that is there now stays: nothing of it need be looked through again
    gc.freeze()
    service = socket.socket(fileno=sys.stdin.fileno())
    # a service that was killed takes no answer
    with service, service.makefile("rb") as asked, suppress(OSError):
        while (message := read(asked)) is not None:
            group = msgspec.msgpack.decode(message, type=Group)
            write(service, b"".join(answered(number, raw) for number, raw in group))


if __name__ == "__main__":
    main(sys.argv[1])
