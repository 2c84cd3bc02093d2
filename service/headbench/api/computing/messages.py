"""Messages between the service and its workers: a length and that many bytes."""

from __future__ import annotations

import socket
import struct
from typing import BinaryIO, Final

_LENGTH: Final = struct.Struct("!I")


def write(to: socket.socket, message: bytes) -> None:
    """Send a message."""
    to.sendall(_LENGTH.pack(len(message)))
    to.sendall(message)


def read(stream: BinaryIO) -> bytes | None:
    """The next message; None where the other side is gone."""
    length = stream.read(_LENGTH.size)
    if len(length) < _LENGTH.size:
        return None
    (size,) = _LENGTH.unpack(length)
    message = stream.read(size)
    return message if len(message) == size else None
