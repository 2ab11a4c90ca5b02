"""A link that shows a day: its light, corals and notes, whatever came later."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apps.lighting.hanging import save_light_change
from apps.sharing.models import ShareLink
from tests.corals.shots import make_colour
from tests.factories import make_coral, make_light_change, make_lit_survey, make_note
from tests.sharing.links import make_link
from tests.sharing.test_share_links import make

NOW, DAY = timezone.now(), dt.timedelta(days=1)


@pytest.fixture
def changed(tank):
    """Return a tank surveyed 20 days ago, dimmed 10 days ago and surveyed again 2 days ago."""
    make_lit_survey(tank, taken_at=NOW - 20 * DAY)
    make_light_change(tank, happened_at=NOW - 10 * DAY, factor=0.5)
    make_lit_survey(tank, taken_at=NOW - 2 * DAY)
    return tank


def shown(tank, days_ago, **fields):
    _, token = make_link(tank, as_of=tank.today() - days_ago * DAY, **fields)
    return Client().get(reverse("shared_map", args=[token]))


def mean(answer):
    return answer.context["page"].facts.mean_umol


def test_the_light_is_that_of_the_day(changed):
    before, after = shown(changed, 15), shown(changed, 5)
    assert before.context["page"].survey.taken_at == NOW - 20 * DAY
    assert len(before.context["page"].surveys) == 1
    assert mean(after) == pytest.approx(0.5 * mean(before), rel=0.02)
    assert [len(a.context["page"].light.changes) for a in (before, after)] == [0, 1]
    assert 'id="as-of"' in before.content.decode()


def test_a_link_that_is_kept_up_to_date_shows_the_newest(changed):
    _, token = make_link(changed)
    answer = Client().get(reverse("shared_map", args=[token]))
    assert answer.context["page"].survey.taken_at == NOW - 2 * DAY
    assert 'id="as-of"' not in answer.content.decode()


def test_before_the_first_survey_there_is_nothing_to_see_of_later(changed):
    page = shown(changed, 30).context["page"]
    assert page.survey is None and not page.surveys


def test_a_later_survey_cannot_be_asked_for_by_its_key(changed):
    _, token = make_link(changed, as_of=changed.today() - 15 * DAY)
    later = changed.surveys.order_by("-taken_at").first()
    answer = Client().get(reverse("shared_map", args=[token]), {"survey": later.pk})
    assert answer.context["page"].survey.taken_at == NOW - 20 * DAY


def test_corals_sit_where_they_sat(changed):
    today = changed.today()
    coral = make_coral(changed, name="Torch", added_on=today - 18 * DAY)
    coral.spots.update(since=today - 18 * DAY, x_cm=11)
    coral.spots.create(since=today - 3 * DAY, x_cm=33, y_cm=20, depth_cm=20)
    gone = make_coral(changed, name="Acan", added_on=today - 18 * DAY)
    gone.spots.update(since=today - 18 * DAY)
    gone.gone_on, gone.gone_how = today - 4 * DAY, "died"
    gone.save()
    late = make_coral(changed, name="Zoa", added_on=today - DAY)
    late.spots.update(since=today - DAY)

    def pins(days_ago):
        page = shown(changed, days_ago).context["page"]
        return {lit.pin.name: lit.pin.x_cm for lit in page.planes.pin_lights}

    assert pins(5)["Torch"] == 11 and set(pins(5)) == {"Torch", "Acan"}
    assert pins(0)["Torch"] == 33 and set(pins(0)) == {"Torch", "Zoa"}


def test_notes_and_photos_of_later_stay_behind(changed):
    coral = make_coral(changed)
    old = make_note(coral, noted_on=changed.today() - 12 * DAY, text="fine then")
    make_note(coral, noted_on=changed.today(), text="paling since")
    photo = make_colour(coral).photo
    link, token = make_link(changed, as_of=old.noted_on, show_notes=True, show_photos=True)
    body = Client().get(reverse("shared_map", args=[token])).content.decode()
    assert "fine then" in body and "paling since" not in body
    photo.note.noted_on = changed.today()
    photo.note.save()
    address = reverse("shared_photo", args=[token, photo.key])
    assert Client().get(address).status_code == 404
    ShareLink.objects.filter(pk=link.pk).update(as_of=None)
    assert Client().get(address).status_code == 200


def test_owner_chooses_the_day(as_user, owner, changed):
    make(as_user(owner), changed, as_of="2026-01-05")
    assert ShareLink.objects.get().as_of == dt.date(2026, 1, 5)


@pytest.mark.parametrize("day", ["2999-01-01", "0206-01-05", "last week"])
def test_a_day_that_cannot_be_is_refused(as_user, owner, changed, day):
    answer = make(as_user(owner), changed, as_of=day)
    assert answer.status_code == 422 and "as_of" in answer.context["form"].errors
    assert not ShareLink.objects.exists()


def test_a_day_on_which_nothing_shone_is_not_called_today(tank):
    make_lit_survey(tank, taken_at=NOW - 20 * DAY)
    change = make_light_change(tank, happened_at=NOW - 10 * DAY, summary="Lamps down")
    save_light_change(change=change, hung=[], taken_down=[1])
    answer = shown(tank, 5)
    assert answer.context["page"].light.dark
    words = answer.content.decode().split('class="map-survey"')[1].split("</section>")[0]
    assert "nothing" in words and "today" not in words
