"""Reminders in this browser: asked for only when pressed, shown as sent, one tap to turn off."""

import json

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from apps.sharing.models import PushBrowser
from tests.browser.conftest import DESK, PHONE, sign_in
from tests.common.push.receiving import Browser

# A browser without a window shows no notifications and has no push service to ask: what it and its
# keeper would answer is made up. What the worker does with a message: `tests/js/push.test.mjs`.
PUSH_SERVICE = """(() => {
    window.timesAsked = 0;
    Object.defineProperty(Notification, "permission", { get: () => "default" });
    Notification.requestPermission = async () => { window.timesAsked += 1; return "granted"; };
    let made = null;
    PushManager.prototype.getSubscription = async () => made;
    PushManager.prototype.subscribe = async (options) => {
        window.subscribedWith = options;
        made = { endpoint: "https://push.example.org/send/one", unsubscribe: async () => true };
        made.toJSON = () => ({ endpoint: made.endpoint, keys: %s });
        return made;
    };
})()"""


@pytest.fixture
def complaints_of():
    """Return {page: what the browser complained of there}."""
    return {}


@pytest.fixture
def ready(context, live_server, keeper, complaints_of):
    """Return a function that opens the reminders in a browser that would allow notifications."""
    keys = Browser()
    said = json.dumps({"p256dh": keys.key, "auth": keys.secret})
    context.add_init_script(PUSH_SERVICE % said)
    sign_in(context, live_server.url, keeper)

    def opened(size=PHONE):
        page = context.new_page()
        complaints_of[page] = []
        page.on("console", lambda m: complaints_of[page].append(m.text) if m.type == "error" else 0)
        page.on("pageerror", lambda error: complaints_of[page].append(str(error)))
        page.set_viewport_size(size)
        page.goto(live_server.url + reverse("reminders"))
        return page

    return opened


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_pressed_once_this_browser_is_in_the_list(ready, complaints_of, keeper, size):
    page = ready(size)
    button = page.get_by_role("button", name="Show reminders in this browser")
    expect(button).to_be_visible()
    assert page.evaluate("window.timesAsked") == 0
    button.click()
    # The worker first fetches all that works without a network.
    expect(page.locator("#push-browsers li")).to_have_count(1, timeout=30_000)
    assert complaints_of[page] == []
    row = PushBrowser.objects.get()
    assert row.keeper == keeper and row.endpoint == "https://push.example.org/send/one"
    page.get_by_role("button", name="Delete").click()
    expect(page.locator("#push-browsers")).to_have_count(0)
    assert not PushBrowser.objects.exists()


def test_a_browser_that_refuses_is_told_where_to_allow_it(ready):
    page = ready()
    page.evaluate("Notification.requestPermission = async () => 'denied'")
    page.get_by_role("button", name="Show reminders in this browser").click()
    expect(page.locator("#push-said")).to_contain_text("blocked")
    assert not PushBrowser.objects.exists()


def test_a_question_that_was_only_closed_is_no_refusal(ready):
    page = ready()
    page.evaluate("Notification.requestPermission = async () => 'default'")
    button = page.get_by_role("button", name="Show reminders in this browser")
    button.click()
    expect(page.locator("#push-said")).to_contain_text("Tap again")
    expect(button).to_be_visible()
