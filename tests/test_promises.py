"""Each promise is on its page, word for word; a test of what it promises lies in its room."""

import re

import pytest
from django.urls import get_resolver, reverse

from tests.paths import ROOT
from tests.promises import FILES, OWNERS, PUBLIC, TEMPLATES

pytestmark = pytest.mark.one_database


def read_as_seen(html):
    """Return a page's words, its tags left out."""
    return " ".join(re.sub(r"<[^>]*>", "", html).split())


@pytest.mark.parametrize(("name", "sentence"), PUBLIC)
def test_visitor_reads_it(client, db, name, sentence):
    assert sentence in read_as_seen(client.get(reverse(name)).content.decode())


@pytest.mark.parametrize(("name", "sentence"), OWNERS)
def test_owner_reads_it(as_user, owner, tank, name, sentence):
    takes_tank = bool(get_resolver().reverse_dict.getlist(name)[0][0][0][1])
    response = as_user(owner).get(reverse(name, args=[tank.pk] if takes_tank else []))
    assert response.status_code == 200
    assert sentence in read_as_seen(response.content.decode())


@pytest.mark.parametrize(("template", "sentence"), TEMPLATES)
def test_template_says_it(template, sentence):
    assert sentence in read_as_seen((ROOT / "templates" / template).read_text())


@pytest.mark.parametrize(("path", "sentence"), FILES)
def test_file_says_it(path, sentence):
    assert sentence in " ".join((ROOT / path).read_text().split())
