"""Every address that has a name: who is let in, who is not, and who writes there.

`tests/data/access_matrix.csv` says what each answers to each: a row a name, in a cell the statuses
of what is sent there in turn (GET and POST; of the API PUT, PATCH and DELETE too), and at last who
may write besides those who keep the tank. It is kept by hand: a new name without a row fails, and
the failure says what the address answers now, to be judged and put down.
"""

import csv
import datetime as dt
from functools import cached_property

import pytest
from allauth.account.models import EmailAddress
from django.core import signing
from django.core.cache import caches
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver, reverse
from django.utils import timezone
from knox.models import AuthToken

from apps.api.models import TokenCard
from apps.clubs.models import Block, ClubLink
from apps.clubs.models import Membership as ClubMembership
from apps.common.tokens import hash_token, new_token
from apps.corals.notes.noting import keep_beside
from apps.corals.photos.links import photo_link
from apps.hosting.models import DataRequest
from apps.lighting.models import PhotometricFile
from apps.planning.layout.searching import advance_search
from apps.sharing.models import CalendarLink, Comment, PlanLink, ShareLink
from apps.sharing.reminding.digest import SALT
from apps.surveys.models import PlannedPoint, SurveyRevision
from apps.tanks.models import Invitation, Membership, ShownTank
from tests.corals.shots import make_colour
from tests.factories import (
    let_in,
    make_acclimation,
    make_arrival,
    make_checked_history,
    make_checked_water,
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
    make_offer,
    make_push_browser,
    make_rock,
    make_sent_photo,
    make_size,
    make_survey,
    make_survey_offer,
    make_tank,
    make_tick,
    make_trial,
    make_user,
    make_water_event,
    make_written_zip,
)
from tests.paths import DATA
from tests.photics.photometric_files import LAMBERTIAN
from tests.planning.questions import make_layout_plan
from tests.planning.what_ifs import make_what_if

# What a token to share may write: what lets others look at a tank.
SHARING = ("api-share-link", "api-tank-club", "api-invitation")
# What of a photo, and done with it, has an address of its own.
PHOTO_ACTS = ("", "-image", "-thumbnail", "-marks", "-colour-answer")
# What is done with a club's meter.
LENT_BY = ("ask", "withdraw", "hand-over", "back", "until")
# What an address needs to be told, or else it is not found or writes nothing.
TOLD = {"colour_answer": {"answer": "seen"}, "api-club-detail": {"name": "Reef 04"}}
WRITES = ("INSERT", "UPDATE", "DELETE")
# Who is signed in, and how often a program asked, is no keeper's data.
NOT_DATA = ("django_session", "shared_cache", "api_tokencard")
PAGE_METHODS, API_METHODS = ("get", "post"), ("get", "post", "put", "patch", "delete")
# How the link opens that the address of a role holds.
LIVE, EXPIRED, WRONG = "live", "expired", "wrong"
LINKS = {"link_holder": LIVE, "expired_link": EXPIRED}


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
MATRIX = DATA / "access_matrix.csv"
ROLES = (
    "anonymous", "stranger", "ex_member", "viewer", "co_keeper", "owner", "club_member",
    "club_officer", "link_holder", "expired_link", "token_read", "token_share", "token_write",
)  # fmt: skip
# Those who may write wherever they are let in; of others the matrix says where.
KEEPERS = {"co_keeper", "owner", "token_write"}
# Nothing is sent there: the address holds no secret.
NONE = "-"


def access():
    """Return {name: {role: cell, "writes": roles}} of the matrix."""
    with MATRIX.open(newline="") as file:
        return {row.pop("name"): row for row in csv.DictReader(file)}


ACCESS = access()
# Open to all: the front door, what a device keeps, and what a secret in the address opens.
OPEN = {
    name
    for name, cells in ACCESS.items()
    if cells["link_holder"] != NONE or not {"302", "401"} & set(cells["anonymous"].split())
}


def link_of(model, *, days=7, **what):
    """Make a link that opens for so many days from now; its secret is its `token`."""
    link = model(expires_at=timezone.now() + dt.timedelta(days=days), **what)
    link.token = link.renew_token()
    link.save()
    return link


