"""What the documents name is there."""

import re

import pytest

from tests.paths import ROOT

DOCUMENTS = (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md")))
ROOMS = ("apps", "reeflog", "static", "templates", "tests")
FILE = re.compile(r"`([\w./-]+\.(?:py|js|html|css))`")
LINK = re.compile(r"\]\((?!https?:)([^)#]*)(?:#([^)]*))?\)")
COMMAND = re.compile(r"python -m (tests[\w.]+)")


def anchors(path):
    """Return the anchors of a document's headings, as they are made where it is shown."""
    heads = re.findall(r"(?m)^#+ (.+)$", path.read_text())
    return {re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.fixture(scope="module")
def files():
    """Every file of the house, each by its path from the root with a slash before it."""
    paths = (p for room in ROOMS for p in (ROOT / room).rglob("*") if p.is_file())
    return [f"/{p.relative_to(ROOT)}" for p in (*paths, *ROOT.glob("*.py"))]


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: p.name)
def test_files_that_a_document_names_are_there(path, files):
    names = set(FILE.findall(path.read_text()))
    assert [n for n in sorted(names) if not any(f.endswith(f"/{n}") for f in files)] == []


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: p.name)
def test_links_lead_somewhere(path):
    for to, anchor in LINK.findall(path.read_text()):
        target = (path.parent / to).resolve() if to else path
        assert target.is_file(), to
        assert not anchor or anchor in anchors(target), f"{to}#{anchor}"


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: p.name)
def test_commands_that_a_document_names_can_be_run(path):
    for module in COMMAND.findall(path.read_text()):
        place = ROOT / module.replace(".", "/")
        assert place.with_suffix(".py").is_file() or (place / "__main__.py").is_file(), module
