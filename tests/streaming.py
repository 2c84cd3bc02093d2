"""A caller over HTTP who sends and reads at the same time, made of the standard library alone."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Iterable, Iterator, Mapping
from urllib.parse import urlsplit


def streamed(address: str, body: Iterable[bytes], headers: Mapping[str, str] | None = None) -> Iterator[bytes]:
    """Post a body block by block to /v1/batch, and give the answer as it comes."""
    connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=120.0)
    connection.putrequest("POST", "/v1/batch", skip_accept_encoding=True)
    given = {"Content-Type": "application/x-ndjson", "Transfer-Encoding": "chunked"} | dict(headers or {})
    for name, value in given.items():
        connection.putheader(name, value)
    connection.endheaders()

    def send() -> None:
        for block in body:
            connection.send(b"%x\r\n%b\r\n" % (len(block), block))
        connection.send(b"0\r\n\r\n")

    sender = threading.Thread(target=send)
    sender.start()
    response = connection.getresponse()
    while part := response.read1(1 << 18):
        yield part
    sender.join()
    connection.close()
