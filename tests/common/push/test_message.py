"""A message is locked as RFC 8291 says, signed as RFC 8292 says, and sent to no private place."""

import ipaddress
import socket

import pytest
from cryptography.exceptions import InvalidSignature

from apps.common.push import delivery
from apps.common.push.base64url import decoded, encoded
from apps.common.push.delivery import (
    NotAllowed,
    NotReached,
    check_endpoint,
    is_public,
    public_address,
)
from apps.common.push.keys import make_key, public_text, read_key, signed_word
from apps.common.push.message import MESSAGE_BYTES_MAX, browser_key, locked
from tests.common.push.receiving import Browser, claims_of

# The example of RFC 8291, appendix A.
PLAIN = b"When I grow up, I want to be a watermelon"
SENDER = "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"
POINT = "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
AUTH, SALT = "BTBZMqHH6r4Tts7J_aSIgg", "DGv6ra1nlYgDCS1FRnbzlw"
LOCKED = (
    "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS"
    "6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qul"
    "cy4a-fN"
)


def test_the_published_example_is_locked_alike():
    made = locked(
        PLAIN,
        point=decoded(POINT),
        auth=decoded(AUTH),
        salt=decoded(SALT),
        own_key=read_key(SENDER),
    )
    assert encoded(made) == LOCKED


@pytest.mark.parametrize("message", [b"", b"x", "Ύφαλος 珊瑚".encode(), b"x" * MESSAGE_BYTES_MAX])
def test_the_browser_opens_what_was_locked_for_it(message):
    browser = Browser()
    body = locked(message, point=decoded(browser.key), auth=browser.auth)
    assert browser.opened(body) == message
    assert len(body) <= 4096
    again = locked(message, point=decoded(browser.key), auth=browser.auth)
    assert again[:86] != body[:86]  # neither salt nor key is used twice


def test_a_message_that_is_too_long_is_refused():
    with pytest.raises(ValueError, match="at most"):
        locked(b"x" * (MESSAGE_BYTES_MAX + 1), point=decoded(POINT), auth=decoded(AUTH))


@pytest.mark.parametrize("point", [b"", b"\x04" + b"\x01" * 64, b"\x04" * 65, decoded(POINT)[:-1]])
def test_what_is_no_point_of_the_curve_is_no_key(point):
    with pytest.raises(ValueError):
        browser_key(point)


def test_the_site_signs_for_one_service_and_half_a_day():
    key = read_key(make_key())
    word = signed_word(
        "https://push.example.org/a/b?c=d", key=key, contact="mailto:host@example.org", now=1000.5
    )
    claims, public = claims_of(word)
    wanted = {"aud": "https://push.example.org", "exp": 1000 + 12 * 3600}
    assert claims == wanted | {"sub": "mailto:host@example.org"}
    assert public == public_text(key)
    with pytest.raises(InvalidSignature):
        claims_of(word.replace(f"k={public}", f"k={public_text(read_key(make_key()))}"))


@pytest.mark.parametrize("text", ["", "short", "ä" * 43, "!" * 43, "A" * 43, encoded(b"\xff" * 32)])
def test_what_is_no_key_of_a_site_is_refused(text):
    with pytest.raises(ValueError):
        read_key(text)


@pytest.mark.parametrize(
    "endpoint",
    [
        "", "push.example.org", "http://push.example.org/a", "https://", "https:///a",
        "https://push.example.org:8443/a", "https://push.example.org:x/a", "https://127.0.0.1/a",
        "https://[::1]/a", "https://10.1.2.3/", "https://me@push.example.org/", "file:///etc/passwd",
        "https://push.example.org/a b", "https://push.example.org/\r\nHost: x", "https://püsh.org/",
        "https://push.example.org/" + "a" * 1000,
    ],
)  # fmt: skip
def test_what_can_be_no_push_service_is_refused(endpoint):
    with pytest.raises(NotAllowed):
        check_endpoint(endpoint)


def test_a_push_service_is_allowed():
    check_endpoint("https://push.example.org/wpush/v2/gAAA-_?x=1")
    check_endpoint("https://push.example.org:443/a")


@pytest.mark.parametrize(
    ("address", "public"),
    [
        ("93.184.216.34", True), ("2606:2800:220:1::1", True), ("127.0.0.1", False),
        ("10.0.0.1", False), ("172.16.0.1", False), ("192.168.1.1", False), ("100.64.0.1", False),
        ("169.254.169.254", False), ("0.0.0.0", False), ("224.0.0.1", False), ("::1", False),
        ("fe80::1", False), ("fc00::1", False), ("::ffff:127.0.0.1", False),
        ("::ffff:93.184.216.34", True), ("64:ff9b::7f00:1", False), ("2002:7f00:1::", False),
        ("2001:0:1::1", False), ("ff02::1", False), ("64:ff9b:1::7f00:1", False),
        ("::7f00:1", False), ("fec0::1", False),
    ],
)  # fmt: skip
def test_only_the_open_internet_is_public(address, public):
    assert is_public(ipaddress.ip_address(address)) is public


def named(monkeypatch, *addresses):
    answers = [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (a, 443)) for a in addresses]
    monkeypatch.setattr(delivery.socket, "getaddrinfo", lambda *args, **kwargs: answers)


def test_a_name_that_leads_inside_is_refused_however_else_it_leads(monkeypatch):
    named(monkeypatch, "93.184.216.34", "127.0.0.1")
    with pytest.raises(NotAllowed):
        public_address("push.example.org", 443)
    named(monkeypatch, "93.184.216.34")
    assert public_address("push.example.org", 443) == "93.184.216.34"


def test_a_name_that_is_not_known_is_not_reached(monkeypatch):
    def unknown(*args, **kwargs):
        raise socket.gaierror

    monkeypatch.setattr(delivery.socket, "getaddrinfo", unknown)
    with pytest.raises(NotReached):
        public_address("push.example.org", 443)
