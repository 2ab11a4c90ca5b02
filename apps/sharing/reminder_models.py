"""Of what a keeper wants to be reminded, by e-mail or in a browser, and what they were told."""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models

# What there is to choose from; those of a tank's reminders are how their keys begin.
KINDS = {
    "acclimation": "Steps of an acclimation",
    "map": "The light map has grown stale",
    "tubes": "Tubes are due",
    "meter": "A meter needs a check",
    "loan": "A club’s meter comes to you, or your turn with it ends",
    "tank": "Somebody offers you a tank",
    "survey": "An officer of your club hands a survey over to you",
    "trial": "A trial wants its notes or its step",
    "comment": "Somebody commented on a map you share",
    "link": "A link of yours is about to expire",
}


def check_kinds(kinds: list[str]) -> None:
    """Refuse anything but kinds of reminders."""
    if not isinstance(kinds, list) or not set(map(str, kinds)) <= KINDS.keys():
        raise ValidationError("These are no kinds of reminders.")


class ReminderMail(models.Model):
    """A keeper's choice; nobody without one gets a reminder."""

    UNSHOWN = True

    keeper = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="reminder_mail"
    )
    kinds = models.JSONField(default=list, blank=True, validators=[check_kinds])
    # Off where only browsers tell (`PushBrowser`).
    by_mail = models.BooleanField(default=True)
    # By the keeper's clock: one mail a day.
    sent_on = models.DateField(null=True, editable=False)
    # Marks of all that is still due and was sent: nothing is told twice.
    sent_marks = models.JSONField(default=list, editable=False)

    def __str__(self) -> str:
        return f"reminders of {self.keeper}"
