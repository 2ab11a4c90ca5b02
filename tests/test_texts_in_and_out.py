"""A text is decoded once where it comes in, and encoded once where it goes out, mails included."""

import csv
import datetime as dt
import html
import io

import pytest
from django.core import mail
from django.core.mail import BadHeaderError, send_mail
from django.urls import reverse
from django.utils import timezone

from apps.accounts.models import User
from apps.sharing.models import ReminderMail
from apps.sharing.reminder_models import KINDS
from apps.sharing.reminding.digest import mail_of, send_digest
from apps.sharing.reminding.lines import Line
from apps.tanks.models import Tank
from tests.factories import make_coral
from tests.paths import ROOT
from tests.sharing.links import make_link
from tests.tanks.test_tanks import GOOD

NOW = timezone.now()
# Decoded or encoded twice, each of its parts would be another text.
NAME = '<b>&amp;%3Ci%3E</b> &#39;" \\u003c +'
SHOWN = html.escape(NAME)
FORGED = "Reef\r\nBcc: thief@example.org"


# --- In and out (1.1.1, 1.1.2) --------------------------------------------------------------
def check_shown_once(page):
    text = page.content.decode()
    assert SHOWN in text and NAME not in text and html.escape(SHOWN) not in text


def test_a_form_takes_a_text_as_typed_and_pages_show_it(as_user, owner):
    client = as_user(owner)
    client.post(reverse("tank_new"), GOOD | {"name": NAME})
    tank = Tank.objects.get()
    assert tank.name == NAME
    for name, words in (("tank_list", []), ("tank_detail", [tank.pk]), ("tank_edit", [tank.pk])):
        check_shown_once(client.get(reverse(name, args=words)))


def test_the_api_takes_and_gives_it_as_it_is(as_user, owner, tank):
    client, address = as_user(owner), f"/api/v1/tanks/{tank.pk}/"
    client.patch(address, {"name": NAME}, "application/json")
    tank.refresh_from_db()
    assert (tank.name, client.get(address).json()["name"]) == (NAME, NAME)


def test_a_table_holds_it_as_it_is(as_user, owner, tank):
    make_coral(tank, name=NAME)
    text = as_user(owner).get(reverse("export_corals", args=[tank.pk])).content.decode()
    (line,) = csv.DictReader(io.StringIO(text, newline=""))
    assert line["name"] == NAME


def test_an_address_is_decoded_once(as_user, owner, tank):
    make_coral(tank, name=NAME)
    page = as_user(owner).get(reverse("search"), {"q": NAME})
    assert page.context["query"] == NAME and sum(len(one.hits) for one in page.context["groups"])
    check_shown_once(page)


# --- Heads of mails (1.3.11) ----------------------------------------------------------------
def check_head(message, keeper):
    """Raise AssertionError where a head has a second line, or anybody else gets the mail."""
    head = message.message()
    assert message.recipients() == [keeper.email]
    assert "Bcc" not in head and "Cc" not in head
    assert not any("\n" in value.replace("\n ", " ") for value in head.values())


def test_a_name_with_line_breaks_stays_within_the_subject(owner):
    line = Line("link", "mark", FORGED, "/x/")
    message = mail_of(owner, [line], "https://reef.example.org")
    assert message.subject == "reeflog: Reef Bcc: thief@example.org"
    check_head(message, owner)


@pytest.mark.parametrize("kind", ["tank", "link"])
def test_no_stored_name_reaches_a_head_of_a_reminder(owner, tank, kind):
    """Not even one that was put into the database past every check."""
    link, _ = make_link(tank, expires_at=NOW + dt.timedelta(days=1), created_by=owner)
    ReminderMail.objects.create(keeper=owner, kinds=list(KINDS))
    if kind == "tank":
        Tank.objects.update(name=FORGED)
    else:
        type(link).objects.update(label=FORGED)
    assert send_digest(owner, site="https://reef.example.org", now=NOW)
    (message,) = mail.outbox
    check_head(message, owner)


@pytest.mark.parametrize("email", ["a@example.org\r\nBcc: b@example.org", "a@example.org\nb"])
def test_no_account_has_an_address_of_two_lines(client, db, email):
    fields = {"email": email, "password1": "another-password-for-tests-93", "units": "cm"}
    client.post("/accounts/signup/", fields)
    assert not User.objects.exists() and mail.outbox == []


@pytest.mark.parametrize("part", ["subject", "to"])
def test_what_slips_through_is_refused_by_the_mail_itself(part):
    to = FORGED if part == "to" else "a@example.org"
    with pytest.raises(BadHeaderError):
        send_mail(FORGED if part == "subject" else "Words", "Text", None, [to])
    assert mail.outbox == []


def test_subjects_about_accounts_hold_no_word_of_a_keeper():
    subjects = sorted((ROOT / "templates" / "account" / "email").glob("*_subject.txt"))
    assert len(subjects) >= 5 and not any("{" in path.read_text() for path in subjects)
