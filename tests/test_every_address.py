"""Every address that has a name: who is let in, who is not, and that looking writes nothing.

The addresses are walked, not listed: one that is new is asked for like all others, and its
author says here if it is open, a keeper's own, or one that viewers may read.
"""

import datetime as dt

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver, reverse
from django.utils import timezone
from knox.models import AuthToken

from apps.clubs.models import Block, ClubLink
from apps.clubs.models import Membership as ClubMembership
from apps.corals.notes.noting import keep_beside
from apps.lighting.models import PhotometricFile
from apps.planning.layout.searching import advance_search
from apps.sharing.models import Comment, PlanLink, ShareLink
from apps.surveys.models import PlannedPoint, SurveyRevision
from apps.tanks.models import Invitation, Membership, ShownTank
from tests.corals.shots import make_colour
from tests.factories import (
    let_in,
    make_acclimation,
    make_arrival,
    make_club,
    make_club_meter,
    make_coral,
    make_day_curve,
    make_fixture,
    make_history_import,
    make_light_change,
    make_log,
    make_meter,
    make_meter_check,
    make_note,
    make_rock,
    make_sent_photo,
    make_size,
    make_survey,
    make_tick,
    make_trial,
    make_user,
    make_water_event,
)
from tests.photics.photometric_files import LAMBERTIAN
from tests.planning.questions import make_layout_plan
from tests.planning.what_ifs import make_what_if

# Open to all: the front door, what a device keeps, and what a secret in the address opens.
OPEN = {
    "home", "glossary", "service_worker", "manifest", "entry_shell", "round_shell", "shared_map",
    "shared_photo", "shared_photo_small", "shared_plan", "shared_plan_answer", "open_calendar",
    "shared_comment_new", "shared_comment_report", "shared_comment_remove", "shared_plan_unlock",
    "shared_plan_take", "photo_linked", "invitation_open", "shared_unlock", "shared_preview",
    "api_docs", "club_join",
}  # fmt: skip
# For any keeper: they name no row and show only what is the reader's.
ANY_KEEPER = {
    "settings_edit", "search", "colour_card", "tank_list", "tank_new", "fixture_list",
    "fixture_new", "club_list", "club_new",
    "meter_list", "meter_new", "plan_list", "layout_new", "token_list", "token_new", "api-schema",
    "deleted_list", "api-tank-list", "api-meter-list", "api-fixture-list", "api-plan-list",
    "api-find-layout", "api-me", "account_export", "tank_import", "account_delete",
}  # fmt: skip
# A keeper's own rows: friends are strangers to them.
PERSONAL = {
    # A tank that was taken away is there for its owner alone.
    "tank_restore",
    # Those who are let in to a tank are in none of its owner's clubs; tests/clubs asks as members.
    "club_detail", "club_edit", "club_leave", "club_link_list", "club_link_new",
    "club_link_revoke", "club_member_edit", "club_member_remove", "club_member_block",
    "club_unblock", "club_own_tanks", "club_maps", "club_tank", "club_meter_new", "club_meter",
    "club_meter_ask", "club_meter_hand_over", "club_meter_back", "club_meter_until",
    # A zip that waits for its keeper.
    "tank_import_preview",
    "fixture_detail", "fixture_optic", "fixture_optic_file", "fixture_mix", "fixture_edit",
    "fixture_remove", "fixture_restore", "meter_edit", "meter_remove", "meter_restore",
    "meter_check_new", "meter_check_remove", "meter_check_restore", "meter_take_factor",
    "token_revoke", "api-meter-detail", "api-meter-check-list", "api-meter-check-detail",
    "api-fixture-detail", "api-fixture-photometry",
}  # fmt: skip
# Viewers may look, and whatever they post changes nothing.
READ = {
    "tank_detail", "tank_settings", "tank_rooms",
    "light_change_list", "light_change_effect", "day_curve_list",
    "day_curve_detail", "light_map", "light_map_why", "light_map_next",
    "light_map_png", "light_map_svg", "light_compare",
    "log_list", "log_detail", "channel_mix", "survey_cross_check", "forecast_scores",
    "survey_list", "survey_detail", "survey_export", "survey_review", "survey_sheet",
    "coral_list", "coral_wall", "coral_detail", "coral_compare", "spot_light", "photo_show",
    "note_list", "water_event_list", "outcome_list", "pool_detail", "trial_list", "trial_detail",
    "outcome_report", "outcome_export", "outcome_export_corals", "outcome_weighing",
    "outcome_detail", "tank_plan_list", "coral_case", "coral_case_proof",
    "coral_gallery",
    "api-tank-light", "api-tank-light-plane", "api-tank-cases", "api-coral-light",
    "api-coral-case",
    "acclimation_list", "acclimation_of_coral", "acclimation_detail", "layout_detail",
    "acclimation_calendar",
    "layout_answer", "what_if_detail", "place_coral", "what_if", "calendar_link",
    "share_link_list", "tank_exports",
    "export_light_csv", "export_light_netcdf", "export_workbook", "export_package",
    "export_readings", "export_corals", "export_notes", "export_light_log", "export_lights",
    "export_water", "export_day_schedules",
}  # fmt: skip
# Viewers may look but not post.
LOOK_ONLY = {"photo_detail"}
# What every reader of a tank may do for themselves.
READERS_OWN = {"membership_leave", "calendar_link_new", "calendar_link_close"}
# Not even for co-keepers.
OWNERS = {
    "tank_clubs", "tank_show", "tank_hand_over",
    "tank_export", "tank_remove", "tank_end", "tank_reopen", "invitation_new", "invitation_link",
    "invitation_cancel", "membership_edit", "membership_remove", "pool_agree", "pool_withdraw",
    "share_link_new", "share_link_revoke", "share_link_prolong",
    "comment_hide", "comment_remove", "plan_link_list", "plan_link_new", "plan_link_revoke",
}  # fmt: skip
# For whom it was written; `test_people.py` covers it.
ELSEWHERE = {"invitation_answer"}
# What an address needs to be told, or else it is not found.
TOLD = {"colour_answer": {"answer": "seen"}}
WRITES = ("INSERT", "UPDATE", "DELETE")
# Who is signed in, and how often a program asked, is no keeper's data.
NOT_DATA = ("django_session", "shared_cache")