def make_comment(link):
    place = {"x_cm": 5, "y_cm": 5, "depth_cm": 5}
    return Comment.objects.create(link=link, author=make_user(), text="Bright here.", **place)


def make_invitation(tank, **fields):
    invitation = Invitation(tank=tank, **{"email": "guest@example.org"} | fields)
    invitation.renew_token()
    invitation.save()
    return invitation


def make_received(keeper):
    """Make an invitation to another's tank, written to an e-mail that a keeper confirmed."""
    own = {"verified": True, "primary": True}
    EmailAddress.objects.get_or_create(user=keeper, email=keeper.email, defaults=own)
    return make_invitation(make_tank(make_user()), email=keeper.email)


def deleted(row):
    row.remove()
    return row


def make_searched_plan(owner, tank):
    plan = make_layout_plan(owner, tank)
    while not plan.answer.get("finished"):
        advance_search(plan=plan)
    return plan


class Rows:
    """What an owner's tank may hold, each made when an address asks for it."""

    def __init__(self, tank):
        """List what each start and each word of an address stands for; all but a few unmade."""
        self.tank, self.owner = tank, tank.owner
        self.coral, self.meter = make_coral(tank), make_meter(tank.owner)
        self.club, self.shared = make_club(tank.owner), None
        # To whom a survey of the tank is offered.
        self.member = make_user()
        ClubMembership.objects.create(club=self.club, user=self.member)
        # How to make what `pk` and `link_pk` stand for, by how the address begins.
        self.by_start = self.of_tank() | self.of_coral() | self.of_plans() | self.of_owner()
        # And what other words in an address stand for.
        self.by_word = self.words()
        self.of_club = self.words_of_club()
        self.of_api = self.api_of_tank() | self.api_of_light() | self.api_of_corals()
        self.of_api |= self.api_of_plans() | self.api_of_people() | self.api_of_clubs()
        self.of_api |= self.api_of_owner()

    def of_tank(self):
        return {
            "tanks/": lambda: self.tank,
            "light/": lambda: make_light_change(self.tank),
            "days/": lambda: make_day_curve(self.tank),
            "water/": lambda: make_water_event(self.tank),
            "waiting-photos/": lambda: make_sent_photo(self.tank),
            "history/": lambda: make_history_import(self.tank),
            "trials/": lambda: make_trial(self.tank),
            "sharing/": lambda: link_of(ShareLink, tank=self.tank),
            "surveys/": lambda: make_survey(self.tank),
            "logger/": lambda: make_log(self.tank),
        }

    def of_coral(self):
        return {
            "corals/": lambda: self.coral,
            "spots/": lambda: self.coral.spots.get(),
            "notes/": lambda: make_note(self.coral),
            "sizes/": lambda: make_size(self.coral),
            "photos/": lambda: make_colour(self.coral),
            "acclimation/": lambda: make_acclimation(self.coral),
            "deleted/": lambda: make_note(self.coral),
            "s/": lambda: make_colour(self.coral),
        }

    def of_plans(self):
        return {
            "plans/layouts/": lambda: make_searched_plan(self.owner, self.tank),
            "plans/sharing/": lambda: link_of(
                PlanLink, plan=make_layout_plan(self.owner, self.tank)
            ),
            "plans/what-if/": lambda: make_what_if(self.owner, self.tank),
            "plans/": lambda: make_searched_plan(self.owner, self.tank),
        }

    def of_owner(self):
        return {
            "fixtures/": self.fixture,
            "meters/": lambda: make_meter(self.owner),
            "meters/checks/": lambda: make_meter_check(make_meter(self.owner)),
            "jobs/": lambda: make_written_zip(self.owner),
            "bring-in/": lambda: make_arrival(self.owner),
            "clubs/": lambda: self.club,
        }

    def words(self):
        return {
            "tank_pk": lambda: self.tank,
            "meter_pk": lambda: self.meter,
            "club_pk": lambda: self.club,
            "block_pk": lambda: Block.objects.create(club=self.club, user=make_user()),
            "rock_pk": lambda: make_rock(self.tank),
            "survey_pk": lambda: make_survey(self.tank),
            "invitation_pk": lambda: make_invitation(self.tank),
            "membership_pk": lambda: let_in(self.tank, make_user(), Membership.Role.CO_KEEPER),
            "coral_pk": lambda: self.coral,
            "comment_pk": lambda: make_comment(link_of(ShareLink, tank=self.tank)),
            "other_pk": lambda: keep_beside(self.coral.notes.first(), source="round"),
            "note_pk": lambda: make_note(self.coral),
            "browser_pk": lambda: make_push_browser(self.owner),
            "request_pk": lambda: DataRequest.objects.create(
                keeper=self.owner, kind=DataRequest.Kind.OTHER, words="What do you keep of me?"
            ),
            "tick_pk": lambda: make_tick(make_acclimation(self.coral), 1),
        }

    def words_of_club(self):
        return {
            "link_pk": lambda: link_of(ClubLink, club=self.club),
            "meter_pk": lambda: make_club_meter(self.club),
            "offer_pk": lambda: make_survey_offer(self.club, make_survey(self.tank), self.member),
            "fixture_pk": lambda: make_offer(self.club, make_fixture(self.owner)).fixture,
            "tank_pk": lambda: ShownTank.objects.create(club=self.club, tank=self.tank).tank,
            "membership_pk": lambda: ClubMembership.objects.create(
                club=self.club, user=make_user()
            ),
        }

    def api_of_tank(self):
        return {
            "api-tank": lambda: self.tank,
            "api-rock": lambda: make_rock(self.tank),
            "api-survey": lambda: make_survey(self.tank),
            **{f"api-tank-{act}": lambda: self.tank for act in ("end", "leave", "reopen")},
        }

    def api_of_light(self):
        return {
            "api-fixture": lambda: make_fixture(self.owner),
            "api-fixture-photometry": self.fixture,
            "api-light-change": lambda: make_light_change(self.tank),
            "api-day-curve": lambda: make_day_curve(self.tank),
            "api-logged-series": lambda: make_log(self.tank),
        }

    def api_of_corals(self):
        return {
            "api-coral": lambda: self.coral,
            "api-water-event": lambda: make_water_event(self.tank),
            "api-spot": lambda: self.coral.spots.get(),
            "api-note": lambda: make_note(self.coral),
            "api-coral-size": self.by_start["sizes/"],
            "api-photo-colour": self.by_start["photos/"],
            **{f"api-photo{act}": self.by_start["photos/"] for act in PHOTO_ACTS},
            "api-deleted-restore": lambda: deleted(make_note(self.coral)),
            "api-history-import": self.by_start["history/"],
            "api-history-import-looked": lambda: make_checked_history(self.tank),
            "api-water-table-looked": lambda: make_checked_water(self.tank),
        }

    def api_of_plans(self):
        return {
            "api-plan": lambda: make_layout_plan(self.owner, self.tank),
            "api-plan-duplicate": lambda: make_layout_plan(self.owner, self.tank),
            "api-plan-search": lambda: make_layout_plan(self.owner, self.tank),
            "api-acclimation": lambda: make_acclimation(self.coral),
            "api-tick": lambda: make_tick(self.acclimation, 1),
            **{
                f"api-trial-{act}": lambda: make_trial(self.tank)
                for act in ("stop", "unstop", "resume")
            },
            "api-trial": lambda: make_trial(self.tank),
        }

    def api_of_people(self):
        return {
            "api-share-link": self.by_start["sharing/"],
            "api-share-link-plan": lambda: link_of(PlanLink, plan=self.linked_plan),
            "api-share-link-prolong": self.by_start["sharing/"],
            "api-share-link-comment": lambda: make_comment(self.by_start["sharing/"]()),
            "api-person": self.by_word["membership_pk"],
            "api-invitation": self.by_word["invitation_pk"],
            "api-hand-over": lambda: make_invitation(self.tank, hands_over=True),
            **{
                f"api-received-invitation{act}": lambda: make_received(self.owner)
                for act in ("", "-accept", "-decline")
            },
        }

    def api_of_clubs(self):
        return {
            "api-tank-club": lambda: self.club,
            **{f"api-club{act}": lambda: self.club for act in ("", "-leaving", "-leave", "-close")},
            "api-club-link": self.of_club["link_pk"],
            "api-club-block": self.by_word["block_pk"],
            "api-club-member": self.of_club["membership_pk"],
            "api-club-member-block": self.of_club["membership_pk"],
            "api-club-meter": lambda: self.club_meter,
            "api-club-meter-check": lambda: make_meter_check(self.club_meter),
            **{f"api-club-meter-{act}": lambda: self.club_meter for act in LENT_BY},
        }

    def api_of_owner(self):
        return {
            "api-meter": lambda: make_meter(self.owner),
            "api-meter-check": lambda: make_meter_check(self.meter),
            "api-meter-take-factor": lambda: make_meter(self.owner),
            "api-job": self.by_start["jobs/"],
            "api-job-file": self.by_start["jobs/"],
        }

    @cached_property
    def acclimation(self):
        return make_acclimation(self.coral)

    @cached_property
    def linked_plan(self):
        return make_layout_plan(self.owner, self.tank)

    @cached_property
    def club_meter(self):
        return make_club_meter(self.club)

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
        if name.startswith("api-club") and word == "meter_pk":
            return self.club_meter
        if word == "acclimation_pk":
            return self.acclimation
        if name.startswith("api-") and word == "plan_pk":
            return self.linked_plan
        if word in self.by_word:
            return self.by_word[word]()
        if name.startswith("api-"):
            return self.of_api[name.removesuffix("-detail")]()
        start = max((s for s in self.by_start if path.startswith(s)), key=len)
        return self.by_start[start]()

    def address(self, name, link=WRONG):
        """Return the address of a name, with rows of this tank in it; how a link opens is said."""
        path = ALL[name]
        words, row, given = pattern_words(path), None, {}
        for word in words:
            if word == "token":
                given[word] = row = self.secret(path, link)
                continue
            if word == "comment_pk" and self.shared:
                row = make_comment(self.shared)
                given[word] = row.pk
                continue
            if word in ("number", "version", "size", "token_key", "kind"):
                continue
            row = self.made_for(name, path, word)
            given[word] = key_of(row) if word == "key" else row.pk
        given |= self.plain_words(name, words, row)
        if name.endswith("_restore"):
            row.remove()
        return reverse(name, kwargs=given)

    def secret(self, path, link):
        """Return what opens the pages of a path, opened no more, or never did."""
        days = {LIVE: 7, EXPIRED: -1}.get(link)
        if days is None:
            return new_token()
        if path.startswith("s/"):
            if path.endswith(".png"):
                make_survey(self.tank)
            shown = {"show_photos": True, "may_comment": True}
            self.shared = link_of(ShareLink, tank=self.tank, days=days, **shown)
            return self.shared.token
        if path.startswith("p/"):
            plan = make_searched_plan(self.owner, self.tank)
            return link_of(PlanLink, plan=plan, days=days).token
        if path.startswith("clubs/"):
            return link_of(ClubLink, club=self.club, days=days).token
        makers = {"c/": self.calendar, "in": self.invited, "ph": self.photo_shown, "re": self.off}
        return makers[path[:2]](days)

    def off(self, days):
        token = signing.dumps(self.owner.pk, salt=SALT)
        return token if days > 0 else token[:-1]

    def calendar(self, days):
        token = new_token()
        CalendarLink.objects.update_or_create(
            tank=self.tank, keeper=self.owner, defaults={"token_hash": hash_token(token)}
        )
        return token if days > 0 else "closed since"

    def invited(self, days):
        invitation = Invitation(tank=self.tank, email="guest@example.org")
        token = invitation.renew_token()
        invitation.expires_at = timezone.now() + dt.timedelta(days=days)
        invitation.save()
        return token

    def photo_shown(self, days):
        path = photo_link(make_colour(self.coral).photo)[0]
        token = path.rstrip("/").rsplit("/", 1)[1]
        return token if days > 0 else token[:-1]

    def plain_words(self, name, words, row):
        """Return what stands for the words of an address that are no row's key."""
        given = {}
        if "kind" in words:
            given["kind"] = "note"
        if "number" in words:
            given["number"] = 1
        if name in ("planned_point_remove", "api-survey-plan-point"):
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


