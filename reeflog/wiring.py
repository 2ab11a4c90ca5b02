"""Which app adds what to the pages of the apps below it: the one place that knows them all."""

from django.contrib.auth.signals import user_logged_in

import apps.corals.removable
import apps.lighting.removable
import apps.lightmap.removable
import apps.outcomes.removable
import apps.planning.removable
import apps.surveys.meters.removable
import apps.surveys.removable
import apps.tanks.removable
from apps.accounts.ending import ACCOUNT_ENDS
from apps.clubs.leaving import CLUBS_OWN, TAKEN_ALONG
from apps.clubs.parts import PARTS
from apps.clubs.searched import club_hits
from apps.common.pages_above import PAGES
from apps.common.searching.hits import SEARCHED
from apps.corals.coral.light_plans import LIGHT_PLANS
from apps.corals.coral.moving_on import move_corals
from apps.corals.coral.searched import coral_hits
from apps.corals.history.large import HISTORY_JOBS
from apps.corals.history.photo_tray import purge_words as purge_waiting_photos
from apps.corals.lit_spots import coral_spots
from apps.corals.map_pins import coral_pins
from apps.corals.notes.searched import note_hits
from apps.corals.overview import coral_lines
from apps.corals.stages import coral_stages
from apps.corals.tank_edits import spot_places, spots_beyond, water_event_moments
from apps.corals.water.large import WATER_JOBS
from apps.later.about import TANKS
from apps.later.clearing import drop_ended_jobs
from apps.later.kinds import KINDS, JobKind
from apps.lighting.change.effect import CHANGE_EFFECTS, CHECK_OFFERS
from apps.lighting.change.log import FORECAST_WORDS
from apps.lighting.change.surveyed import SURVEY_MOMENTS
from apps.lighting.offering.offering import offers_taken_along
from apps.lighting.offering.views import fixtures_part
from apps.lighting.overview import lamp_lines
from apps.lighting.rezoned import light_change_moments, recut_days
from apps.lighting.rig import overhead
from apps.lighting.spots import LIT_SPOTS
from apps.lighting.stages import light_stages
from apps.lightmap.check.overview import check_lines, check_offers
from apps.lightmap.check.reminders import light_reminders
from apps.lightmap.check.words import score_words
from apps.lightmap.compare.lights import PLANNED
from apps.lightmap.export.files import WRITE as WRITE_LIGHT
from apps.lightmap.export.files import WRITE_KIND as WRITE_LIGHT_KIND
from apps.lightmap.page.overview import map_pictures
from apps.lightmap.pins import PINS
from apps.lightmap.plan_places import coral_places, telling_places
from apps.lightmap.stages import survey_stages
from apps.lightmap.warming import WARM, WARM_KIND
from apps.outcomes.pool.club_views import outcomes_part
from apps.outcomes.pool.clubs import agreements_taken_along
from apps.outcomes.pool.handing_on import end_agreement
from apps.outcomes.pool.nightly import POOL, POOL_KIND
from apps.outcomes.trial.reminders import trial_reminders
from apps.planning.acclimation.reminders import acclimation_reminders
from apps.planning.acclimation.under_way import light_plans
from apps.planning.handing_on import hand_plans_on
from apps.planning.layout.compared import planned_lights
from apps.planning.layout.searching import SEARCH, SEARCH_KIND
from apps.planning.searched import plan_hits
from apps.planning.what_if.change_effect import change_effects
from apps.sharing.club.reading import tanks_part
from apps.sharing.handing_on import end_links
from apps.sharing.overview import comment_lines
from apps.sharing.reminding.rounds import REMIND, REMIND_KIND
from apps.surveys.handing.handing import offers_taken_along as survey_offers_taken_along
from apps.surveys.handing.views import surveys_part
from apps.surveys.lending.club_part import meters_part
from apps.surveys.lending.lending import clubs_meters, turns_taken_along
from apps.surveys.plan.patterns import CORAL_PLACES, TELLING_PLACES
from apps.surveys.rezoned import survey_moments
from apps.surveys.within import reading_places, readings_beyond, survey_moments_of
from apps.tanks.access import tank_of_job
from apps.tanks.beginning import STAGES
from apps.tanks.contents import BEYOND, PLACES
from apps.tanks.deleted import PURGES
from apps.tanks.ending.ending import MOVING_ON
from apps.tanks.overview import OVERVIEW, PICTURES
from apps.tanks.people.handing_over import HANDED_OVER
from apps.tanks.plan import OVERHEAD
from apps.tanks.reminding import REMINDERS
from apps.tanks.removable_kinds import REMOVABLE
from apps.tanks.rezoning import CLOCK_ROWS, DAY_LINES
from apps.tanks.search.hits import tank_hits
from apps.tanks.showing.showing import tanks_taken_along
from apps.transfer.account.leaving import hand_on as hand_on_with_account
from apps.transfer.account.leaving import purge_words
from apps.transfer.account.staying import keep_when_signed_in
from apps.transfer.archive.jobs import ARCHIVE_JOBS
from apps.transfer.tables.jobs import WRITE as WRITE_TABLES
from apps.transfer.tables.jobs import WRITE_KIND as WRITE_TABLES_KIND

