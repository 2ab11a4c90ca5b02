"""A stranger at a share page makes no worker fit anew what any other has fitted."""

import datetime as dt

import pytest
from django.core.cache import caches
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apps.lightmap import joint_input
from apps.sharing.models import ShareLink
from tests.factories import make_light_change, make_survey


@pytest.fixture
def fits(monkeypatch):
    """Count how often a light field is fitted."""
    counted, fit = [], joint_input.fit_light_field

    def counting(*args, **kwargs):
        counted.append(1)
        return fit(*args, **kwargs)

    monkeypatch.setattr(joint_input, "fit_light_field", counting)
    return counted


@pytest.fixture
def address(tank):
    make_light_change(tank, happened_at=timezone.now() - dt.timedelta(days=9), factor=1)
    make_survey(tank)
    link = ShareLink(tank=tank, expires_at=timezone.now() + dt.timedelta(days=7))
    token = link.renew_token()
    link.save()
    return reverse("shared_map", args=[token])


def test_share_page_in_another_worker_fits_nothing(
    kept_folder, fits, address, tank, as_user, owner
):
    assert as_user(owner).get(reverse("light_map", args=[tank.pk])).status_code == 200
    caches["maps"].clear()
    assert Client().get(address).status_code == 200
    assert len(fits) == 1


def test_new_reading_is_fitted(kept_folder, fits, address, tank):
    Client().get(address)
    tank.surveys.first().readings.filter(position=1).update(value_umol=333)
    Client().get(address)
    assert len(fits) == 2


def test_share_page_opens_without_a_store(settings, tmp_path, kept_folder, fits, address):
    (tmp_path / "file").write_text("")
    settings.KEPT_DIR = tmp_path / "file" / "kept"
    assert Client().get(address).status_code == 200 and len(fits) == 1
