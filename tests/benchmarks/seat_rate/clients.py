"""Clients that send prepared requests over kept connections, and how long all of them take together."""

from __future__ import annotations

import re
import socket
import threading
import time
from collections.abc import Sequence

from tests.own_servers import LOOPBACK

LENGTH = re.compile(rb"content-length: (\d+)", re.IGNORECASE)
CREATED = b"HTTP/1.1 201"


def request(path: str, token: str, session: str, key: str) -> bytes:
    """One reservation, as it goes over the wire."""
    body = f'{{"session": "{session}"}}'
    head = (
        f"POST {path} HTTP/1.1",
        f"Host: {LOOPBACK}",
        f"Authorization: Token {token}",
        f"Idempotency-Key: {key}",
        "Content-Type: application/json",
        f"Content-Length: {len(body)}",
    )
    return ("\r\n".join(head) + "\r\n\r\n" + body).encode()


def seconds_for(requests: Sequence[bytes], port: int, clients: int) -> float:
    """Send all of them by several clients; each must be answered with 201."""
    start = threading.Barrier(clients + 1)
    refused: list[bytes] = []

    def client(own: Sequence[bytes]) -> None:
        with socket.create_connection((LOOPBACK, port), timeout=60) as connection:
            start.wait()
            refused.extend(answer for answer in (_asked(connection, one) for one in own) if answer)

    threads = [threading.Thread(target=client, args=(requests[n::clients],)) for n in range(clients)]
    for thread in threads:
        thread.start()
    start.wait()
    begun = time.perf_counter()
    for thread in threads:
        thread.join()
    if refused:
        raise RuntimeError(f"{len(refused)} were refused, such as {refused[0]!r}.")
    return time.perf_counter() - begun


def _asked(connection: socket.socket, one: bytes) -> bytes:
    """Nothing where the seat was given, else the answer."""
    connection.sendall(one)
    answer = b""
    while b"\r\n\r\n" not in answer or len(answer) < _whole(answer):
        if not (more := connection.recv(65536)):
            raise RuntimeError(f"The connection broke off: {answer!r}")
        answer += more
    return b"" if answer.startswith(CREATED) else answer


def _whole(answer: bytes) -> int:
    head, _, _ = answer.partition(b"\r\n\r\n")
    found = LENGTH.search(head)
    if found is None:
        raise RuntimeError(f"An answer without a length: {head!r}")
    return len(head) + 4 + int(found[1])
