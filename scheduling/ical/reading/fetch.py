"""Fetching somebody's calendar by its link: from public addresses only, within bounds of size and time.

    link --> scheme, host --> every address of the host is public --> connected to that very address
         --> status: the file, not changed since, or another link (a few times, each looked at anew)

The name is looked up once for each link and never again, so a name that answers differently the second time
leads nowhere else.
"""

from __future__ import annotations

import ipaddress
import socket
import ssl
import threading
import zlib
from contextlib import suppress
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException, HTTPResponse, HTTPSConnection
from urllib.parse import SplitResult, urljoin, urlsplit

from scheduling.errors import UnfetchableCalendar
from scheduling.ical.reading.apart import MOST_BYTES

MOST_REDIRECTS = 3
CONNECT_S, MOST_S = 5.0, 20.0
REDIRECTS = {301, 302, 303, 307, 308}
CHUNK = 64 * 1024
AGENT = "Lehrbook"
# Addresses that carry another one in them, which would have to be looked at too; no calendar needs them.
CARRIERS = [ipaddress.ip_network(net) for net in ("64:ff9b::/96", "64:ff9b:1::/48", "2002::/16", "2001::/32")]


@dataclass(frozen=True, kw_only=True)
class Fetched:
    """What a link gave: the file, or None where it has not changed; and by what to ask for changes."""

    content: bytes | None
    etag: str
    last_modified: str


def fetch(link: str, *, etag: str = "", last_modified: str = "") -> Fetched:
    """Fetch a calendar, or learn that it has not changed. Raises UnfetchableCalendar with the reason."""
    asked = {"If-None-Match": etag, "If-Modified-Since": last_modified}
    headers = {name: value for name, value in asked.items() if value}
    address = link
    for _ in range(MOST_REDIRECTS + 1):
        parts = parts_of(address)
        answer = _asked(parts, headers)
        if isinstance(answer, Fetched):
            return answer
        address = _onward(address, answer)
    raise UnfetchableCalendar(reason=f"it leads on to another link more than {MOST_REDIRECTS} times")


def _onward(address: str, answer: str) -> str:
    try:
        return urljoin(address, answer)
    except ValueError as error:
        raise UnfetchableCalendar(reason="it leads on to what is no link") from error


def parts_of(link: str) -> SplitResult:
    """A link as its parts; webcal is what calendar programs call a link that is fetched by HTTPS.

    Raises UnfetchableCalendar where it can be none; nothing is looked up yet.
    """
    try:
        parts = urlsplit(link)
        port = parts.port
    except ValueError as error:
        raise UnfetchableCalendar(reason="it is no link") from error
    if not link.isprintable():
        raise UnfetchableCalendar(reason="it is no link")
    if parts.scheme == "webcal":
        parts = parts._replace(scheme="https")
    if parts.scheme not in {"http", "https"} or not parts.hostname or port == 0:
        raise UnfetchableCalendar(reason="a link begins with https://, http:// or webcal://")
    if parts.username is not None:
        raise UnfetchableCalendar(reason="it has a name or a password in it; use the secret link instead")
    return parts


def _asked(parts: SplitResult, headers: dict[str, str]) -> Fetched | str:
    """What one link answers, or where it leads."""
    connection = _connection(parts)
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    try:
        connection.connect()
        with _until_too_late(connection.sock):
            connection.request(
                "GET", target, headers=headers | {"User-Agent": AGENT, "Accept-Encoding": "identity"}
            )
            return _read(connection.getresponse())
    except (OSError, HTTPException, zlib.error, ValueError) as error:
        reason = f"its server does not answer as it should ({type(error).__name__})"
        raise UnfetchableCalendar(reason=reason) from error
    finally:
        connection.close()


