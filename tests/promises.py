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
)
