"""The sentences that promise a keeper something: how data is kept, who sees it, what is uncertain.

Other words may be mended freely; one of these changes only with what it promises. Each stands with
where it is shown: the name of an address, or the template of a page that can't be asked for.
"""

# Shown to everybody.
PUBLIC = (
    ("home", "Nobody else sees your tanks unless you share them."),
    ("account_signup", "Other keepers never see it."),
)
# Shown to the owner of a tank on a page of that tank, or of their own.
OWNERS = (
    ("tank_remove", "You can restore it all for 30 days under Recently deleted."),
    ("deleted_list", "deleted in the last 30 days. Restored, they are as they were."),
    ("tank_deleted", "Restored, it is as it was, with its notes and photos."),
    ("invitation_new", "We never say who has an account."),
    ("share_link_list", "Never shown: e-mail addresses, who keeps the tank, other tanks."),
    ("pool_detail", "No names, no words, no photos, no maps."),
    ("calendar_link", "what to set, the latest light changes and the meter’s name, nothing else."),
)
# Shown by a template where something broke, or only once.
TEMPLATES = (
    ("403_csrf.html", "What you typed is still on this device."),
    ("500.html", "What you typed is still on this device."),
    ("503.html", "What you typed is still on this device"),
    ("_signed_out.html", "What you typed is still here but not saved."),
    ("sharing/_link_made.html", "We keep only a fingerprint of it"),
    (
        "sharing/plan_link_list.html",
        "Never shown: e-mail addresses, who keeps the tank, its corals.",
    ),
    ("tanks/invitation_open.html", "and never your e-mail."),
    (
        "lighting/fixture/_fixture_mix.html",
        "The usual bounds of a mix are typical of the trade, no published source.",
    ),
    (
        "outcomes/association/_outcome_verdict.html",
        "It does not rule out another that goes with the place in the tank, such as flow.",
    ),
    ("surveys/meters/_lux_warning.html", "Its PAR depends on the spectrum"),
    ("planning/layout/_start_low.html", "More light can hurt corals."),
    ("lightmap/_not_measured.html", "Not measured:"),
    (
        "sharing/_push_browsers.html",
        "A reminder shows the tank and what is due, nothing else. It is encrypted: your browser’s "
        "maker delivers it but can’t read it. Reminders come until you delete the browser here or "
        "tap “Turn off”, even when you are signed out.",
    ),
    (
        "hosting/privacy.html",
        "The maker’s push service delivers each reminder encrypted; only your browser can read it. "
        "It holds the tank’s name and what is due. Delete the browser under Reminders to delete "
        "the address.",
    ),
    ("hosting/privacy.html", "ask whoever runs this site. The answer appears on the same page."),
    (
        "surveys/tables/survey_readings.html",
        "It is kept on this device until you save. Points without PAR stay until you read them.",
    ),
)
# Said by code, or to whoever reads the project's first page.
FILES = (
    ("apps/later/running.py", "This failed three times. Nothing was changed."),
    ("apps/later/running.py", "Something went wrong here. Nothing was changed."),
    ("apps/sharing/reminding/views.py", "You get reminders once a day at most."),
    ("apps/later/files.py", "It is kept here for a week."),
    (
        "README.md",
        "No page loads anything from elsewhere. The only things it sends out are mails and browser "
        "reminders, if the host sets them up. A browser reminder is encrypted; it holds the tank’s "
        "name and what is due.",
    ),
)
