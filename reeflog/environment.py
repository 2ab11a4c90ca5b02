"""Strict reading of the environment: a wrong value stops the start and names itself."""

import os
import re
from collections.abc import Sequence

from django.core.exceptions import ImproperlyConfigured

PREFIX = "REEFLOG_"
_known = set()


def _raw(name, default):
    _known.add(PREFIX + name)
    return os.environ.get(PREFIX + name, default)


def _refuse(name, value, wanted):
    raise ImproperlyConfigured(f"{PREFIX}{name}={value!r} is not {wanted}.")


def read_bool(name, default):
    """Return on/off; anything else stops the start."""
    value = _raw(name, "on" if default else "off").strip().lower()
    words = {"on": True, "1": True, "true": True, "off": False, "0": False, "false": False}
    if value not in words:
        _refuse(name, value, "'on' or 'off'")
    return words[value]


def read_int(name, default, *, low, high):
    """Return a whole number between low and high."""
    value = _raw(name, str(default)).strip()
    if not value.isascii() or not value.isdigit() or not low <= int(value) <= high:
        _refuse(name, value, f"a whole number from {low} to {high}")
    return int(value)


def read_text(name, default=""):
    return _raw(name, default).strip()


def read_list(name, default=""):
    """Return the comma-separated parts, blanks dropped."""
    return [part.strip() for part in _raw(name, default).split(",") if part.strip()]


def read_choice(name, default, choices):
    value = _raw(name, default).strip()
    if value not in choices:
        _refuse(name, value, "one of " + ", ".join(choices))
    return value


def read_site(name, default=""):
    """Return a site's address without a path, "" for none."""
    value = read_text(name, default).rstrip("/")
    if value and not re.fullmatch(r"https?://[\w.-]+(:\d+)?", value):
        _refuse(name, value, "an address such as https://reef.example.org")
    return value


def site_of(hosts: Sequence[str], *, is_https: bool) -> str:
    """Return the address of the first host that others reach by one name, "" without any."""
    here = ("localhost", "127.0.0.1", "[::1]")
    names = [host for host in hosts if host[0] not in ".*" and host not in here]
    return f"http{'s' if is_https else ''}://{names[0]}" if names else ""


def read_push_key(name):
    """Return a key that `make_push_key` made, "" for none."""
    value = read_text(name)
    if value:
        # Only where there is one: what reads it takes its time to load.
        from apps.common.push.keys import read_key

        try:
            read_key(value)
        except ValueError as problem:
            # The value is a secret, and is not shown.
            raise ImproperlyConfigured(f"{PREFIX}{name} is no key: {problem}") from problem
    return value


def refuse_unknown():
    """Stop on a variable with our prefix that nothing reads: most likely a typing slip."""
    unknown = sorted(k for k in os.environ if k.startswith(PREFIX) and k not in _known)
    if unknown:
        raise ImproperlyConfigured(
            f"{unknown[0]} is not a setting. Known: {', '.join(sorted(_known))}."
        )
