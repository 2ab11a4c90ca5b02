"""Reminders by e-mail: by choice, once, one mail a day, ended by one click."""

import datetime as dt
from contextlib import nullcontext
from smtplib import SMTPRecipientsRefused
from unittest import mock

import pytest
from allauth.account.models import EmailAddress
from django.core import mail
from django.core.mail import EmailMessage
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apps.common.moments import day_text
from apps.common.reading_once import read_once
from apps.later import queue
from apps.later.models import Job
from apps.later.running import run_job
from apps.outcomes.pool import nightly
from apps.sharing.models import Comment, ReminderMail
from apps.sharing.reminder_models import KINDS
from apps.sharing.reminding import digest, rounds
from apps.sharing.reminding.digest import send_digest
from apps.sharing.reminding.handing import TURN_AHEAD
from apps.surveys.lending.lending import TURN, ask, bring_back, hand_over
from apps.tanks import reminding
from apps.tanks.models import Invitation
from apps.tanks.reminding import Reminder
from tests.factories import let_in, make_club, make_club_meter, make_job, make_tank, make_user
from tests.planning.questions import make_layout_plan
from tests.sharing.links import make_link, make_plan_link

SITE, DAY = "https://reef.example.org", dt.timedelta(days=1)
NOW = timezone.now()


@pytest.fixture
def due(monkeypatch, tank):
    """Return a list of Reminders that all tanks have."""
    rows = [Reminder("meter-1", tank.today(), "Check the meter", "A year old.", url="/meters/")]
    monkeypatch.setattr(reminding.REMINDERS, "providers", [lambda tank, now: rows])
    return rows


def choose(keeper, *kinds):
    return ReminderMail.objects.create(keeper=keeper, kinds=list(kinds or KINDS))


def send(keeper, now=NOW):
    mail.outbox.clear()
    send_digest(keeper, site=SITE, now=now)
    return [message.body for message in mail.outbox]


def test_nobody_gets_a_mail_who_did_not_ask_for_it(owner, due):
    call_command("send_reminders", site=SITE)
    assert mail.outbox == []


def test_what_is_due_comes_once_however_often_the_timer_runs(owner, due):
    choose(owner)
    for _ in range(3):
        call_command("send_reminders", site=SITE + "/")
    (message,) = mail.outbox
    assert message.to == [owner.email]
    assert "Check the meter" in message.body and f"{SITE}/meters/" in message.body
    assert send(owner, NOW + DAY) == []


def test_all_that_is_new_on_a_day_is_one_mail(owner, tank, due):
    choose(owner)
    due.append(Reminder("map-4", tank.today() - DAY, "Survey the light again", "± 40 %."))
    (body,) = send(owner)
    assert body.count("\n- ") + body.startswith("- ") == 2
    due.append(Reminder("trial-1-notes", tank.today(), "Note the trial’s corals", "Torch"))
    assert send(owner) == []
    (body,) = send(owner, NOW + DAY)
    assert "Note the trial" in body and "Check the meter" not in body


def test_what_falls_due_anew_is_told_anew(owner, tank, due):
    choose(owner)
    send(owner)
    due[0] = Reminder("meter-1", tank.today() + DAY, "Check the meter", "A year old.")
    assert send(owner, NOW + DAY) != []


def test_what_lies_ahead_waits_for_its_day(owner, tank, due):
    choose(owner)
    due[0] = Reminder("meter-1", tank.today() + 5 * DAY, "Check the meter", "")
    assert send(owner) == [] and send(owner, NOW + 5 * DAY) != []


def test_what_several_reminders_rest_on_is_read_once_a_tank(owner, tank, monkeypatch):
    reads, other = [], make_tank(owner)

    def lit(tank, now):
        read_once(("light", tank.pk), lambda: reads.append(tank.pk))
        return []

    monkeypatch.setattr(reminding.REMINDERS, "providers", [lit, lit])
    choose(owner)
    send(owner)
    assert sorted(reads) == [tank.pk, other.pk]


@pytest.mark.parametrize("kind", ["map", "trial", "comment"])
def test_only_chosen_kinds_come(owner, due, kind):
    choose(owner, kind)
    assert send(owner) == []


@pytest.mark.parametrize(("who", "mails"), [("co_keeper", 1), ("viewer", 0), ("stranger", 0)])
def test_a_tank_reminds_those_who_keep_it(request, tank, due, who, mails):
    keeper = request.getfixturevalue(who)
    choose(keeper)
    assert len(send(keeper)) == mails