def walked(patterns, before=""):
    """Yield (name, path) of every pattern below, but for other packages' own pages."""
    for pattern in patterns:
        path = before + str(pattern.pattern)
        if path.startswith(("admin/", "accounts/")):
            continue
        if hasattr(pattern, "url_patterns"):
            yield from walked(pattern.url_patterns, path)
        else:
            yield pattern.name, path


ALL = dict(walked(get_resolver().url_patterns))
GUARDED = sorted(ALL.keys() - OPEN - ANY_KEEPER - ELSEWHERE)


def link_of(model, **what):
    link = model(expires_at=timezone.now() + dt.timedelta(days=7), **what)
    link.renew_token()
    link.save()
    return link


def make_comment(tank):
    link = link_of(ShareLink, tank=tank, may_comment=True)
    place = {"x_cm": 5, "y_cm": 5, "depth_cm": 5}
    return Comment.objects.create(link=link, author=make_user(), text="Bright here.", **place)


def make_invitation(tank):
    invitation = Invitation(tank=tank, email="guest@example.org")
    invitation.renew_token()
    invitation.save()
    return invitation


def make_searched_plan(owner, tank):
    plan = make_layout_plan(owner, tank)
    while not plan.answer.get("finished"):
        advance_search(plan=plan)
    return plan


