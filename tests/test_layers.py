"""The import contract of apps/: arrows point down, siblings do not meet, photics stands alone."""

import ast

import pytest

from tests.paths import ROOT

APPS = ROOT / "apps"
# Bottom first. A package may import itself and packages of earlier floors;
# two packages on one floor are siblings and may not see each other.
FLOORS = [
    {"photics"},
    {"common"},
    {"accounts"},
    {"tanks"},
    {"lighting"},
    {"surveys"},
    {"corals"},
    {"outcomes", "planning"},
    {"sharing", "api"},
]
PHOTICS_MAY_IMPORT = {
    "__future__",
    "collections",
    "dataclasses",
    "functools",
    "itertools",
    "math",
    "numpy",
    "scipy",
    "typing",
}


def allowed_below(package):
    """Return the packages that `package` may import from, itself included."""
    below = set()
    for floor in FLOORS:
        if package in floor:
            return below | {package}
        below |= floor
    raise KeyError(f"apps/{package} stands on no floor")


def imported_modules(path, root=APPS):
    """Yield every absolute dotted name imported in a file, even inside functions."""
    package = ("apps", *path.relative_to(root).parent.parts)
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            stem = ".".join(part for part in (*base, node.module or "") if part)
            # "from apps import tanks" names the package in the alias.
            yield from (f"{stem}.{alias.name}" for alias in node.names)


def broken_arrows(path, root=APPS):
    """Return the imports of one file that the contract forbids."""
    package = path.relative_to(root).parts[0]
    if package == "__init__.py":
        return []
    below = allowed_below(package)
    broken = []
    for name in imported_modules(path, root):
        parts = name.split(".")
        upward = parts[0] == "apps" and parts[1] not in below
        foreign = package == "photics" and parts[0] != "apps" and parts[0] not in PHOTICS_MAY_IMPORT
        # The root package knows every app: no app may know the root, save its urls and settings.
        rooted = parts[0] == "reeflog"
        if upward or foreign or rooted:
            broken.append(name)
    return broken


def sources():
    return [p for p in sorted(APPS.rglob("*.py")) if "migrations" not in p.parts]


@pytest.mark.parametrize("path", sources(), ids=lambda p: str(p.relative_to(APPS)))
def test_imports_point_down(path):
    assert broken_arrows(path) == []


@pytest.mark.parametrize(
    ("package", "line"),
    [
        ("surveys", "from apps.corals.models import Coral"),
        ("surveys", "def f():\n    from ..corals import models"),
        ("outcomes", "import apps.planning.layout"),
        ("sharing", "from apps import api"),
        ("photics", "import django"),
        ("photics", "import time"),
    ],
)
def test_contract_catches_a_broken_arrow(tmp_path, package, line):
    source = tmp_path / package / "example.py"
    source.parent.mkdir()
    source.write_text(line)
    assert broken_arrows(source, tmp_path)
