"""Every page keeps the strict policy: no inline style or script, nothing from another site."""

import re
from html.parser import HTMLParser

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.factories import let_in, make_coral, make_note, make_rock, make_survey, make_user

pytestmark = pytest.mark.one_database


def page_names(patterns=None, above=()):
    """Yield (name, parameters) of every named address that takes nothing or only a tank."""
    for entry in patterns or get_resolver().url_patterns:
        parameters = (*above, *entry.pattern.regex.groupindex)
        if isinstance(entry, URLResolver):
            if not entry.namespace and "api/" not in str(entry.pattern):
                yield from page_names(entry.url_patterns, parameters)
        elif isinstance(entry, URLPattern) and entry.name and parameters in ((), ("tank_pk",)):
            yield entry.name, parameters


PAGES = sorted(set(page_names()))


class PageReader(HTMLParser):
    """Collects what the policy is about."""

    def __init__(self, html):
        super().__init__()
        self.inline, self.outside, self.scripts = [], [], []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        self.inline += [f"{tag} {a}" for a in attrs if a == "style" or a.startswith("on")]
        if tag == "style":
            self.inline.append(tag)
        if tag == "script":
            self.scripts.append(attrs)
            if not attrs.get("src") and attrs.get("type") != "application/json":
                self.inline.append("script with text")
        for name in ("src", "href", "action", "srcset", "poster"):
            if re.match(r"(https?:)?//", attrs.get(name) or ""):
                self.outside.append(attrs[name])


@pytest.fixture
def lived_in(tank):
    """A tank with something in every room."""
    make_rock(tank)
    make_survey(tank)
    make_note(make_coral(tank))
    let_in(tank, make_user())
    return tank


def visit(client, name, parameters, tank):
    return client.get(reverse(name, args=[tank.pk] if parameters else []))


def check(response):
    policy = response["Content-Security-Policy"]
    assert "unsafe" not in policy and "http" not in policy and "default-src 'none'" in policy
    html = response.content.decode()
    page = PageReader(html)
    assert (page.inline, page.outside) == ([], [])
    if "<html" not in html:
        # A fragment brings no script of its own: the page it goes into has them.
        assert page.scripts == []
        return
    own = [s for s in page.scripts if s.get("type") == "module"]
    # All scripts are files of ours, so that nothing in a page differs from one visit to the next.
    assert own and "nonce" not in policy


@pytest.mark.parametrize(("name", "parameters"), PAGES, ids=lambda v: v if v else "")
def test_page_keeps_the_policy(as_user, owner, lived_in, name, parameters):
    response = visit(as_user(owner), name, parameters, lived_in)
    if response.status_code in (200, 404, 429) and response["Content-Type"].startswith("text/html"):
        check(response)
    else:
        # An action that needs a post, a page that leads on, a download, or no row for a program.
        is_problem = response["Content-Type"] == "application/problem+json"
        assert response.status_code in (200, 302, 405) or is_problem


@pytest.mark.parametrize("path", ["/", "/accounts/login/", "/accounts/signup/", "/nothing/"])
def test_page_for_visitors_keeps_the_policy(client, db, path):
    check(client.get(path))


def test_most_pages_are_looked_at(as_user, owner, lived_in):
    """Guards the test above: most addresses must be pages that it really reads."""
    client = as_user(owner)
    read = [n for n, p in PAGES if visit(client, n, p, lived_in).status_code == 200]
    assert {"tank_list", "tank_new", "tank_detail", "light_map", "settings_edit"} <= set(read)


def test_reader_catches_what_it_must():
    bad = '<p style="x"><script>1</script><img src="//cdn.example/x.png"><a onclick="f()">'
    page = PageReader(bad)
    assert page.inline == ["p style", "script with text", "a onclick"]
    assert page.outside == ["//cdn.example/x.png"]
