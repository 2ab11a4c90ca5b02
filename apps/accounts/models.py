"""The keeper: signs in by e-mail, has a unit of length, a time zone and a theme."""

import datetime as dt
import zoneinfo

from django.contrib.auth.models import AbstractUser, BaseUserManager
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone

from apps.common.tokens import hash_token, new_token
from apps.common.units import UNIT_CHOICES
from apps.common.validation import VisibleTexts
from apps.photics.ground.lengths import CM


def validate_time_zone(name):
    """Refuse a name that the time zone database does not know."""
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"“{name}” is not a time zone, such as Europe/Berlin.")


class UserManager(BaseUserManager):
    use_in_migrations = True

    def create_user(self, email, password=None, **fields):
        user = self.model(email=self.normalize_email(email), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email, password=None, **fields):
        return self.create_user(email, password, is_staff=True, is_superuser=True, **fields)

    def get_by_natural_key(self, email):
        return self.get(email__iexact=email)


class User(VisibleTexts, AbstractUser):
    class Theme(models.TextChoices):
        SYSTEM = "system", "as the device"
        LIGHT = "light", "light"
        DARK = "dark", "dark"

    # No page of a tank is another for it (`tanks/kept_pages`).
    UNSHOWN_FIELDS = frozenset({"password", "last_login", "leaves_at"})

    username = None
    first_name = None
    last_name = None
    email = models.EmailField("e-mail", unique=True)
    display_name = models.CharField(
        "name others see", max_length=60, blank=True, help_text="Shown to people you share with."
    )
    units = models.CharField("lengths in", max_length=2, choices=UNIT_CHOICES, default=CM)
    theme = models.CharField(max_length=6, choices=Theme, default=Theme.SYSTEM)
    # Written behind the prices of plans; amounts are never converted.
    currency = models.CharField("prices in", max_length=8, blank=True)
    time_zone = models.CharField(max_length=64, default="UTC", validators=[validate_time_zone])
    # From then on `purge_deleted` deletes the account with all in it; signing in clears it.
    leaves_at = models.DateTimeField(null=True, blank=True, editable=False)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = []
    objects = UserManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                Lower("email"),
                name="user_email_any_case",
                violation_error_message="Someone already signs in with this e-mail.",
            )
        ]

    def __str__(self):
        return self.shown_name()

    def shown_name(self):
        """Return what others may see: never the e-mail."""
        return self.display_name or f"keeper {self.pk}"

    def get_full_name(self):
        return self.shown_name()

    def get_short_name(self):
        return self.shown_name()

    def verified_emails(self):
        """Return the addresses this keeper has shown to be theirs."""
        return list(self.emailaddress_set.filter(verified=True).values_list("email", flat=True))


class SignUpInvitationQuerySet(models.QuerySet):
    def open(self):
        return self.filter(used_at=None, expires_at__gt=timezone.now())

    def use(self, token_hash: str) -> bool:
        """Use up an open invitation; False when it is none, or somebody else was faster."""
        return self.open().filter(token_hash=token_hash).update(used_at=timezone.now()) == 1


class SignUpInvitation(models.Model):
    """A link by which one person may sign up where sign-up is closed."""

    # No page of a tank shows it (`tanks/kept_pages`).
    UNSHOWN = True

    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    objects = SignUpInvitationQuerySet.as_manager()

    def __str__(self):
        return f"invitation until {self.expires_at:%Y-%m-%d}"

    @classmethod
    def issue(cls, expires_at: dt.datetime) -> str:
        """Make an invitation and return its token, which is known this once."""
        token = new_token()
        cls.objects.create(token_hash=hash_token(token), expires_at=expires_at)
        return token