class Rows:
    """What an owner's tank may hold, each made when an address asks for it."""

    def __init__(self, tank):
        self.tank, self.owner = tank, tank.owner
        self.coral, self.meter = make_coral(tank), make_meter(tank.owner)
        self.club = make_club(tank.owner)
        # How to make what `pk` and `link_pk` stand for, by how the address begins.
        self.by_start = {
            "tanks/": lambda: tank,
            "light/": lambda: make_light_change(tank),
            "days/": lambda: make_day_curve(tank),
            "fixtures/": self.fixture,
            "corals/": lambda: self.coral,
            "spots/": lambda: self.coral.spots.get(),
            "notes/": lambda: make_note(self.coral),
            "sizes/": lambda: make_size(self.coral),
            "photos/": lambda: make_colour(self.coral),
            "water/": lambda: make_water_event(tank),
            "waiting-photos/": lambda: make_sent_photo(tank),
            "history/": lambda: make_history_import(tank),
            "trials/": lambda: make_trial(tank),
            "acclimation/": lambda: make_acclimation(self.coral),
            "plans/layouts/": lambda: make_searched_plan(self.owner, tank),
            "plans/sharing/": lambda: link_of(PlanLink, plan=make_layout_plan(self.owner, tank)),
            "plans/what-if/": lambda: make_what_if(self.owner, tank),
            "plans/": lambda: make_searched_plan(self.owner, tank),
            "sharing/": lambda: link_of(ShareLink, tank=tank),
            "surveys/": lambda: make_survey(tank),
            "logger/": lambda: make_log(tank),
            "meters/": lambda: make_meter(self.owner),
            "meters/checks/": lambda: make_meter_check(make_meter(self.owner)),
            "bring-in/": lambda: make_arrival(self.owner),
            "clubs/": lambda: self.club,
            "deleted/": lambda: make_note(self.coral),
        }  # fmt: skip
        # And what other words in an address stand for.
        self.by_word = {
            "tank_pk": lambda: tank,
            "meter_pk": lambda: self.meter,
            "club_pk": lambda: self.club,
            "block_pk": lambda: Block.objects.create(club=self.club, user=make_user()),
            "rock_pk": lambda: make_rock(tank),
            "invitation_pk": lambda: make_invitation(tank),
            "membership_pk": lambda: let_in(tank, make_user(), Membership.Role.CO_KEEPER),
            "coral_pk": lambda: self.coral,
            "comment_pk": lambda: make_comment(tank),
            "other_pk": lambda: keep_beside(self.coral.notes.first(), source="round"),
            "note_pk": lambda: make_note(self.coral),
            "tick_pk": lambda: make_tick(make_acclimation(self.coral), 1),
        }
        self.of_club = {
            "link_pk": lambda: link_of(ClubLink, club=self.club),
            "meter_pk": lambda: make_club_meter(self.club),
            "tank_pk": lambda: ShownTank.objects.create(club=self.club, tank=tank).tank,
            "membership_pk": lambda: ClubMembership.objects.create(
                club=self.club, user=make_user()
            ),
        }
        self.of_api = {
            "api-tank": lambda: tank,
            "api-meter": lambda: make_meter(self.owner),
            "api-meter-check": lambda: make_meter_check(self.meter),
            "api-fixture": lambda: make_fixture(self.owner),
            "api-fixture-photometry": self.fixture,
            "api-rock": lambda: make_rock(tank),
            "api-light-change": lambda: make_light_change(tank),
            "api-day-curve": lambda: make_day_curve(tank),
            "api-survey": lambda: make_survey(tank),
            "api-coral": lambda: self.coral,
            "api-water-event": lambda: make_water_event(tank),
            "api-spot": lambda: self.coral.spots.get(),
            "api-plan": lambda: make_layout_plan(self.owner, tank),
            "api-acclimation": lambda: make_acclimation(self.coral),
            "api-trial": lambda: make_trial(tank),
            "api-note": lambda: make_note(self.coral),
            "api-coral-size": self.by_start["sizes/"],
            "api-photo-colour": self.by_start["photos/"],
        }

    def fixture(self):
        fixture = make_fixture(self.owner)
        PhotometricFile.objects.create(
            fixture=fixture,
            text=LAMBERTIAN.read_text(),
            told_as="LM-63",
            beam_deg=90,
            misplaced=0,
            upward=0,
        )
        return fixture

    def made_for(self, name, path, word):
        """Return the row a word of an address stands for."""
        if path.startswith("clubs/") and word in self.of_club:
            return self.of_club[word]()
        if word in self.by_word:
            return self.by_word[word]()
        if name.startswith("api-"):
            return self.of_api[name.removesuffix("-detail")]()
        start = max((s for s in self.by_start if path.startswith(s)), key=len)
        return self.by_start[start]()

    def address(self, name):
        """Return the address of a name, with rows of this tank in it."""
        path = ALL[name]
        words, row, given = pattern_words(path), None, {}
        for word in words:
            if word in ("number", "version", "size", "token_key", "kind"):
                continue
            row = self.made_for(name, path, word)
            given[word] = key_of(row) if word == "key" else row.pk
        given |= self.plain_words(name, words, row)
        if name.endswith("_restore"):
            row.remove()
        return reverse(name, kwargs=given)

    def plain_words(self, name, words, row):
        """Return what stands for the words of an address that are no row's key."""
        given = {}
        if "kind" in words:
            given["kind"] = "note"
        if "number" in words:
            given["number"] = 1
        if name == "planned_point_remove":
            PlannedPoint.objects.create(survey=row, number=1, x_cm=5, y_cm=5, depth_cm=5)
        if "version" in words:
            given["version"] = 0
            SurveyRevision.objects.create(survey=row, version=0, rows=[])
            row.version = 1
            row.save(update_fields=["version"])
        if "size" in words:
            given["size"] = "thumbnail"
        if "token_key" in words:
            given["token_key"] = AuthToken.objects.create(self.owner)[0].token_key
        return given


