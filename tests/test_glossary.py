"""The glossary: open to all, one short entry a word, and every link to a word lands on it."""

import re

import pytest
from django.urls import reverse

from tests.paths import ROOT

TERM = re.compile(r"""{% term ["']([\w-]+)["']""")
ENTRY = re.compile(r'<div id="([\w-]+)"><dt>(.*?)</dt>\s*<dd>(.*?)</dd></div>', re.DOTALL)
SENTENCES_MAX = 3
LOOKED_FOR = {
    "par", "ppfd", "dli", "band", "optic", "spill", "interval", "acclimation", "survey", "reading",
    "sps", "lps", "bleaching", "browning", "paling", "channel", "frag", "photoperiod",
}  # fmt: skip


@pytest.fixture
def entries(client, db):
    html = client.get(reverse("glossary")).content.decode()
    return [(key, word, " ".join(text.split())) for key, word, text in ENTRY.findall(html)]


def test_the_words_a_keeper_meets_are_there(entries):
    assert {key for key, _, _ in entries} >= LOOKED_FOR


def test_each_word_has_one_anchor(entries):
    keys = [key for key, _, _ in entries]
    assert len(keys) == len(set(keys))


def test_an_entry_is_short(entries):
    assert {
        k: t for k, _, t in entries if len(re.findall(r"[.;:](?:\s|$)", t)) > SENTENCES_MAX
    } == {}


def test_every_link_to_a_word_lands_on_its_entry(entries):
    used = {
        key for p in (ROOT / "templates").rglob("*.html") for key in TERM.findall(p.read_text())
    }
    assert used <= {key for key, _, _ in entries}


def test_every_page_leads_to_the_glossary(as_user, owner):
    assert f'href="{reverse("glossary")}"' in as_user(owner).get("/settings/").content.decode()
