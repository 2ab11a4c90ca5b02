"""The demo scenario's names, for the command that loads it and the one that tells of it."""

DEMO_EMAIL = "maren@example.org"
DEMO_PASSWORD = "tide-and-lamp"
