"""A worker: a process that works out what the service hands it.

It reads messages from the socket it was given as standard input and writes a reply to each, until the service closes
the socket or is no more; so it never outlives the service, however that ends.
"""

from __future__ import annotations

import logging
import signal
import socket
import sys
from contextlib import suppress
from importlib import import_module

import msgspec

from headbench.api.computing.budget import be_interruptible
from headbench.api.computing.desk import Desk, Message
from headbench.api.computing.messages import read, write
from headbench.api.computing.starting import warm_up


def main(desk_at: str) -> None:
    """Answer messages at the desk that a function of this name ("module:name") sets up."""
    # Ctrl-C reaches every process of the terminal; the service says when it is over
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    be_interruptible()
    logging.basicConfig(level=logging.WARNING)
    module, _, name = desk_at.partition(":")
    desk: Desk = getattr(import_module(module), name)()
    warm_up(desk.resources)
    decoder, encoder = msgspec.msgpack.Decoder(Message), msgspec.msgpack.Encoder()
    service = socket.socket(fileno=sys.stdin.fileno())
    # a service that was killed takes no answer
    with service, service.makefile("rb") as asked, suppress(OSError):
        # that it is there, and may be handed something
        write(service, b"")
        while (message := read(asked)) is not None:
            write(service, encoder.encode(desk(decoder.decode(message))))


if __name__ == "__main__":
    main(sys.argv[1])
