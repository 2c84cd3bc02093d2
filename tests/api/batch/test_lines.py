"""Lines: however the stream is cut into pieces, the same lines come out, and no more is held than a line may have."""

from __future__ import annotations

import tracemalloc
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headbench.api.batch.lines import Line, Lines, grouped


def lines_of(*pieces: bytes, most_bytes: int = 1000) -> list[Line]:
    lines = Lines(most_bytes)
    return [*(line for piece in pieces for line in lines.take(piece)), *lines.end()]


@pytest.mark.parametrize(
    ("stream", "lines"),
    [
        (b"", []),
        (b"a", [(1, b"a")]),
        (b"a\nb\n", [(1, b"a"), (2, b"b")]),
        (b"a\r\nb\r\n", [(1, b"a\r"), (2, b"b\r")]),
        (b"\n\n \t\r\na\n\n", [(4, b"a")]),
        (b"  a\n\nb", [(1, b"  a"), (3, b"b")]),
        (b"\xef\xbb\xbfa\n", [(1, b"\xef\xbb\xbfa")]),
        (b"a\x0bb\x85c\xe2\x80\xa8d\n", [(1, b"a\x0bb\x85c\xe2\x80\xa8d")]),  # no other character ends a line
    ],
)
def test_lines_end_in_a_newline_and_blank_ones_only_count(stream: bytes, lines: list[Line]) -> None:
    assert lines_of(stream) == lines


@given(st.lists(st.sampled_from([b"a", b"bc" * 9, b"\n", b"\n\n", b"\r\n", b" ", b"{}"])), st.data())
def test_it_does_not_matter_where_the_stream_is_cut(parts: list[bytes], data: st.DataObject) -> None:
    stream = b"".join(parts)
    cuts = sorted({0, len(stream), *data.draw(st.lists(st.integers(0, len(stream))))})
    pieces = [stream[start:end] for start, end in pairwise(cuts)]
    # split at newlines is the definition: NDJSON's lines end in \n, JSON's blanks are these four
    expected = [(n, one) for n, one in enumerate(stream.split(b"\n"), 1) if one.strip(b" \t\r\n")]
    assert lines_of(*pieces) == expected


@pytest.mark.parametrize("pieces", [[b"a\n12345\nb"], [b"a\n1", b"234", b"5\nb"], [b"a\n123", b"45", b"\nb"]])
def test_a_line_over_the_bound_is_told_and_the_next_is_read(pieces: list[bytes]) -> None:
    assert lines_of(*pieces, most_bytes=4) == [(1, b"a"), (2, None), (3, b"b")]


def test_a_line_of_the_bound_is_read() -> None:
    assert lines_of(b"1234\n1234", most_bytes=4) == [(1, b"1234"), (2, b"1234")]


def test_blank_and_too_long_lines_are_what_is_dropped() -> None:
    lines = Lines(4)
    list(lines.take(b"\n \na\n123456\n"))
    assert lines.dropped == len(b"\n \n123456")


def test_a_line_of_a_hundred_megabytes_is_not_held() -> None:
    lines, piece = Lines(), b"x" * 65_536
    tracemalloc.start()
    found = [line for _ in range(1600) for line in lines.take(piece)]
    found += lines.take(b"\n{}\n")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert found == [(1, None), (2, b"{}")]
    assert peak < 8_000_000


def test_a_million_blank_lines_are_counted_and_not_held() -> None:
    lines = Lines()
    tracemalloc.start()
    found = [*lines.take(b"\n" * 1_000_000), *lines.take(b"{}\n")]
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert found == [(1_000_001, b"{}")]
    assert peak < 3_000_000


def test_a_group_ends_where_it_has_enough_lines_or_bytes_and_at_a_line_that_is_too_long() -> None:
    lines = [(1, b"a"), (2, b"b"), (3, b"c"), (4, b"dddd"), (5, b"e"), (6, None), (8, b"f")]
    assert list(grouped(lines, most_lines=2, most_bytes=4)) == [
        [(1, b"a"), (2, b"b")], [(3, b"c"), (4, b"dddd")], [(5, b"e")], 6, [(8, b"f")],
    ]  # fmt: skip
    assert list(grouped(lines[:4], most_lines=9, most_bytes=4)) == [[(1, b"a"), (2, b"b"), (3, b"c"), (4, b"dddd")]]
    assert list(grouped([])) == []
