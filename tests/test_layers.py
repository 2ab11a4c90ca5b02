"""The house's law: arrows point down, rooms do not see each other twice, folders stay readable.

Three kinds of arrow are read: imports (even inside functions), reverse relations (a tank's
surveys read below `surveys`) and links to pages of an app above (by the name of an address).
"""

import ast
import re
from collections import Counter
from functools import cache
from pathlib import Path

import pytest
from django.apps import apps as django_apps
from django.urls import URLResolver, get_resolver

from tests.sources import (
    APPS,
    PAGES,
    SOURCES,
    TEMPLATES,
    expect_none,
    place_of,
    text_of,
    tree_of,
)

# Bottom first. A package may import itself and packages of earlier floors;
# two packages on one floor are siblings and may not see each other.
FLOORS = [
    {"photics"},
    {"drawing"},
    {"common"},
    {"accounts"},
    {"later"},
    {"clubs"},
    {"tanks"},
    {"lighting"},
    {"surveys"},
    {"lightmap"},
    {"corals"},
    {"outcomes", "planning"},
    {"sharing", "api", "transfer", "hosting"},
]
# The same inside photics; `limits` and the door `association` stand beside the rooms.
PHOTICS_FLOORS = [
    {"ground"},
    {"optics", "photometry", "day", "colour", "causes"},
    {"rig"},
    {"field"},
    {"layout"},
]
STANDARD = {
    "__future__",
    "collections",
    "collections.abc",
    "dataclasses",
    "enum",
    "functools",
    "itertools",
    "math",
    "typing",
}
# Packages without Django: what they may import besides the standard modules above.
PURE = {"photics": {"numpy", "scipy"}, "drawing": {"numpy", "contourpy", "datetime"}}
MODULES_MAX = 20


def allowed_below(package, floors=FLOORS):
    """Return the packages that `package` may import from, itself included."""
    below = set()
    for floor in floors:
        if package in floor:
            return below | {package}
        below |= floor
    raise KeyError(f"{package} stands on no floor")


@cache
def imports(path, root):
    """Return (line, absolute dotted name) of every import in a file, even inside functions."""
    package = ("apps", *path.relative_to(root).parent.parts)
    result = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            result += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            stem = ".".join(part for part in (*base, node.module or "") if part)
            # "from apps import tanks" names the package in the alias.
            result += [(node.lineno, f"{stem}.{alias.name}") for alias in node.names]
    return result


def broken_arrows(path, root=APPS):
    """Return the (line, name) of the imports of one file that the contract forbids."""
    parts = path.relative_to(root).parts
    if parts[0] == "__init__.py":
        return []
    below = allowed_below(parts[0])
    return [(line, name) for line, name in imports(path, root) if is_forbidden(name, parts, below)]


def is_forbidden(name, parts, below):
    target = name.split(".")
    if target[0] != "apps":
        foreign = parts[0] in PURE and target[0] not in PURE[parts[0]] | STANDARD
        # The root package knows every app: no app may know the root.
        return foreign or target[0] == "reeflog"
    if target[1] not in below:
        return True
    within_photics = parts[0] == target[1] == "photics" and len(parts) > 2
    if within_photics and target[2] != "limits":
        return target[2] not in allowed_below(parts[1], PHOTICS_FLOORS)
    return False


def room_of(path):
    """Return the dotted package a file lies in."""
    return ".".join(("apps", *path.relative_to(APPS).parent.parts))


def test_imports_point_down():
    expect_none(
        [
            f"{place_of(path)}:{line}: {name}"
            for path in SOURCES
            for line, name in broken_arrows(path)
        ]
    )


@pytest.mark.parametrize(
    ("package", "line"),
    [
        ("surveys", "from apps.corals.models import Coral"),
        ("surveys", "from apps.lightmap.pins import PINS"),
        ("surveys", "def f():\n    from ..corals import models"),
        ("outcomes", "import apps.planning.layout"),
        ("sharing", "from apps import api"),
        ("tanks", "from reeflog.wiring import wire"),
        ("photics", "import django"),
        ("photics", "import time"),
        ("photics/field", "from apps.photics.layout.score import Score"),
        ("photics/colour", "from apps.photics.day.curve import DayCurve"),
        ("drawing", "from apps.common.units import LengthField"),
        ("drawing", "import scipy"),
    ],
)
def test_contract_catches_a_broken_arrow(tmp_path, package, line):
    source = tmp_path / package / "example.py"
    source.parent.mkdir(parents=True)
    source.write_text(line)
    assert len(broken_arrows(source, tmp_path)) == 1


