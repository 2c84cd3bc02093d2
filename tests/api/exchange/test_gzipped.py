"""Gzip: what one packs the other unpacks, bounded, and what is asked for is what RFC 9110 says is."""

from __future__ import annotations

import gzip
import random
import tracemalloc
import zlib

import pytest

from headbench.api.exchange.gzipped import PIECE_BYTES, Packer, Unpacker
from headbench.api.exchange.negotiating import is_gzip_wanted
from headbench.errors import RefusedRequest

TEXT = random.Random(4).randbytes(50_000).hex().encode() + b"\n" * 300_000  # noqa: S311 - any text does


def unpacked(packed: bytes, size: int) -> list[bytes]:
    unpacker = Unpacker()
    pieces = [one for start in range(0, len(packed), size) for one in unpacker.take(packed[start : start + size])]
    unpacker.end()
    return pieces


@pytest.mark.parametrize("size", [1, 7, 1000, 1_000_000])
def test_whatever_the_pieces_it_unpacks_to_what_was_packed_in_pieces_of_a_bounded_size(size: int) -> None:
    pieces = unpacked(gzip.compress(TEXT), size)
    assert b"".join(pieces) == TEXT
    assert max(map(len, pieces)) <= PIECE_BYTES


def test_members_one_after_another_are_one_stream() -> None:  # RFC 1952, 2.2
    packed = gzip.compress(b"one\n") + gzip.compress(b"") + gzip.compress(b"two\n")
    for size in (1, 5, 1000):
        assert b"".join(unpacked(packed, size)) == b"one\ntwo\n"


@pytest.mark.parametrize(
    ("packed", "told"),
    [
        (gzip.compress(TEXT)[:-9], "ends too early"),
        (gzip.compress(TEXT, mtime=0)[:20], "ends too early"),
        (b"{}\n", "damaged"),
        (zlib.compress(TEXT), "damaged"),
        (gzip.compress(TEXT)[:-8] + b"\0" * 8, "damaged"),  # its checksum
        (gzip.compress(TEXT) + b"rest", "damaged"),
    ],
    # what is packed holds the time, so that it would be called otherwise by each who tests
    ids=["half", "its beginning", "text", "another packing", "its checksum", "more behind it"],
)
def test_what_is_no_gzip_or_not_to_the_end_is_refused(packed: bytes, told: str) -> None:
    with pytest.raises(RefusedRequest, match=told) as refused:
        unpacked(packed, 1000)
    assert (refused.value.code, refused.value.status) == ("malformed-gzip", 400)


def test_nothing_at_all_is_no_damaged_gzip() -> None:
    assert unpacked(b"", 1) == []


def test_a_bomb_is_unpacked_a_piece_at_a_time() -> None:
    bomb = gzip.compress(b"\0" * 100_000_000)
    tracemalloc.start()
    size = sum(map(len, Unpacker().take(bomb)))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert size == 100_000_000
    assert peak < 2_000_000


def test_each_piece_that_was_packed_can_be_read_before_the_next_is_there() -> None:
    packer, reader = Packer(), zlib.decompressobj(31)
    for piece in (b"one\n", b"two\n" * 1000, b"three\n"):
        assert reader.decompress(packer.take(piece)) == piece
    assert reader.decompress(packer.end()) == b""
    assert reader.eof


@pytest.mark.parametrize(
    ("header", "wanted"),
    [
        ("gzip", True),
        ("GZIP;Q=1", True),
        ("x-gzip", True),
        ("deflate, gzip;q=0.001, br", True),
        ("*", True),
        ("gzip, identity;q=0.5", True),
        ("", False),
        ("identity", False),
        ("br", False),
        ("gzip;q=0", False),
        ("gzip;q=0.000, *", False),
        ("*;q=0", False),
        ("gzip;q=0.5, identity", False),
        ("gzip;q=much", False),
    ],
)
def test_gzip_is_sent_to_who_asks_for_it(header: str, wanted: bool) -> None:  # noqa: FBT001 - what is expected
    assert is_gzip_wanted(header) == wanted
