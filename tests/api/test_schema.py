"""The schema of all calls is made once, and is the one that would be made anew."""

import json

import pytest
from django.core.cache import cache
from django.urls import reverse
from rest_framework.renderers import JSONRenderer

from apps.api import docs_views


@pytest.fixture
def made(kept_folder, db, monkeypatch):
    """List the schemas that are made from here on, none of which is kept yet."""
    cache.clear()
    result, make = [], docs_views.make_schema
    monkeypatch.setattr(docs_views, "make_schema", lambda: result.append(make()) or result[-1])
    return result


def test_the_kept_schema_is_the_one_that_would_be_made(client, made):
    first, second = (client.get(reverse("api-schema")) for _ in range(2))
    assert len(made) == 1
    assert first.content == second.content
    assert second.json() == json.loads(JSONRenderer().render(docs_views.make_schema()))


def test_the_page_for_people_and_the_schema_are_made_of_one(client, made):
    assert client.get(reverse("api_docs")).status_code == 200
    assert client.get(reverse("api-schema")).status_code == 200
    assert len(made) == 1


def test_other_settings_make_another_schema(client, made, settings):
    client.get(reverse("api-schema"))
    settings.SPECTACULAR_SETTINGS = settings.SPECTACULAR_SETTINGS | {"VERSION": "2"}
    client.get(reverse("api-schema"))
    assert len(made) == 2