def test_a_comment_reminds_the_owner_without_its_text(owner, stranger, co_keeper, tank):
    link, _ = make_link(tank, may_comment=True)
    place = {"x_cm": 5, "y_cm": 5, "depth_cm": 5}
    Comment.objects.create(link=link, author=stranger, text="Very bright", **place)
    Comment.objects.create(link=link, author=owner, text="My own", **place)
    choose(owner, "comment")
    choose(co_keeper, "comment")
    (body,) = send(owner)
    assert stranger.display_name in body and "Very bright" not in body
    assert body.count("commented") == 1 and send(co_keeper) == []


def test_a_link_is_told_of_before_its_end_and_not_after(owner, tank):
    choose(owner, "link")
    soon = {"created_by": owner, "expires_at": NOW + 2 * DAY}
    make_link(tank, label="Club night", **soon)
    make_link(tank, label="Far off", created_by=owner, expires_at=NOW + 9 * DAY)
    make_link(tank, label="Gone", created_by=owner, expires_at=NOW - DAY)
    make_link(tank, label="Taken back", revoked_at=NOW, **soon)
    make_plan_link(make_layout_plan(owner, tank, name="Two bars"), label="For Jo", **soon)
    (body,) = send(owner)
    assert "Club night" in body and "For Jo" in body
    assert not any(word in body for word in ("Far off", "Gone", "Taken back"))


@pytest.mark.parametrize(
    ("problem", "expected"),
    [
        (SMTPRecipientsRefused({}), nullcontext()),
        (OSError("no line"), pytest.raises(CommandError)),
        (KeyError("a tank of theirs"), pytest.raises(CommandError)),
    ],
    ids=["refused", "no line", "broken"],
)
def test_a_mail_that_is_refused_comes_the_next_time_and_keeps_nobody_from_theirs(
    owner, due, settings, monkeypatch, capsys, problem, expected
):
    other = make_user(email="zoe@example.org")
    let_in(make_tank(other), owner)
    for keeper in (owner, other):
        choose(keeper)
    sent = []

    def refuse(message, fail_silently=False):
        if message.to == [owner.email]:
            raise problem
        sent.append(message.to)

    monkeypatch.setattr("apps.sharing.reminding.digest.EmailMessage.send", refuse)
    # Whoever runs the site is woken by what they can mend alone.
    with expected:
        call_command("send_reminders", site=SITE)
    assert sent == [[other.email]] and owner.email not in capsys.readouterr().err
    monkeypatch.undo()
    due.append(Reminder("meter-1", make_tank(owner).today(), "Check the meter", ""))
    assert ReminderMail.objects.get(keeper=owner).sent_marks == []


def test_a_job_that_could_not_remind_somebody_says_so(owner, due, monkeypatch):
    choose(owner)

    def refuse(message, fail_silently=False):
        raise OSError("no line")

    monkeypatch.setattr("apps.sharing.reminding.digest.EmailMessage.send", refuse)
    job = make_job(name="send_reminders", arguments={"site": SITE})
    assert run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, "1" in job.problem) == ("failed", True)


@pytest.mark.parametrize("soon", [lambda: rounds.remind_soon(SITE), nightly.pool_soon])
@pytest.mark.parametrize("state", ["waiting", "running", "done"])
def test_a_round_under_way_is_enough(transactional_db, settings, monkeypatch, soon, state):
    settings.JOBS = "celery"
    monkeypatch.setattr(queue, "hand_over", lambda pk, delay=None, can_wait=False: None)
    soon()
    Job.objects.update(state=state)
    soon()
    assert Job.objects.count() == (2 if state == "done" else 1)


def test_one_click_ends_them_without_signing_in(owner, due):
    choose(owner)
    send(owner)
    headers = mail.outbox[0].extra_headers
    address = headers["List-Unsubscribe"].strip("<>").removeprefix(SITE)
    assert headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    program = Client(enforce_csrf_checks=True)
    assert program.get(address).status_code == 200
    assert ReminderMail.objects.get().kinds == list(KINDS)
    answer = program.post(address, {"List-Unsubscribe": "One-Click"})
    assert answer.status_code == 200 and ReminderMail.objects.get().kinds == []
    assert program.post(address[:-3] + "/").status_code == 404


def test_a_keeper_chooses_and_sees_the_choice(as_user, owner):
    keeper, page = as_user(owner), reverse("reminders")
    assert keeper.post(page, {"kinds": ["meter", "link"]}).status_code == 302
    assert sorted(ReminderMail.objects.get(keeper=owner).kinds) == ["link", "meter"]
    assert keeper.get(page).content.decode().count(" checked") == 2
    assert keeper.post(page, {"kinds": ["gossip"]}).status_code == 422
    assert Client().get(page).status_code == 302


@pytest.fixture
def lent(owner, stranger, viewer):
    """Return a club's meter that its officer has, the stranger next and the viewer after."""
    meter = make_club_meter(make_club(owner, stranger, viewer))
    hand_over(meter=meter, to=owner, day=NOW.date())
    for keeper in (stranger, viewer):
        ask(meter=meter, user=keeper)
    return meter


