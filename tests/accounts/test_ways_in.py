"""The ways into an account are those that docs/hosting.md lists, and no other."""

import math

from allauth import urls as of_allauth
from allauth.account import app_settings as account
from allauth.mfa import app_settings as mfa
from django.apps import apps
from django.conf import settings
from django.urls import URLResolver
from knox.models import AuthToken

from apps.common.tokens import new_token
from tests.paths import ROOT
from tests.test_security_sheet import importers

# The addresses of the library that signs keepers in; an upgrade may bring more.
OF_VISITORS = {
    "account_login", "account_signup", "account_inactive", "account_email_verification_sent",
    "account_confirm_email", "account_reset_password", "account_reset_password_done",
    "account_reset_password_from_key", "account_reset_password_from_key_done", "mfa_authenticate",
    # Only of codes by mail, which are off.
    "account_confirm_login_code",
}  # fmt: skip
OF_KEEPERS = {
    "account_logout", "account_reauthenticate", "account_email", "account_change_password",
    "account_set_password", "mfa_index", "mfa_reauthenticate", "mfa_activate_totp",
    "mfa_deactivate_totp", "mfa_view_recovery_codes", "mfa_generate_recovery_codes",
    "mfa_download_recovery_codes", "mfa_list_webauthn", "mfa_add_webauthn",
    "mfa_reauthenticate_webauthn", "mfa_remove_webauthn", "mfa_edit_webauthn", "usersessions_list",
}  # fmt: skip


def names(patterns):
    for entry in patterns:
        if isinstance(entry, URLResolver):
            yield from names(entry.url_patterns)
        else:
            yield entry.name


def test_the_library_that_signs_in_has_no_address_we_do_not_know():
    assert set(names(of_allauth.urlpatterns)) == OF_VISITORS | OF_KEEPERS


def test_one_backend_tells_who_may_sign_in_and_two_ways_who_calls():
    assert settings.AUTHENTICATION_BACKENDS == [
        "allauth.account.auth_backends.AuthenticationBackend"
    ]
    assert settings.REST_FRAMEWORK["DEFAULT_AUTHENTICATION_CLASSES"] == [
        "apps.api.tokens.authentication.BearerAuthentication",
        # Of a page of ours, with the mark against other sites.
        "rest_framework.authentication.SessionAuthentication",
    ]
    assert not any("Remote" in name for name in settings.MIDDLEWARE)
    for name in ("allauth.socialaccount", "allauth.headless", "allauth.idp"):
        assert not apps.is_installed(name)


def test_nothing_but_a_password_signs_in():
    assert not account.LOGIN_BY_CODE_ENABLED and not mfa.PASSKEY_LOGIN_ENABLED
    # A link out of a mail shows whose the address is, and opens no session.
    assert not account.LOGIN_ON_PASSWORD_RESET and not account.LOGIN_ON_EMAIL_CONFIRMATION


def test_no_module_of_ours_signs_anybody_in():
    assert not importers(
        "django.contrib.auth.login", "django.contrib.auth.alogin", "allauth.account.internal",
        "allauth.account.utils.perform_login", "allauth.mfa.internal",
        "allauth.account.authentication",
    )  # fmt: skip


def test_what_opens_anything_by_itself_is_long_enough_for_128_random_bits(client, owner):
    client.force_login(owner)
    drawn = {
        "session": (client.session.session_key, 36),
        "secret link": (new_token(), 64),
        "API token": (AuthToken.objects.create(owner)[1], 16),
    }
    for text, signs in drawn.values():
        assert len(text) * math.log2(signs) >= 128
    other = {"secret link": new_token(), "API token": AuthToken.objects.create(owner)[1]}
    assert all(drawn[kind][0] != text for kind, text in other.items())


def test_no_view_of_the_api_has_a_way_of_its_own():
    code = [*(ROOT / "apps").rglob("*.py")]
    assert not [p for p in code if "authentication_classes" in p.read_text()]