def key_of(row):
    """Return the key in the address of a photo: its own, or that of what is said of one."""
    return row.key if hasattr(row, "key") else row.photo.key


def pattern_words(path):
    """Return the names of what is filled into a path, in order."""
    words, rest = [], path
    while "<" in rest:
        word, rest = rest.split("<", 1)[1].split(">", 1)
        words.append(word.split(":")[-1])
    return words


@pytest.fixture
def rows(tank):
    return Rows(tank)


def asked(client, name, address):
    """Return {method: status} of everything one may send there, and what was written."""
    sendings = {"get": {}, "post": {"data": TOLD.get(name, {})}}
    if name.startswith("api-"):
        empty = {"data": {}, "content_type": "application/json"}
        sendings = {"get": {}} | dict.fromkeys(("post", "put", "patch", "delete"), empty)
    with CaptureQueriesContext(connection) as queries:
        found = {
            method: getattr(client, method)(address, **sent).status_code
            for method, sent in sendings.items()
        }
    sent = [query["sql"] for query in queries]
    written = [sql for sql in sent if sql.startswith(WRITES)]
    return found, [sql for sql in written if not any(table in sql for table in NOT_DATA)]


def test_every_name_is_told_once():
    kinds = [OPEN, ANY_KEEPER, PERSONAL, READ, LOOK_ONLY, READERS_OWN, OWNERS, ELSEWHERE]
    told = [name for kind in kinds for name in kind]
    assert len(told) == len(set(told)) and set(told) <= ALL.keys()


@pytest.mark.parametrize("name", GUARDED)
def test_visitor_is_sent_to_sign_in(rows, name):
    found, written = asked(Client(), name, rows.address(name))
    refused = {401} if name.startswith("api-") or name.endswith("_sync") else {302, 405}
    assert set(found.values()) <= refused and not written


@pytest.mark.parametrize("name", GUARDED)
def test_stranger_finds_nothing(rows, as_user, stranger, name):
    found, written = asked(as_user(stranger), name, rows.address(name))
    assert 404 in found.values() and set(found.values()) <= {404, 405} and not written


@pytest.mark.parametrize("name", GUARDED)
def test_viewer_writes_nothing(rows, as_user, viewer, name):
    found, written = asked(as_user(viewer), name, rows.address(name))
    if name in READERS_OWN:
        assert found["post"] < 400
        return
    assert not written, written
    if name in PERSONAL:
        assert set(found.values()) <= {404, 405} and 404 in found.values()
    elif name in READ:
        assert found["get"] < 400
    elif name in LOOK_ONLY:
        assert (found["get"], found["post"]) == (200, 403)
    elif name.startswith("api-"):
        assert found.pop("get") == 200 and set(found.values()) <= {403, 405}
    else:
        assert set(found.values()) <= {403, 405} and 403 in found.values()


@pytest.mark.parametrize("name", GUARDED)
def test_co_keeper_reaches_all_but_what_is_the_owners(rows, as_user, co_keeper, name):
    found, _ = asked(as_user(co_keeper), name, rows.address(name))
    refused = 404 if name in PERSONAL else 403 if name in OWNERS else None
    if refused:
        assert refused in found.values() and set(found.values()) <= {refused, 405}
    else:
        assert found["get"] in (200, 302, 405) and found["post"] not in (403, 404)


@pytest.mark.parametrize("name", [name for name in GUARDED if name != "membership_leave"])
def test_owner_reaches_it(rows, as_user, owner, name):
    """Else the refusals above would prove nothing."""
    found, _ = asked(as_user(owner), name, rows.address(name))
    assert not {403, 404, 500} & {found["get"], found["post"]}