PROVIDERS = {
    PARTS: [surveys_part, tanks_part, meters_part, fixtures_part, outcomes_part],
    TAKEN_ALONG: [
        tanks_taken_along,
        turns_taken_along,
        survey_offers_taken_along,
        offers_taken_along,
        agreements_taken_along,
    ],
    CLUBS_OWN: [clubs_meters],
    ACCOUNT_ENDS: [hand_on_with_account],
    OVERHEAD: [overhead],
    LIT_SPOTS: [coral_spots],
    PINS: [coral_pins],
    CHANGE_EFFECTS: [change_effects],
    CHECK_OFFERS: [check_offers],
    MOVING_ON: [move_corals],
    HANDED_OVER: [end_links, hand_plans_on, end_agreement],
    PLANNED: [planned_lights],
    FORECAST_WORDS: [score_words],
    OVERVIEW: [lamp_lines, check_lines, coral_lines, comment_lines],
    PICTURES: [map_pictures],
    STAGES: [light_stages, survey_stages, coral_stages],
    REMINDERS: [light_reminders, trial_reminders, acclimation_reminders],
    CLOCK_ROWS: [light_change_moments, survey_moments, water_event_moments],
    DAY_LINES: [recut_days],
    SURVEY_MOMENTS: [survey_moments_of],
    BEYOND: [readings_beyond, spots_beyond],
    PLACES: [reading_places, spot_places],
    CORAL_PLACES: [coral_places],
    TELLING_PLACES: [telling_places],
    LIGHT_PLANS: [light_plans],
    PURGES: [purge_words, purge_waiting_photos, drop_ended_jobs],
    TANKS: [tank_of_job],
    SEARCHED: [tank_hits, coral_hits, note_hits, plan_hits, club_hits],
    REMOVABLE: [
        apps.tanks.removable.kinds,
        apps.lighting.removable.kinds,
        apps.surveys.removable.kinds,
        apps.surveys.meters.removable.kinds,
        apps.lightmap.removable.kinds,
        apps.corals.removable.kinds,
        apps.outcomes.removable.kinds,
        apps.planning.removable.kinds,
    ],
}


# Pages that pages of apps below lead to.
PAGES_ABOVE = {
    "account_delete",
    "account_export",
    "acclimation_new",
    "acclimation_of_coral",
    "calendar_link",
    "channel_mix",
    "coral_case",
    "coral_list",
    "coral_new",
    "data_requests",
    "fixture_list",
    "light_change_done",
    "light_change_effect",
    "light_change_list",
    "light_change_new",
    "light_compare",
    "light_map",
    "light_map_next",
    "log_list",
    "member_reset",
    "meter_list",
    "outcome_list",
    "place_coral",
    "plan_link_list",
    "plan_list",
    "privacy",
    "reminders",
    "site_overview",
    "survey_list",
    "survey_review",
    "tank_export",
    "tank_exports",
    "tank_import",
    "token_list",
}


# What may be done behind the pages, by the names that rows of jobs bear.
JOBS: dict[str, JobKind] = {
    WARM: WARM_KIND,
    SEARCH: SEARCH_KIND,
    **HISTORY_JOBS,
    **WATER_JOBS,
    **ARCHIVE_JOBS,
    WRITE_LIGHT: WRITE_LIGHT_KIND,
    WRITE_TABLES: WRITE_TABLES_KIND,
    POOL: POOL_KIND,
    REMIND: REMIND_KIND,
}


def wire() -> None:
    """Add each app's providers to the registries of the apps below it."""
    PAGES.update(PAGES_ABOVE)
    KINDS.update(JOBS)
    for registry, providers in PROVIDERS.items():
        for provider in providers:
            registry.add(provider)
    user_logged_in.connect(keep_when_signed_in)