class Asking:
    """Asks one address in the name of every role, each time with the same rows."""

    def __init__(self, rows, people):
        self.rows, self.people, self.writers = rows, people, set()

    def answers(self, name):
        """Return {role: cell} of a name; who wrote besides its keepers is in `writers`."""
        address = self.rows.address(name)
        cells = {role: self.cell(role, name, address) for role in ROLES}
        return cells | {"writes": " ".join(r for r in ROLES if r in self.writers)}

    def cell(self, role, name, address):
        if role in LINKS:
            if "<str:token>" not in ALL[name]:
                return NONE
            address = self.rows.address(name, LINKS[role])
        client, sent = self.client(role)
        methods = API_METHODS if name.startswith("api-") else PAGE_METHODS
        return " ".join(str(self.status(client, sent, m, role, name, address)) for m in methods)

    def client(self, role):
        """Return who asks, with nothing counted against them yet, and the headers sent along."""
        caches["paces"].clear()
        client = Client(raise_request_exception=False)
        if role in self.people:
            client.force_login(self.people[role])
        scope = role.removeprefix("token_")
        if scope == role:
            return client, {}
        instance, token = AuthToken.objects.create(self.rows.owner)
        TokenCard.objects.create(token=instance, name=role, scope=scope)
        return client, {"Authorization": f"Bearer {token}"}

    def status(self, client, headers, method, role, name, address):
        """Return the status of one request, and undo whatever it wrote."""
        content = {} if method == "get" else {"data": TOLD.get(name, {})}
        if name.startswith("api-") and method != "get":
            content["content_type"] = "application/json"
        with transaction.atomic(), CaptureQueriesContext(connection) as queries:
            answer = getattr(client, method)(address, headers=headers, **content)
            transaction.set_rollback(True)
        if role not in KEEPERS and any(is_writing(query["sql"]) for query in queries):
            self.writers.add(role)
        return answer.status_code


