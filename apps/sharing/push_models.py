"""The browsers in which a keeper wants reminders to appear."""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models

from apps.common.push.base64url import decoded
from apps.common.push.delivery import ENDPOINT_LENGTH_MAX, NotAllowed, check_endpoint
from apps.common.push.message import AUTH_BYTES, browser_key

# More are no keeper's own.
BROWSERS_MOST = 10


def check_push_address(endpoint: str) -> None:
    try:
        check_endpoint(endpoint)
    except NotAllowed as problem:
        raise ValidationError(str(problem)) from problem


def check_browser_key(text: str) -> None:
    try:
        browser_key(decoded(text))
    except ValueError as problem:
        raise ValidationError("This is no key of a browser.") from problem


def check_browser_secret(text: str) -> None:
    try:
        fits = len(decoded(text)) == AUTH_BYTES
    except ValueError:
        fits = False
    if not fits:
        raise ValidationError("This is no secret of a browser.")


class PushBrowser(models.Model):
    """One browser of a keeper; whoever turns it on in that browser last has it."""

    UNSHOWN = True

    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="push_browsers"
    )
    # Where its push service takes messages, and what they are locked with.
    endpoint = models.CharField(
        max_length=ENDPOINT_LENGTH_MAX, unique=True, validators=[check_push_address]
    )
    key = models.CharField(max_length=100, validators=[check_browser_key])
    secret = models.CharField(max_length=50, validators=[check_browser_secret])
    # This site's public key at the time: under another, the push service refuses messages.
    site_key = models.CharField(max_length=100, editable=False)
    name = models.CharField(max_length=60, editable=False)
    added_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.name

    @property
    def endpoint_end(self) -> str:
        """What tells it from others, for the browser's own script."""
        return self.endpoint[-24:]
