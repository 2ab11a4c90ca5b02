"""The light of all corals over time: who sat where, and how often the rig is worked out for it."""

import datetime as dt

import pytest
from django.utils import timezone

from apps.corals.models import Spot
from apps.lightmap.lightmap import tank_light
from apps.outcomes.association.correlation import tank_outcomes
from apps.outcomes.association.events import corals_with_notes
from apps.outcomes.exposure.exposure import DAY, LightBook
from apps.photics.field.light_path import LightPath
from tests.factories import make_coral, make_light_change, make_lit_survey, make_note


def days_ago(n):
    return timezone.now() - dt.timedelta(days=n)


@pytest.fixture
def lived(tank):
    """A measured tank whose corals came, moved and went on days of their own."""
    make_lit_survey(tank, taken_at=days_ago(20))
    today = tank.today()
    for k in range(6):
        coral = make_coral(tank, at_cm=(10 + 7 * k, 20, 15), since=today - (60 - 3 * k) * DAY)
        for ago, x in ((30 - k, 20), (12 - k, 40)):
            Spot.objects.create(
                coral=coral, x_cm=x, y_cm=30, depth_cm=20 + k, since=today - ago * DAY
            )
        make_note(coral, noted_on=today - (2 + k) * DAY)
    # Came later than its first spot says, and went.
    coral.added_on, coral.gone_on = today - 44 * DAY, today - 3 * DAY
    coral.save()
    make_coral(tank, at_cm=None)
    for k in range(8):
        make_light_change(tank, happened_at=days_ago(40 - 4 * k), factor=1 + 0.1 * (k % 3))
    return tank


def book_of(tank):
    return LightBook(tank, corals_with_notes(tank), tank_light(tank))


def sat(coral, day):
    """Return where a coral sat on a date, by its own spots alone."""
    if day < coral.added_on or (coral.gone_on and day > coral.gone_on):
        return None
    return coral.spot_on(day)


def test_every_coral_sits_where_its_spots_say_on_every_day(lived):
    book = book_of(lived)
    for ago in range(70):
        day = lived.today() - ago * DAY
        stretch = book.stretch_at(book.midnight(day))
        assert [book.spot_in(c, stretch) for c in book.corals] == [sat(c, day) for c in book.corals]


def test_light_of_a_coral_is_that_of_its_spot_at_that_moment(lived):
    book, light = book_of(lived), tank_light(lived)
    for ago in range(0, 60, 3):
        day = lived.today() - ago * DAY
        for coral in book.corals:
            spot, mine = sat(coral, day), book.light_at(coral, book.midnight(day))
            if spot is None:
                assert mine is None
                continue
            (asked,) = light.at([(spot.x_cm, spot.y_cm, spot.depth_cm)], book.midnight(day))
            assert mine.survey_pk == asked.survey_pk
            assert (mine.par_umol, mine.low_umol, mine.high_umol) == pytest.approx(
                (asked.par_umol, asked.low_umol, asked.high_umol)
            )


def test_mean_weighs_each_stretch_by_its_days(lived):
    book = book_of(lived)
    end = book.eve(lived.today() - 5 * DAY)
    means = book.means_before(end, 21)
    coral = book.corals[0]
    moments = [end - dt.timedelta(days=21 * (k + 0.5) / 2000) for k in range(2000)]
    shares = [book.light_at(coral, moment).par_umol for moment in moments]
    assert means[coral.pk].par_umol == pytest.approx(sum(shares) / 2000, rel=1e-3)
    assert means[coral.pk].days == pytest.approx(21)


def test_rig_is_laid_out_once_for_all_events_and_moments(lived, monkeypatch):
    laid = []
    whole = LightPath.__init__

    def counted(self, field, points_cm):
        laid.append(len(points_cm))
        whole(self, field, points_cm)

    monkeypatch.setattr(LightPath, "__init__", counted)
    outcomes = tank_outcomes(lived)
    lit = [outcomes.exposed(event) for event in outcomes.events]
    assert outcomes.comparisons and len(lit) == 6 and len(laid) == 1


def test_deleted_coral_has_no_light(lived):
    book = book_of(lived)
    gone = make_coral(lived)
    assert book.light_at(gone, timezone.now()) is None
