"""Gzip: what comes in is unpacked piece by piece, what goes out is packed so that every line arrives as it is done."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from typing import Final

from headbench.errors import RefusedRequest

PIECE_BYTES: Final = 65_536
"""Most that is unpacked at a time, so that a small body that unpacks to a large one fills no memory."""

_GZIP: Final = 16 + zlib.MAX_WBITS
_QUICKLY: Final = 1
"""Level of packing: answers repeat themselves, and higher levels take longer than figuring them."""


class Unpacker:
    """A gzip stream that arrives piece by piece; one of several members, too.

    `remedy` is what its sender is told to do where it is damaged.
    """

    def __init__(self, remedy: str = "pack it again and send it") -> None:
        self._remedy = remedy
        self._member = zlib.decompressobj(_GZIP)
        self._is_begun = False

    def take(self, packed: bytes) -> Iterator[bytes]:
        """What the next piece unpacks to, in pieces of PIECE_BYTES at most; raises RefusedRequest (malformed-gzip)."""
        while packed:
            if self._member.eof:
                self._member = zlib.decompressobj(_GZIP)
            self._is_begun = True
            piece = b" " * PIECE_BYTES
            # a piece of full size may not be all that the bytes so far unpack to
            while not self._member.eof and (packed or len(piece) == PIECE_BYTES):
                piece = self._unpacked(packed)
                yield piece
                packed = self._member.unconsumed_tail
            packed = self._member.unused_data

    def _unpacked(self, packed: bytes) -> bytes:
        try:
            return self._member.decompress(packed, PIECE_BYTES)
        except zlib.error:
            raise damaged(self._remedy) from None

    def end(self) -> None:
        """No more is to come; raises RefusedRequest (malformed-gzip) where the stream is cut off."""
        if self._is_begun and not self._member.eof:
            raise _malformed("ends too early", self._remedy)


def damaged(remedy: str) -> RefusedRequest:
    """What is told of a body that is not gzip, or not any more."""
    return _malformed("is damaged here", remedy)


def _malformed(what: str, remedy: str) -> RefusedRequest:
    return RefusedRequest("malformed-gzip", 400, f"The gzip body {what}; {remedy}.")


class Packer:
    """A gzip stream that is sent piece by piece."""

    def __init__(self) -> None:
        self._stream = zlib.compressobj(_QUICKLY, zlib.DEFLATED, _GZIP)

    def take(self, piece: bytes) -> bytes:
        """The next piece, packed and whole: whoever unpacks it need not wait for what follows."""
        return self._stream.compress(piece) + self._stream.flush(zlib.Z_SYNC_FLUSH)

    def end(self) -> bytes:
        """What ends the stream."""
        return self._stream.flush()