def test_who_is_handed_a_meter_is_told_once_until_when(owner, lent):
    choose(owner, "loan")
    (body,) = send(owner)
    assert day_text(NOW.date() + TURN) in body
    assert reverse("club_meter", args=[lent.club_id, lent.pk]) in body
    assert send(owner, NOW + DAY) == []


def test_the_end_of_a_turn_is_told_to_both_sides_of_it(owner, stranger, viewer, lent):
    for keeper in (owner, stranger, viewer):
        choose(keeper, "loan")
    assert len(send(owner)) == 1
    assert send(stranger, NOW + TURN - TURN_AHEAD - DAY) == []
    (to_holder,) = send(owner, NOW + TURN - TURN_AHEAD)
    (to_next,) = send(stranger, NOW + TURN - TURN_AHEAD)
    assert str(stranger) in to_holder and str(owner) in to_next
    assert send(viewer, NOW + TURN - TURN_AHEAD) == []


def test_a_meter_brought_back_is_told_to_the_next(stranger, viewer, lent):
    choose(stranger, "loan"), choose(viewer, "loan")
    bring_back(meter=lent, day=NOW.date())
    assert len(send(stranger)) == 1 and send(viewer) == []


def test_who_left_the_club_is_told_nothing_of_its_meter(owner, stranger, lent):
    choose(stranger, "loan")
    bring_back(meter=lent, day=NOW.date())
    lent.club.memberships.filter(user=stranger).delete()
    assert send(stranger) == []


def test_an_offered_tank_is_told_to_whom_it_is_offered(owner, stranger, tank):
    choose(stranger, "tank")
    EmailAddress.objects.create(user=stranger, email=stranger.email, verified=True)
    offer = Invitation(tank=tank, email=stranger.email, hands_over=True)
    offer.renew_token()
    offer.save()
    (body,) = send(stranger)
    assert str(owner) in body and str(tank) in body
    assert send(stranger, NOW + DAY) == []
    Invitation.objects.update(hands_over=False)
    ReminderMail.objects.update(sent_marks=[], sent_on=None)
    assert send(stranger) == []


def test_command_wants_an_address(db):
    with pytest.raises(CommandError):
        call_command("send_reminders", site="reef.example.org")


def test_command_takes_the_sites_own_address(owner, due, settings):
    settings.SITE = SITE
    choose(owner)
    call_command("send_reminders")
    assert f"{SITE}/meters/" in mail.outbox[0].body


def test_a_site_without_mail_says_so_and_writes_nobodys_reminders_down(
    as_user, owner, due, settings, capsys
):
    choose(owner)
    settings.MAILS = "dropped"
    call_command("send_reminders", site=SITE)
    assert owner.email not in capsys.readouterr().out
    # Nothing counts as told: it comes once the site sends mail.
    assert ReminderMail.objects.get(keeper=owner).sent_on is None
    client = as_user(owner)
    page = client.get(reverse("reminders"))
    assert not page.context["sends_mail"] and b"sends no mail" in page.content
    answer = client.post(reverse("reminders"), {"kinds": ["meter"]}, follow=True)
    assert [str(one.level_tag) for one in answer.context["messages"]] == ["warning"]
    # Once the site sends mail, what was chosen before comes by it.
    assert ReminderMail.objects.get(keeper=owner).by_mail


def test_no_mail_goes_out_while_rows_are_locked(owner, due, monkeypatch):
    choose(owner)
    begun = connection.savepoint_ids.copy(), connection.in_atomic_block
    seen = []

    def send(message):
        seen.append((connection.savepoint_ids.copy(), connection.in_atomic_block))

    monkeypatch.setattr(EmailMessage, "send", send)
    send_digest(owner, site=SITE, now=NOW)
    assert seen == [begun]


def test_what_a_crash_cuts_off_before_the_mail_comes_the_next_day(owner, due, monkeypatch):
    choose(owner)
    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(EmailMessage, "send", mock.Mock(side_effect=KeyboardInterrupt))
        send_digest(owner, site=SITE, now=NOW)
    assert len(send(owner, NOW + DAY)) == 1


def test_two_timers_at_once_send_one_mail(owner, due, monkeypatch):
    choose(owner)
    lines = digest.lines_of

    def beside(keeper, now):
        rows = list(lines(keeper, now))
        monkeypatch.setattr(digest, "lines_of", lines)
        assert send_digest(keeper, site=SITE, now=now) == 1
        return iter(rows)

    monkeypatch.setattr(digest, "lines_of", beside)
    assert send_digest(owner, site=SITE, now=NOW) == 0 and len(mail.outbox) == 1
