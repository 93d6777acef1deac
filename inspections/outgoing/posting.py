"""One bounded POST: to a checked address, for so many seconds in all, reading so many bytes at most.

Redirects are not followed and no proxy is asked: the connection goes to the very address that was checked, under the
name (SNI, certificate, Host) that the URL gave.
"""

import http.client
import io
import socket
import ssl
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from inspections.outgoing.destinations import Destination, NotAllowed, NotResolved, addresses

TOTAL_S: Final = 15.0
MOST_ANSWER_BYTES: Final = 65_536
_EXCERPT_BYTES: Final = 1_000
_EXCERPT_S: Final = 2.0
_CONNECT_S: Final = 6.0


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back."""

    status: int
    retry_after: str | None
    excerpt: str


class NoAnswer(Exception):
    """Nothing that can be read as an answer came in time; the text says what happened."""


class _Deadline:
    def __init__(self, seconds: float) -> None:
        self.at = time.monotonic() + seconds

    def left(self, most: float = TOTAL_S) -> float:
        """Return the seconds left, at most so many. Raises TimeoutError when there are none."""
        left = self.at - time.monotonic()
        if left <= 0:
            raise TimeoutError
        return min(left, most)


class _Bounded(io.RawIOBase):
    """The receiving side of a connection: ends after so many bytes, raises TimeoutError after so long."""

    def __init__(self, connection: socket.socket, deadline: _Deadline) -> None:
        self.connection = connection
        self.deadline = deadline
        self.bytes_left = MOST_ANSWER_BYTES

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        view = memoryview(buffer)[: self.bytes_left]
        if not view:
            return 0
        self.connection.settimeout(self.deadline.left())
        count = self.connection.recv_into(view)
        self.bytes_left -= count
        return count

    def makefile(self, mode: str) -> io.BufferedReader:
        """What http.client asks of a socket."""
        return io.BufferedReader(self)


def post(found: Destination, body: bytes, headers: Mapping[str, str], *, total_s: float = TOTAL_S) -> Answer:
    """Send one POST and return its answer, whatever its status. Raises NoAnswer, NotAllowed."""
    deadline = _Deadline(total_s)
    try:
        reachable = addresses(found, within_s=deadline.left(_CONNECT_S))
        connection = _connected(found, reachable, deadline)
    except NotResolved as error:
        raise NoAnswer(str(error)) from error
    except TimeoutError as error:
        raise NoAnswer("No connection was made in time.") from error
    except (OSError, ValueError) as error:
        raise NoAnswer(f"No connection: {_said(error)}.") from error
    try:
        return _exchanged(connection, _request(found, body, headers), deadline)
    except TimeoutError as error:
        raise NoAnswer(f"No answer came within {total_s:g} s.") from error
    except http.client.HTTPException as error:
        raise NoAnswer(f"What came back is not HTTP ({type(error).__name__}).") from error
    except (OSError, ValueError) as error:
        raise NoAnswer(f"The connection broke: {_said(error)}.") from error
    finally:
        connection.close()


def _connected(found: Destination, reachable: list[str], deadline: _Deadline) -> socket.socket:
    """Connect to the first of the checked addresses that takes the connection."""
    last: OSError = OSError("there is no address")
    for address in reachable:
        try:
            connection = socket.create_connection((address, found.port), timeout=deadline.left(_CONNECT_S))
        except OSError as error:
            last = error
            continue
        try:
            return _secured(found, connection, deadline)
        except BaseException:
            connection.close()
            raise
    raise last


def _secured(found: Destination, connection: socket.socket, deadline: _Deadline) -> socket.socket:
    if found.scheme != "https":
        return connection
    context = ssl.create_default_context()
    secured = context.wrap_socket(connection, server_hostname=found.host, do_handshake_on_connect=False)
    secured.settimeout(deadline.left())  # for the whole handshake
    secured.do_handshake()
    return secured


def _request(found: Destination, body: bytes, headers: Mapping[str, str]) -> bytes:
    lines = [f"POST {found.target} HTTP/1.1", f"Host: {found.host_header}", f"Content-Length: {len(body)}"]
    lines += [f"{name}: {value}" for name, value in headers.items()]
    lines += ["Connection: close", "", ""]
    return "\r\n".join(lines).encode("ascii") + body


def _exchanged(connection: socket.socket, request: bytes, deadline: _Deadline) -> Answer:
    unsent = memoryview(request)
    while unsent:
        connection.settimeout(deadline.left())
        unsent = unsent[connection.send(unsent) :]
    bounded = _Bounded(connection, deadline)
    response = http.client.HTTPResponse(bounded, method="POST")  # type: ignore[arg-type] # all it uses is makefile
    response.begin()
    if not bounded.bytes_left:
        raise NoAnswer(f"The head of the answer is over {MOST_ANSWER_BYTES} bytes.")
    retry_after = response.getheader("Retry-After")
    deadline.at = min(deadline.at, time.monotonic() + _EXCERPT_S)
    try:
        start = response.read1(_EXCERPT_BYTES)
    except (OSError, ValueError, http.client.HTTPException):
        start = b""  # the status was said; what else was to come does not matter
    excerpt = start.decode("utf-8", "replace").replace("\x00", "\N{REPLACEMENT CHARACTER}")
    return Answer(response.status, retry_after, excerpt)


def _said(error: Exception) -> str:
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"the certificate is not valid ({error.verify_message})"
    if isinstance(error, ssl.SSLError):
        return f"TLS failed ({error.reason or 'no reason given'})"
    return getattr(error, "strerror", None) or type(error).__name__


__all__ = ["MOST_ANSWER_BYTES", "TOTAL_S", "Answer", "NoAnswer", "NotAllowed", "post"]
