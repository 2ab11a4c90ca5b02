"""What keepers call the signs of a note: “rtn”, “browned out”, “pale”.

Shown beside each sign, so that it is found by the word a keeper knows, and understood when one of
them is typed, or read in the table of an import. Common among keepers, no published source.
"""

from apps.corals.models import HealthNote

Seen = HealthNote.Seen
# Beside a sign's own name; the first words of each stand beside its sign.
SIGN_WORDS = {
    Seen.WELL: (
        "good", "fine", "no change", "happy", "well", "looks good", "doing good", "doing well",
        "great", "ok", "okay", "healthy", "normal", "unchanged", "nothing to report", "all good",
        "stable",
    ),
    Seen.PALING: (
        "pale", "faded", "lighter", "washed out", "losing colour", "paled", "paler", "fading",
        "fades", "light tips", "losing color", "lost colour", "lost color", "pastel",
    ),
    Seen.BLEACHING: (
        "bleached", "gone white", "whitening", "stark white", "bleaches", "turned white",
        "all white", "nearly white", "almost white",
    ),
    Seen.BROWNING: (
        "browned out", "brown", "darker", "muddy", "browned", "browning out", "darkened",
        "went brown",
    ),
    Seen.TISSUE_LOSS: (
        "rtn", "stn", "recession", "necrosis", "peeling", "receding", "sloughing", "melting",
        "rapid tissue necrosis", "slow tissue necrosis", "skeleton showing", "losing tissue",
        "lost tissue", "tissue recession", "receded", "stripping", "dying off", "dying",
    ),
    Seen.POLYPS_IN: (
        "closed", "retracted", "no polyp extension", "no pe", "shut", "deflated", "no polyps",
        "polyps closed", "closed up", "closed polyps", "polyps retracted", "not open",
        "not opening", "poor pe", "poor polyp extension",
    ),
    Seen.GROWTH: (
        "growing", "new tips", "encrusting", "new heads", "new growth", "grew", "growth tips",
        "new branches", "new polyps",
    ),
    Seen.COLOUR_GAIN: (
        "coloured up", "colored up", "deeper colour", "better colour", "color gain",
        "colouring up", "coloring up", "better color", "more colour", "more color",
        "colour is back", "color is back", "deeper color",
    ),
    Seen.OTHER: (
        "pest", "algae", "sting", "broken",
    ),
}  # fmt: skip
SHOWN = 3


def words_beside(sign: str) -> str:
    """Return the words shown beside a sign: "rtn, stn, recession"."""
    return ", ".join(SIGN_WORDS[Seen(sign)][:SHOWN])


def sign_called(word: str) -> str | None:
    """Return the sign that a keeper means by a word, None where none is called so.

    The sign's own name, one of its words, or the only sign with a word that begins so.
    """
    wanted = " ".join(word.lower().split())
    if not wanted:
        return None
    names = {sign: (own_name(sign), *words) for sign, words in SIGN_WORDS.items()}
    exact = [sign for sign, words in names.items() if wanted in words]
    begun = [s for s, words in names.items() if any(name.startswith(wanted) for name in words)]
    result = exact or begun
    return result[0].value if len(result) == 1 else None


def own_name(sign: HealthNote.Seen) -> str:
    return str(sign.label).partition(":")[0]


def signs_by_word() -> dict[str, str]:
    """Return {word: sign} of every word and every sign's own name, for a page's script."""
    return {word: sign_called(word) or "" for word, _ in all_words()} | {
        own_name(sign): sign.value for sign in SIGN_WORDS
    }


def all_words() -> list[tuple[str, str]]:
    """Return (word, the sign's name) of every word, for a list that is offered while typing."""
    return [(word, own_name(sign)) for sign, words in SIGN_WORDS.items() for word in words]
