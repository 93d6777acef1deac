"""Where a call may go: to https on a public unicast address, or to what the service's keepers allow by name.

Two steps. `destination` reads a URL and refuses what can be refused by looking at it; `addresses` resolves its host
and keeps the addresses that may be connected to. The second step is taken again before every call: what a name
stands for can change.
"""

import ipaddress
import re
import socket
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlsplit

Address = ipaddress.IPv4Address | ipaddress.IPv6Address

PORTS: Final = (443, 8443)
LONGEST: Final = 2000
_MOST_ADDRESSES: Final = 4
_LABEL: Final = r"[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?"
_NAME: Final = re.compile(rf"(?=.{{1,253}}$){_LABEL}(?:\.{_LABEL})+")
_PRINTED: Final = re.compile(r"[!-~]+")

# IANA IPv4 Special-Purpose Address Registry; multicast by RFC 5771; 192.88.99.0/24 (6to4 relays) by RFC 7526.
_NOT_PUBLIC_V4: Final = tuple(
    ipaddress.IPv4Network(text)
    for text in (
        "0.0.0.0/8",
        "10.0.0.0/8",
        "100.64.0.0/10",
        "127.0.0.0/8",
        "169.254.0.0/16",
        "172.16.0.0/12",
        "192.0.0.0/24",
        "192.0.2.0/24",
        "192.88.99.0/24",
        "192.168.0.0/16",
        "198.18.0.0/15",
        "198.51.100.0/24",
        "203.0.113.0/24",
        "224.0.0.0/4",
        "240.0.0.0/4",
    )
)
# Global unicast is 2000::/3 (RFC 4291, 2.4); mapped, NAT64, unique local, link-local and multicast lie outside.
_PUBLIC_V6: Final = ipaddress.IPv6Network("2000::/3")
# IANA IPv6 Special-Purpose Address Registry: protocol assignments with Teredo, documentation, 6to4.
_NOT_PUBLIC_V6: Final = tuple(
    ipaddress.IPv6Network(text) for text in ("2001::/23", "2001:db8::/32", "2002::/16", "3fff::/20")
)


class NotAllowed(Exception):
    """A call may not go there; the text says why and what to do."""


class NotResolved(Exception):
    """The name of the host could not be resolved in time."""


@dataclass(frozen=True, slots=True)
class Destination:
    """A URL taken apart. `is_allowed`: the service's keepers named its host and port, so it may be anywhere."""

    scheme: str
    host: str
    port: int
    target: str
    is_allowed: bool

    @property
    def host_header(self) -> str:
        """The Host header: the port is named where it is not the scheme's own."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == {"https": 443, "http": 80}[self.scheme] else f"{host}:{self.port}"


def destination(url: str, *, allowed: Sequence[str] = ()) -> Destination:
    """Read a URL. `allowed`: `host:port` pairs that may be anywhere and may use http. Raises NotAllowed."""
    if len(url) > LONGEST or not _PRINTED.fullmatch(url) or "\\" in url:
        raise NotAllowed(f"An address is at most {LONGEST} printed ASCII characters, without spaces and backslashes.")
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError as error:
        raise NotAllowed("This is not an address that can be read; send https://host/path.") from error
    if parts.scheme not in ("https", "http") or not parts.netloc or not parts.hostname:
        raise NotAllowed("Send an https address, for example https://example.com/pullback.")
    if "@" in parts.netloc or parts.fragment:
        raise NotAllowed("The address may hold neither a user nor a fragment; deliveries are signed instead.")
    port = port if port is not None else {"https": 443, "http": 80}[parts.scheme]
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    named = f"[{parts.hostname}]" if ":" in parts.hostname else parts.hostname
    is_allowed = f"{named}:{port}" in allowed
    found = Destination(parts.scheme, parts.hostname, port, target, is_allowed)
    if not is_allowed:
        _hold_to_public(found)
    return found


def _hold_to_public(found: Destination) -> None:
    if found.scheme != "https":
        raise NotAllowed("Only https is called.")
    if found.port not in PORTS:
        raise NotAllowed(f"Only the ports {' and '.join(map(str, PORTS))} are called.")
    literal = _literal(found.host)
    if literal is not None:
        if not is_public(literal):
            raise NotAllowed("This address is not on the public internet.")
    elif not _NAME.fullmatch(found.host):
        raise NotAllowed("This is no full name of a host; send it in ASCII, with its domain.")
    elif re.fullmatch(r"[0-9]+|0x[0-9a-f]*", found.host.rpartition(".")[2]):
        # What ends in a number is an address in disguise (WHATWG URL, "ends in a number"): 127.1, 0x7f000001.
        raise NotAllowed("An IPv4 address is written as four decimal numbers.")


def _literal(host: str) -> Address | None:
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None


def is_public(address: Address) -> bool:
    """Tell whether an address is global unicast, by the registries and not by what a Python version knows of them."""
    if isinstance(address, ipaddress.IPv4Address):
        return not any(address in network for network in _NOT_PUBLIC_V4)
    if address.scope_id is not None or address not in _PUBLIC_V6:
        return False
    return not any(address in network for network in _NOT_PUBLIC_V6)


def addresses(found: Destination, *, within_s: float) -> list[str]:
    """Resolve the host and return the addresses that may be connected to. Raises NotAllowed, NotResolved."""
    resolved = _resolved(found.host, found.port, within_s)
    if found.is_allowed:
        return resolved[:_MOST_ADDRESSES]
    public = [text for text in resolved if (one := _literal(text)) is not None and is_public(one)]
    if not public:
        raise NotAllowed(f"{found.host} stands for no address on the public internet; nothing was sent.")
    return public[:_MOST_ADDRESSES]


def _resolved(host: str, port: int, within_s: float) -> list[str]:
    """Ask the system's resolver, which knows no deadline, in a thread that may be left behind."""
    answers: list[list[str]] = []

    def ask() -> None:
        try:
            rows = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
        except (OSError, UnicodeError):
            return
        answers.append(list(dict.fromkeys(str(row[4][0]) for row in rows)))

    asking = threading.Thread(target=ask, name="resolve", daemon=True)
    asking.start()
    asking.join(within_s)
    if not answers:
        raise NotResolved(f"The name {host} could not be resolved.")
    return answers[0]
