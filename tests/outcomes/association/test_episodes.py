"""Which notes of a coral are one event, and what it is called."""

import pytest

from apps.outcomes.association.correlation import tank_outcomes
from apps.outcomes.association.events import Direction, corals_with_notes, episodes
from tests.factories import make_coral
from tests.outcomes.association.pale_corals import SEEN, pale


def test_notes_within_thirty_days_are_one_episode(tank):
    coral = make_coral(tank)
    first = pale(coral, ago=90)
    pale(coral, ago=61, seen=SEEN.BLEACHING)
    (found,) = episodes(corals_with_notes(tank)[0], Direction.LIGHTER)
    assert (found.pk, len(found.note_pks), found.verb) == (first.pk, 2, "paled")


def test_sign_beside_the_main_one_makes_an_event(tank):
    pale(make_coral(tank), seen=SEEN.TISSUE_LOSS, also_seen=["bleaching", "browning"], strength=2)
    coral = corals_with_notes(tank)[0]
    (lighter,), (darker,) = (list(episodes(coral, direction)) for direction in Direction)
    assert (lighter.verb, lighter.severity) == ("bleached", 5)
    assert (darker.verb, darker.severity) == ("browned", 2)


@pytest.mark.parametrize(
    ("conditions", "steps", "real"),
    [
        ((5, 3, 2), -3, True),
        ((5, 4, 5), -1, False),
        ((4, 3, None), -1, False),
        ((3, 5, 6), 2, False),
    ],
)
def test_fall_of_condition_is_from_the_last_before_to_the_worst_in_it(
    tank, conditions, steps, real
):
    """Two steps or more are real: Siebeck et al. 2006, Coral Reefs 25."""
    coral, (before, *within) = make_coral(tank), conditions
    pale(coral, ago=50, seen=SEEN.OTHER, condition=before)
    for ago, condition in zip((40, 30), within, strict=True):
        pale(coral, ago=ago, condition=condition)
    (found,) = episodes(corals_with_notes(tank)[0], Direction.LIGHTER)
    assert (found.decline.change.steps, found.decline.is_real) == (steps, real)


def test_condition_said_only_once_shows_no_fall(tank):
    pale(make_coral(tank), condition=2)
    (found,) = episodes(corals_with_notes(tank)[0], Direction.LIGHTER)
    assert found.decline is None


def test_longer_silence_begins_a_new_episode(tank):
    coral = make_coral(tank)
    pale(coral, ago=90)
    pale(coral, ago=59)
    assert len(list(episodes(corals_with_notes(tank)[0], Direction.LIGHTER))) == 2


def test_removed_note_makes_no_event(lit):
    pale(make_coral(lit)).remove()
    assert tank_outcomes(lit).events == ()


def test_note_of_looking_well_makes_no_event(lit):
    pale(make_coral(lit), seen=SEEN.WELL)
    assert tank_outcomes(lit).events == ()
