"""Words that are for engineers stay off the screens; a missing source is said once a page."""

import ast
import re

import pytest

from tests.sources import (
    SOURCES,
    TEMPLATES,
    expect_none,
    lines_where,
    place_of,
    text_of,
    tree_of,
    words_of,
)

LINE_MAX = 160
# A number that a template writes, parted from its unit or from the sign before it.
PARTED = re.compile(r"\}\}(?:</?[a-z]+>)?\s+(?:%(?!\})|mol\b|µmol|W\b|nm\b)|±\s+[\d{]")
COMMENT = re.compile(r"\{#.*?#\}", re.DOTALL)
# Data that is one word: the points of a drawing, an address elsewhere.
UNBROKEN = re.compile(r'\bd="M|https?://')
HEAD = re.compile(r'<(div|header)\b[^>]*\bclass="(?:[^"]* )?page-head[ "][^>]*>')
ACTS_FIRST = re.compile(r'class="(?:button|actions)\b.*<p\b', re.DOTALL)
FOR_ENGINEERS = ("house rule", "from memory", "common practice")
NO_SOURCE = "no published source"


def spoken_strings(path):
    """Return (line, string) of a module's strings that are no docstrings: they may be shown."""
    nodes = list(ast.walk(tree_of(path)))
    docstrings = {
        id(node.body[0].value)
        for node in nodes
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    return [
        (node.lineno, node.value)
        for node in nodes
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


def test_the_files_that_the_rules_are_for_are_there():
    assert len(TEMPLATES) > 300 and len(SOURCES) > 800


def test_a_page_is_written_for_keepers():
    pages = ((place_of(path), words_of(path).lower()) for path in TEMPLATES)
    expect_none([(page, w) for page, text in pages for w in FOR_ENGINEERS if w in text])


def test_a_missing_source_is_said_once_and_folded():
    often = [place_of(path) for path in TEMPLATES if words_of(path).count(NO_SOURCE) > 1]
    folded_pages = ("_how", "_method")
    bare = [
        place_of(path)
        for path in TEMPLATES
        if not path.stem.endswith(folded_pages) and NO_SOURCE in outside_disclosures(words_of(path))
    ]
    expect_none(often + bare)


def test_a_sentence_made_in_code_is_written_for_keepers():
    refused = (*FOR_ENGINEERS, NO_SOURCE)
    expect_none(
        [
            f"{place_of(path)}:{line}: {text}"
            for path in SOURCES
            for line, text in spoken_strings(path)
            if any(words in text.lower() for words in refused)
        ]
    )


def test_a_line_of_a_template_can_be_read_whole():
    def is_long(line):
        return len(line) > LINE_MAX and not UNBROKEN.search(line)

    expect_none(lines_where(TEMPLATES, is_long))


# A person is no row: their access ends, and they are not deleted.
DELETING = re.compile(
    r"""action="{% url '(?!membership|club_member)\w+_remove'"""
    r"""[^>]*>.*?<button[^>]*>\s*(.*?)</button>""",
    re.DOTALL,
)


def words_that_delete():
    """Return (page, words) of the buttons that send a row to be deleted."""
    return [
        (place_of(path), " ".join(words.split()))
        for path in TEMPLATES
        for words in DELETING.findall(text_of(path))
    ]


def test_what_deletes_says_delete():
    buttons = words_that_delete()
    assert len(buttons) > 12
    expect_none([(page, words) for page, words in buttons if not words.startswith("Delete")])


def heads_of(html):
    """Return what stands in each head of a page, up to the tag that closes it."""
    heads = []
    for head in HEAD.finditer(html):
        depth = 1
        for tag in re.finditer(rf"<(/?){head[1]}\b", html[head.end() :]):
            depth += -1 if tag[1] else 1
            if not depth:
                heads.append(html[head.end() :][: tag.start()])
                break
    return heads


@pytest.mark.parametrize(
    "html",
    [
        '<div class="page-head">{}</div>',
        '    <header id="a" class="page-head no-print">\n{}\n</header>',
        '<div class="what-if page-head"><div>{}</div>\n  </div><div></div>',
    ],
)
def test_a_head_is_read_however_it_is_written(html):
    acts_first = '<a class="button">Add</a>\n<p>3 corals</p>'
    (head,) = heads_of(html.format(acts_first))
    assert ACTS_FIRST.search(head)
    assert not any(map(ACTS_FIRST.search, heads_of(html.format("") + acts_first)))


def test_a_page_answers_before_it_offers_what_to_do():
    heads = [(place_of(path), head) for path in TEMPLATES for head in heads_of(text_of(path))]
    assert len(heads) > 120
    expect_none([place for place, head in heads if ACTS_FIRST.search(head)])


def test_a_comment_of_a_template_ends_on_its_line():
    """One of two lines is none: it would stand on the page."""
    expect_none(lines_where(TEMPLATES, lambda line: line.count("{#") != line.count("#}")))


def test_no_line_ends_between_a_number_and_its_unit():
    pages = ((place_of(path), COMMENT.sub("", text_of(path))) for path in TEMPLATES)
    expect_none([(page, parted) for page, text in pages for parted in PARTED.findall(text)])
