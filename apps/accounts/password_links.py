"""Where somebody chooses a new password: a path that works once, for as long as a mailed one."""

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.urls import reverse

from apps.accounts.models import User


def password_path(user: User) -> str:
    """Return the path where an account's password is chosen, until it was."""
    words = {"uidb36": user_pk_to_url_str(user), "key": default_token_generator.make_token(user)}
    return reverse("account_reset_password_from_key", kwargs=words)