class _until_too_late:  # noqa: N801 - reads as a statement
    """End a connection that takes too long as a whole, however slowly it drips."""

    def __init__(self, sock: socket.socket) -> None:
        self._timer = threading.Timer(MOST_S, self._end, args=[sock])

    def __enter__(self) -> None:
        self._timer.start()

    def __exit__(self, *_: object) -> None:
        self._timer.cancel()

    @staticmethod
    def _end(sock: socket.socket) -> None:
        with suppress(OSError):  # it may have ended by itself
            sock.shutdown(socket.SHUT_RDWR)


def _read(response: HTTPResponse) -> Fetched | str:
    if response.status in REDIRECTS and (onward := response.headers.get("Location")):
        return onward
    marks = {
        "etag": response.headers.get("ETag", ""),
        "last_modified": response.headers.get("Last-Modified", ""),
    }
    if response.status == 304:
        return Fetched(content=None, **marks)
    if response.status != 200:
        raise UnfetchableCalendar(reason=f"its server answers with status {response.status}")
    return Fetched(content=_body(response), **marks)


def _body(response: HTTPResponse) -> bytes:
    """The body, also where it comes packed though we asked for it as it is; never more than the bound."""
    packed = response.headers.get("Content-Encoding", "identity").lower()
    if packed not in {"identity", "gzip", "x-gzip", ""}:
        raise UnfetchableCalendar(reason=f"its server packs it as {packed[:20]}, which was not asked for")
    unpack = zlib.decompressobj(wbits=31) if "gzip" in packed else None
    found = bytearray()
    while chunk := response.read(CHUNK):
        found += unpack.decompress(chunk, MOST_BYTES + 1 - len(found)) if unpack else chunk
        if len(found) > MOST_BYTES:
            raise UnfetchableCalendar(reason=f"it is larger than {MOST_BYTES // 1024 // 1024} MB")
    if response.length or (unpack and not unpack.eof):
        raise UnfetchableCalendar(reason="it broke off before its end")
    return bytes(found)


def _connection(parts: SplitResult) -> HTTPConnection:
    host, port = parts.hostname or "", parts.port or (443 if parts.scheme == "https" else 80)
    address = public_address(host, port)
    return _Secure(host, port, address) if parts.scheme == "https" else _Plain(host, port, address)


def public_address(host: str, port: int) -> str:
    """An address of a host all of whose addresses are public. Raises UnfetchableCalendar."""
    addresses = looked_up(host, port)
    if not addresses or not all(is_public(address) for address in addresses):
        raise UnfetchableCalendar(reason=f"{host[:80]} is not on the public network")
    return addresses[0]


def looked_up(host: str, port: int) -> list[str]:
    """Every address of a host."""
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, ValueError) as error:
        raise UnfetchableCalendar(reason=f"there is no server {host[:80]}") from error
    return [str(entry[4][0]) for entry in found]


def is_public(address: str) -> bool:
    """Whether everybody on the internet means the same by an address."""
    known = ipaddress.ip_address(address.partition("%")[0])
    inner = getattr(known, "ipv4_mapped", None) or known
    if inner.version == 6 and any(inner in net for net in CARRIERS):
        return False
    return inner.is_global and not inner.is_multicast and not inner.is_reserved


class _Plain(HTTPConnection):
    """A connection to one address, by the name of its host."""

    def __init__(self, host: str, port: int, address: str) -> None:
        super().__init__(host, port, timeout=CONNECT_S)
        self._address = address

    def connect(self) -> None:
        self.sock = socket.create_connection((self._address, self.port), CONNECT_S)


class _Secure(HTTPSConnection):
    """The same, with the certificate of the host checked."""

    def __init__(self, host: str, port: int, address: str) -> None:
        self._checked = ssl.create_default_context()
        super().__init__(host, port, timeout=CONNECT_S, context=self._checked)
        self._address = address

    def connect(self) -> None:
        bare = socket.create_connection((self._address, self.port), CONNECT_S)
        try:
            with _until_too_late(bare):
                self.sock = self._checked.wrap_socket(bare, server_hostname=self.host)
        except BaseException:
            bare.close()
            raise