def is_writing(sql):
    return sql.startswith(WRITES) and not any(table in sql for table in NOT_DATA)


@pytest.fixture
def asking(tank, stranger, viewer, co_keeper, owner):
    rows = Rows(tank)
    people = {"stranger": stranger, "viewer": viewer, "co_keeper": co_keeper, "owner": owner}
    people |= {"club_member": rows.member, "club_officer": make_user()}
    officer = ClubMembership.Role.OFFICER
    ClubMembership.objects.create(club=rows.club, user=people["club_officer"], role=officer)
    return Asking(rows, people | {"ex_member": gone_from(rows)})


def gone_from(rows):
    """Return a keeper who once kept the tank and was in its owner's club, and is in neither."""
    gone = make_user()
    let_in(rows.tank, gone, Membership.Role.CO_KEEPER).delete()
    ClubMembership.objects.create(club=rows.club, user=gone).delete()
    return gone


def test_every_name_has_its_row():
    assert ACCESS.keys() == ALL.keys()
    assert list(ACCESS) == sorted(ACCESS)


@pytest.mark.parametrize("name", sorted(ALL))
def test_everybody_meets_what_the_matrix_says(asking, name):
    answers = asking.answers(name)
    row = ",".join([name, *answers.values()])
    assert answers == ACCESS.get(name), f"Judge this, and put it down: {row}"


def test_the_matrix_lets_nobody_in_by_mistake():
    """What holds of every row, whatever it says: else a slip of the pen would pass."""
    for name, cells in ACCESS.items():
        statuses = {role: cells[role].split() for role in ROLES}
        assert not any(status >= "500" for cell in statuses.values() for status in cell), name
        assert not {"200", "201"} & set(statuses["expired_link"]), name
        assert "anonymous" not in cells["writes"].split(), name
        assert statuses["ex_member"] == statuses["stranger"], name
        if name.startswith("api-"):
            assert not set(statuses["token_read"][1:]) & {"201", "204"}, name
            # What opens for a club beside its pages is itself: no program of a member reads
            # another's tank.
            assert (
                name.startswith("api-club-") or statuses["club_officer"] == statuses["stranger"]
            ), name
            if not name.startswith(SHARING):
                assert statuses["token_share"] == statuses["token_read"], name
        if name not in OPEN:
            assert set(statuses["anonymous"]) <= {"302", "401", "405"}, name
            assert statuses["link_holder"] == [NONE], name
