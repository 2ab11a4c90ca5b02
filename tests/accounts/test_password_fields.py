"""Fields of passwords: masked, filled in by browsers and their helpers, and never given back."""

from html.parser import HTMLParser

import pytest
from django.core.cache import cache
from django.urls import reverse

from apps.accounts.password_links import password_path
from tests.accounts.test_sign_in import NEW, sign_in
from tests.factories import PASSWORD

NOW_, NEW_ = "current-password", "new-password"
# Each page with a password, and what its fields say to a browser that fills them in.
PAGES = {
    "account_login": {"password": NOW_},
    "account_signup": {"password1": NEW_},
    "account_change_password": {"oldpassword": NOW_, "password1": NEW_, "password2": NEW_},
    "account_reauthenticate": {"password": NOW_},
    "account_delete": {"password": NOW_},
}
OF_VISITORS = {"account_login", "account_signup"}
WRONG = "wrong-and-typed-here-83"


class Inputs(HTMLParser):
    """The input fields of a page by name, of those that take a password or an e-mail."""

    def __init__(self, page):
        super().__init__()
        self.fields = {}
        self.feed(page.content.decode())

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag == "input" and attrs.get("type") not in ("hidden", "checkbox", "radio"):
            self.fields[attrs.get("name")] = attrs

    def passwords(self):
        return {n: a for n, a in self.fields.items() if "password" in (n or "")}


@pytest.fixture(autouse=True)
def fresh_counts(db):
    cache.clear()


def check_fields(page, stated):
    fields = Inputs(page).passwords()
    assert {name: one.get("autocomplete") for name, one in fields.items()} == stated
    for one in fields.values():
        # A bound of length would cut off what a helper fills in.
        assert one["type"] == "password" and not {"maxlength", "readonly", "value"} & one.keys()


@pytest.mark.parametrize("name", PAGES)
def test_password_fields_are_masked_and_can_be_filled_in(client, owner, name):
    if name not in OF_VISITORS:
        sign_in(client)
    check_fields(client.get(reverse(name)), PAGES[name])


def test_a_new_password_by_a_link_is_masked_and_can_be_filled_in(client, owner):
    page = client.get(password_path(owner), follow=True)
    check_fields(page, {"password1": NEW_, "password2": NEW_})


@pytest.mark.parametrize("name", ["account_login", "account_signup"])
def test_helpers_find_the_account_beside_the_password(client, db, name):
    fields = Inputs(client.get(reverse(name))).fields
    (account,) = (one for n, one in fields.items() if n in ("login", "email"))
    assert account["type"] == "email" and account["autocomplete"] in ("email", "username")


def test_a_refused_password_is_not_given_back(client, owner):
    for page in (sign_in(client, password=WRONG), client.post("/accounts/signup/", NEW | {
        "email": "no e-mail", "password1": WRONG,
    })):  # fmt: skip
        assert page.status_code == 200 and WRONG not in page.content.decode()
    sign_in(client)
    words = {"oldpassword": PASSWORD, "password1": WRONG, "password2": "another-one-55"}
    for name in ("account_change_password", "account_delete"):
        page = client.post(reverse(name), words | {"password": WRONG})
        assert page.status_code in (200, 422) and WRONG not in page.content.decode()
