"""Words that are for engineers stay off the screens; a missing source is said once a page."""

import ast
import re

import pytest

from tests.paths import ROOT

LINE_MAX = 160
# A number that a template writes, parted from its unit or from the sign before it.
PARTED = re.compile(r"\}\}(?:</?[a-z]+>)?\s+(?:%(?!\})|mol\b|µmol|W\b|nm\b)|±\s+[\d{]")
COMMENT = re.compile(r"\{#.*?#\}", re.DOTALL)
# Data that is one word: the points of a drawing, an address elsewhere.
UNBROKEN = re.compile(r'\bd="M|https?://')
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
SOURCES = sorted(p for p in (ROOT / "apps").rglob("*.py") if "migrations" not in p.parts)
FOR_ENGINEERS = ("house rule", "from memory", "common practice")
NO_SOURCE = "no published source"


def spoken_strings(path):
    """Return the strings of a module that are no docstrings: they may reach a screen."""
    tree = ast.parse(path.read_text())
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and id(node) not in docstrings
    ]


def outside_disclosures(html):
    """Return a template's text without what is folded under "How was this computed"."""
    kept, _, rest = html.partition('<details class="how"')
    while rest:
        text, _, rest = rest.partition("</details>")[2].partition('<details class="how"')
        kept += text
    return kept


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_page_is_written_for_keepers(path):
    text = " ".join(path.read_text().lower().split())
    assert [words for words in FOR_ENGINEERS if words in text] == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_missing_source_is_said_once_and_folded(path):
    text = " ".join(path.read_text().split())
    whole_file_is_folded = path.stem.endswith(("_how", "_method"))
    assert text.count(NO_SOURCE) <= 1
    assert whole_file_is_folded or NO_SOURCE not in outside_disclosures(text)


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_sentence_made_in_code_is_written_for_keepers(path):
    spoken = [text.lower() for text in spoken_strings(path)]
    assert [text for text in spoken for words in (*FOR_ENGINEERS, NO_SOURCE) if words in text] == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_line_of_a_template_can_be_read_whole(path):
    lines = enumerate(path.read_text().splitlines(), 1)
    assert [n for n, line in lines if len(line) > LINE_MAX and not UNBROKEN.search(line)] == []


# A person is no row: their access ends, and they are not deleted.
DELETING = re.compile(
    r"""action="{% url '(?!membership|club_member)\w+_remove'"""
    r"""[^>]*>.*?<button[^>]*>\s*(.*?)</button>""",
    re.DOTALL,
)


def words_that_delete(path):
    """Return what the buttons say that send a row to be deleted."""
    return [" ".join(words.split()) for words in DELETING.findall(path.read_text())]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT)))
def test_what_deletes_says_delete(path):
    assert [words for words in words_that_delete(path) if not words.startswith("Delete")] == []


def test_buttons_that_delete_are_found():
    assert sum(len(words_that_delete(path)) for path in TEMPLATES) > 12


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_comment_of_a_template_ends_on_its_line(path):
    """One of two lines is none: it would stand on the page."""
    lines = enumerate(path.read_text().splitlines(), 1)
    assert [n for n, line in lines if line.count("{#") != line.count("#}")] == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_line_ends_between_a_number_and_its_unit(path):
    assert PARTED.findall(COMMENT.sub("", path.read_text())) == []
