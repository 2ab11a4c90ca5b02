"""Once a day all that is newly due for a keeper, of the kinds they chose."""

import datetime as dt
from collections.abc import Iterator
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core import signing
from django.core.mail import EmailMessage
from django.template.loader import render_to_string
from django.urls import reverse

from apps.accounts.models import User
from apps.common.moments import day_text
from apps.common.reading_once import reading_once
from apps.sharing.models import Comment, PlanLink, ShareLink
from apps.sharing.reminder_models import ReminderMail
from apps.sharing.reminding.handing import handing_lines
from apps.sharing.reminding.lines import Line
from apps.sharing.reminding.pushing import browsers_of, push
from apps.tanks.models import Tank
from apps.tanks.reminding import reminders_of

# So long before its end a link is spoken of.
LINK_AHEAD = dt.timedelta(days=3)
SALT = "sharing.reminders_off"


def lines_of(keeper: User, now: dt.datetime) -> Iterator[Line]:
    """Yield all that is due for a keeper, whether it was said or not."""
    for tank in Tank.objects.changeable_by(keeper).filter(ended_on=None).order_by("pk"):
        yield from tank_lines(tank, now)
    comments = Comment.objects.filter(link__tank__in=Tank.objects.owned_by(keeper))
    for comment in comments.new_to_owner().select_related("link__tank", "author"):
        text = f"{comment.link.tank}: {comment.author} commented on the map you share"
        at = reverse("share_link_list", args=[comment.link.tank_id])
        yield Line("comment", f"comment {comment.pk}", text, at, str(comment.link.tank))
    yield from handing_lines(keeper, now)
    yield from link_lines(keeper, now)


def tank_lines(tank: Tank, now: dt.datetime) -> Iterator[Line]:
    """Yield what is due in a tank today, or was before."""
    today = now.astimezone(tank.zone).date()
    # Several of them rest on the same light.
    with reading_once():
        reminders = reminders_of(tank, now)
    for reminder in reminders:
        if reminder.due_on <= today:
            mark = f"{tank.pk} {reminder.key} {reminder.due_on}"
            text = f"{tank}: {reminder.title}. {reminder.why}"
            yield Line(reminder.key.partition("-")[0], mark, text, reminder.url, str(tank))


def link_lines(keeper: User, now: dt.datetime) -> Iterator[Line]:
    """Yield the keeper's links that will soon open no more."""
    soon = {"created_by": keeper, "expires_at__lte": now + LINK_AHEAD}
    for link in ShareLink.objects.open_now().filter(**soon, tank__owner=keeper):
        day = day_text(link.expires_at.astimezone(link.tank.zone))
        at = reverse("share_link_list", args=[link.tank_id])
        mark = f"link {link.pk} {link.expires_at.date()}"
        text = f"{link.tank}: the link “{link}” opens until {day}"
        yield Line("link", mark, text, at, str(link.tank))
    for plan_link in PlanLink.objects.open_now().filter(**soon):
        day = day_text(plan_link.expires_at.astimezone(ZoneInfo(keeper.time_zone)))
        at = reverse("plan_link_list", args=[plan_link.plan_id])
        mark = f"plan link {plan_link.pk} {plan_link.expires_at.date()}"
        yield Line("link", mark, f"{plan_link.plan}: the link “{plan_link}” opens until {day}", at)


def sends_mail() -> bool:
    """Return whether a mail reaches anyone, be it in the terminal of whoever tries the app."""
    return settings.MAILS != "dropped"


def send_digest(keeper: User, *, site: str, now: dt.datetime) -> int:
    """Tell a keeper what is newly due, at most once a day; return how many lines.

    No lock is held while light is fitted or a mail server talks: the day is claimed, then the mail
    sent, then kept what it told. Run again it says nothing twice, and what a mail server refused
    or a crash cut off comes the next time. A browser that can't be reached misses its one.
    """
    today = now.astimezone(ZoneInfo(keeper.time_zone)).date()
    choice = ReminderMail.objects.get(keeper=keeper)
    browsers = browsers_of(keeper)
    by_mail = choice.by_mail and sends_mail()
    if choice.sent_on == today or not (by_mail or browsers):
        return 0
    due = [line for line in lines_of(keeper, now) if line.kind in choice.kinds]
    new = [line for line in due if line.mark not in choice.sent_marks]
    mine = ReminderMail.objects.filter(pk=choice.pk)
    # Whoever runs beside this finds the day claimed.
    if not new or not mine.exclude(sent_on=today).update(sent_on=today):
        return 0
    if by_mail:
        try:
            mail_of(keeper, new, site).send()
        except Exception:
            mine.update(sent_on=choice.sent_on)
            raise
    mine.update(sent_marks=[line.mark for line in due])
    push(browsers, new)
    return len(new)


def mail_of(keeper: User, lines: list[Line], site: str) -> EmailMessage:
    """Return the mail of some lines, with the ways to have no more of them."""
    off = site + reverse("reminders_off", args=[signing.dumps(keeper.pk, salt=SALT)])
    context = {"lines": lines, "site": site, "off": off, "choose": site + reverse("reminders")}
    # A subject is one line, whatever a keeper called a tank.
    count, short = len(lines), " ".join(lines[0].text.split())[:60]
    return EmailMessage(
        subject=f"reeflog: {short}" if count == 1 else f"reeflog: {count} reminders",
        body=render_to_string("sharing/reminders_mail.txt", context),
        to=[keeper.email],
        headers={
            "List-Unsubscribe": f"<{off}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
            "Auto-Submitted": "auto-generated",
        },
    )


def keeper_of(token: str) -> User | None:
    """Return whose mails a signed address turns off, None for a wrong one."""
    try:
        key = signing.loads(token, salt=SALT)
    except signing.BadSignature:
        return None
    return User.objects.filter(pk=key).first()
