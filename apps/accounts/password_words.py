"""Passwords that anyone guesses who knows the site: its own words, dates, and runs.

Any signs may be used and none must be (NIST SP 800-63B, section 3.1.1.2): what is refused here is
a list, as common passwords are one.
"""

import datetime as dt
import re
from contextlib import suppress

from django.conf import settings
from django.core.exceptions import ValidationError

from apps.accounts.models import User

# Names of this site and of its trade, whoever runs it, and what people put before them.
WORDS = (
    "reeflog", "reef", "reefs", "reefer", "reefing", "reefkeeper", "coral", "corals", "frag",
    "frags", "acropora", "acro", "zoa", "zoas", "anemone", "clownfish", "nemo", "fish", "tank",
    "tanks", "aquarium", "aquariums", "aquaria", "saltwater", "seawater", "salt", "water", "marine",
    "ocean", "sea", "light", "lights", "lamp", "lamps", "par", "led", "meter", "survey", "club",
    "keeper", "host", "officer", "admin", "user", "account", "login", "password", "welcome", "my",
    "our", "the", "new", "test", "love",
)  # fmt: skip
# More of them in a row are a sentence, which nobody guesses.
WORDS_MOST = 3
# Signs that are typed for a letter, and how many of no letter may stand around a word.
SWAPS = {"a": "a4@", "e": "e3", "i": "i1!", "l": "l1", "o": "o0", "s": "s5$", "t": "t7"}
AROUND = r"[\W\d_]{0,6}"
DATES = ("%Y%m%d", "%d%m%Y", "%m%d%Y", "%d%m%y", "%m%d%y")
DATE_PARTS_APART = re.compile(r"[./ -]")
# One to four signs again and again.
REPEATED = re.compile(r"(.{1,4})\1+")
RUNS = ("01234567890123456789", "abcdefghijklmnopqrstuvwxyz")


class GuessableValidator:
    """Refuses what a guesser tries first at this site."""

    def validate(self, password: str, user: User | None = None) -> None:
        if is_of_words(password):
            raise ValidationError(
                "Words like reef or tank are guessed first here. Add other words.",
                code="password_of_site_words",
            )
        if is_date(password) or is_run(password):
            raise ValidationError(
                "A date or a simple pattern is easy to guess. Choose something else.",
                code="password_is_pattern",
            )

    def get_help_text(self) -> str:
        return "Not a date, and not just words like reef or tank."


def is_of_words(password: str) -> bool:
    """Tell whether a password is up to three words of the site, however they are dressed up."""
    spelled = "|".join(
        "".join(f"[{re.escape(SWAPS.get(sign, sign))}]" for sign in word)
        for word in {*WORDS, *words_of_address()}
    )
    pattern = rf"{AROUND}(?:(?:{spelled}){AROUND}){{1,{WORDS_MOST}}}"
    return re.fullmatch(pattern, password, re.IGNORECASE) is not None


def words_of_address() -> set[str]:
    """Return the words of the site's own names, such as reef and example of reef.example.org."""
    parts = (part for host in settings.ALLOWED_HOSTS for part in re.split(r"[.-]", host.lower()))
    return {part for part in parts if len(part) > 2 and part.isalpha()}


def is_date(password: str) -> bool:
    """Tell whether a password is a day of this century or the one before, in any usual order."""
    digits = DATE_PARTS_APART.sub("", password)
    if not (digits.isascii() and digits.isdigit()):
        return False
    for form in DATES:
        with suppress(ValueError):
            if 1900 <= dt.datetime.strptime(digits, form).year < 2100:
                return True
    return False


def is_run(password: str) -> bool:
    """Tell whether a password goes up or down step by step, or is a few signs repeated."""
    low = password.lower()
    return bool(REPEATED.fullmatch(low)) or any(low in run or low[::-1] in run for run in RUNS)
