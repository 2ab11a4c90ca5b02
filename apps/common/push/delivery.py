"""Handing a message to the push service that a browser named, and to no place inside our network.

The address comes from a browser, so it may name anything: only https on its own port counts, the
name is looked up once, and what is connected to is the very address that was judged.
"""

import http.client
import ipaddress
import socket
import ssl
import threading
from collections.abc import Mapping
from contextlib import suppress
from urllib.parse import urlsplit

HTTPS_PORT = 443
# For a connection, and then for all that is said over it [s].
PATIENCE_S = 10.0
ENDPOINT_LENGTH_MAX = 1000
# Networks that stand for others: what they lead to may lie anywhere.
LEADING_ELSEWHERE = tuple(
    map(
        ipaddress.ip_network,
        ("64:ff9b::/96", "64:ff9b:1::/48", "2002::/16", "2001::/32", "::/96", "fec0::/10"),
    )
)
Address = ipaddress.IPv4Address | ipaddress.IPv6Address


class NotAllowed(Exception):
    """An address that no message is sent to."""


class NotReached(Exception):
    """A push service that gave no answer."""


def check_endpoint(endpoint: str) -> None:
    """Raise NotAllowed for what can't be a push service, as far as its text tells."""
    if len(endpoint) > ENDPOINT_LENGTH_MAX or not endpoint.isascii() or not endpoint.isprintable():
        raise NotAllowed("This is no address of a push service.")
    try:
        place = urlsplit(endpoint)
        port = place.port
    except ValueError as problem:
        raise NotAllowed("This is no address of a push service.") from problem
    if place.scheme != "https" or not place.hostname or port not in (None, HTTPS_PORT):
        raise NotAllowed("A push service is reached by https on its own port.")
    if "@" in place.netloc or " " in endpoint:
        raise NotAllowed("An address of a push service bears no name.")
    if as_address(place.hostname) is not None:
        raise NotAllowed("A push service has a name, not a number.")


def as_address(host: str) -> Address | None:
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None


def is_public(address: Address) -> bool:
    """Return whether an address lies on the open internet."""
    if isinstance(address, ipaddress.IPv6Address) and address.ipv4_mapped is not None:
        address = address.ipv4_mapped
    leads_on = any(address in network for network in LEADING_ELSEWHERE)
    return address.is_global and not address.is_multicast and not leads_on


def public_address(host: str, port: int) -> str:
    """Return an address of a host; NotAllowed where any that it has is not public."""
    try:
        answers = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as problem:
        raise NotReached(f"{host} is not known.") from problem
    addresses = [str(answer[4][0]) for answer in answers]
    if not all(is_public(ipaddress.ip_address(address)) for address in addresses):
        raise NotAllowed(f"{host} lies in a private network.")
    return addresses[0]


class JudgedConnection(http.client.HTTPSConnection):
    """A connection to the address that was judged, with the certificate of the name.

    It is cut off in the end: a service that sends a byte now and then would hold up all others.
    """

    def __init__(self, host: str, port: int, address: str) -> None:
        self.tls = ssl.create_default_context()
        super().__init__(host, port, timeout=PATIENCE_S, context=self.tls)
        self.address = address
        self.end = threading.Timer(PATIENCE_S, self.cut_off)

    def connect(self) -> None:
        line = socket.create_connection((self.address, self.port), self.timeout)
        self.sock = self.tls.wrap_socket(
            line, server_hostname=self.host, do_handshake_on_connect=False
        )
        self.end.start()
        self.sock.do_handshake()

    def cut_off(self) -> None:
        """End what is being read or written; whoever waits for it meets an error."""
        with suppress(OSError, AttributeError):
            # Not the secured one's own, which would leave the reader without its key.
            socket.socket.shutdown(self.sock, socket.SHUT_RDWR)

    def close(self) -> None:
        self.end.cancel()
        super().close()


def deliver(endpoint: str, body: bytes, headers: Mapping[str, str]) -> int:
    """Post a message and return the answer's status; no answer is followed elsewhere.

    Raises NotAllowed and NotReached.
    """
    check_endpoint(endpoint)
    place = urlsplit(endpoint)
    host, port = place.hostname or "", place.port or HTTPS_PORT
    line = JudgedConnection(host, port, public_address(host, port))
    target = f"{place.path or '/'}{f'?{place.query}' if place.query else ''}"
    try:
        line.request("POST", target, body, dict(headers))
        return line.getresponse().status
    except (OSError, http.client.HTTPException) as problem:
        raise NotReached(f"{host}: {type(problem).__name__}") from problem
    finally:
        line.close()