# --- Rooms ----------------------------------------------------------------------------------
def arrows_between(key):
    """Return the set of (from, to) over all imports inside apps/, each end as key(module)."""
    modules = {
        ".".join(("apps", *p.relative_to(APPS).with_suffix("").parts)).removesuffix(".__init__"): p
        for p in SOURCES
    }
    found = set()
    for module, path in modules.items():
        for _, name in imports(path, APPS):
            target = name if name in modules else name.rpartition(".")[0]
            if target in modules and target != module:
                found.add((key(module, path), key(target, modules[target])))
    return {(start, end) for start, end in found if start != end}


@pytest.mark.parametrize("key", [lambda m, p: m, lambda m, p: room_of(p)], ids=["module", "room"])
def test_nothing_sees_what_sees_it(key):
    arrows = arrows_between(key)
    assert sorted(pair for pair in arrows if pair[::-1] in arrows and pair[0] < pair[1]) == []


def test_no_folder_is_too_full_to_read():
    count = Counter(room_of(path) for path in SOURCES if path.name != "__init__.py")
    assert {room: n for room, n in count.items() if n > MODULES_MAX} == {}


# --- Reverse relations ----------------------------------------------------------------------
def reverse_names():
    """Return {name: {(owner, below)}}: what a model of `below` is given by one of `owner`."""
    names = {}
    for model in django_apps.get_models():
        if not model.__module__.startswith("apps."):
            continue
        owner = model.__module__.split(".")[1]
        for field in model._meta.get_fields():
            if field.auto_created or not field.remote_field:
                continue
            below = field.related_model.__module__
            name = field.remote_field.get_accessor_name()
            if name and below.startswith("apps.") and below.split(".")[1] != owner:
                names.setdefault(name, set()).add((owner, below.split(".")[1]))
    return names


def upward_reads(path, names, root=APPS):
    """Return the lines of one file that read a relation owned by an app above it."""
    package = path.relative_to(root).parts[0]
    if package in PURE or package == "__init__.py":
        return []
    above = set().union(*FLOORS) - allowed_below(package)
    text = text_of(path)
    upward = {n for n, ends in names.items() if n in text and {o for o, b in ends} & above}
    return [
        (node.lineno, node.attr)
        for node in (ast.walk(tree_of(path)) if upward else ())
        if isinstance(node, ast.Attribute)
        and node.attr in upward
        and isinstance(node.value, ast.Name | ast.Attribute)
        and ast.unparse(node.value).split(".")[-1] in {"tank", "user", "coral", "survey", "owner"}
    ]


def test_no_relation_is_read_below_its_owner():
    names = reverse_names()
    broken = {str(p.relative_to(APPS)): upward_reads(p, names) for p in SOURCES}
    assert {path: lines for path, lines in broken.items() if lines} == {}


def test_a_relation_read_below_its_owner_is_caught(tmp_path):
    source = tmp_path / "lighting" / "example.py"
    source.parent.mkdir()
    source.write_text("newest = tank.surveys.present().last()")
    assert upward_reads(source, reverse_names(), tmp_path) == [(1, "surveys")]


# --- Links ----------------------------------------------------------------------------------
def address_owners(resolver=None, app=None):
    """Return {name of an address: the app whose urls.py names it}."""
    owners = {}
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            module = getattr(entry.urlconf_name, "__name__", entry.urlconf_name)
            inner = module.split(".")[1] if str(module).startswith("apps.") else app
            owners |= address_owners(entry, inner)
        elif entry.name and app:
            owners[entry.name] = app
    return owners


LINK = re.compile(
    r"""(?:reverse|redirect|reverse_lazy)\(\s*["'](\w+)["']|{%\s*url\s+["'](\w+)["']"""
)


def upward_links(path, package, owners):
    """Return the names of addresses of apps above that one file links to."""
    below = allowed_below(package)
    named = (match[1] or match[2] for match in LINK.finditer(text_of(path)))
    return sorted({name for name in named if name in owners and owners[name] not in below})


def linking_files():
    floors = set().union(*FLOORS)
    pages = [(p, p.relative_to(PAGES).parts[0]) for p in TEMPLATES]
    code = [(p, p.relative_to(APPS).parts[0]) for p in SOURCES]
    return [(path, package) for path, package in pages + code if package in floors]


def test_no_page_links_to_an_app_above_it():
    owners = address_owners()
    broken = {
        place_of(path): upward_links(path, package, owners) for path, package in linking_files()
    }
    assert {path: names for path, names in broken.items() if names} == {}


def test_a_link_upward_is_caught(tmp_path):
    page = Path(tmp_path, "page.html")
    page.write_text("""<a href="{% url 'coral_list' tank.pk %}">Corals</a>""")
    assert upward_links(page, "tanks", address_owners()) == ["coral_list"]
