"""Why a photo can't be measured, or what makes its colour doubtful, and what to do."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """Why a photo can't be measured, or what makes its colour doubtful, and what to do."""

    key: str
    words: str
    remedy: str
    stops: bool


WHITE_FIRST = "Set the lamp to white for a minute and take the photo again."
PROBLEMS = {
    p.key: p
    for p in (
        Problem(
            "no_reference", "No reference is marked, so the light can’t be taken out.",
            "Lay a white or grey card beside the coral, or mark something whose colour never "
            "changes, the same thing each time.", True,
        ),
        Problem("no_region", "No part of the coral is marked.", "Draw around a part of it.", True),
        Problem(
            "reference_small", "The reference is too small in the photo.",
            "Mark more of it, or go nearer.", True,
        ),
        Problem(
            "region_small", "The marked part of the coral is too small.",
            "Mark more of it, or go nearer.", True,
        ),
        Problem(
            "reference_clipped", "The reference is blown out: parts are as bright as a photo can "
            "show.", "Tap the card on the phone’s screen so that it exposes for it, or use a grey "
            "card.", True,
        ),
        Problem(
            "region_clipped", "The coral is blown out: parts are as bright as a photo can show.",
            "Make the photo darker: tap the brightest part on the phone’s screen.", True,
        ),
        Problem(
            "reference_dark", "The reference is too dark to say which light fell on it.",
            "Bring the card into the coral’s light, or expose longer.", True,
        ),
        Problem(
            "region_dark", "The coral is too dark in this photo.",
            "Expose longer, or photograph it with the lamp up.", True,
        ),
        Problem(
            "blue_light", "Under blue light corals glow and the camera guesses at red: no "
            "colour is told.", WHITE_FIRST, True,
        ),
        Problem(
            "too_blue", "The light is too blue: too little red or green is left to bring back.",
            WHITE_FIRST + " A warmer white balance in the camera helps a little; a filter more.",
            True,
        ),
        Problem(
            "too_warm", "The light is too warm: too little blue is left to bring back.",
            WHITE_FIRST + " Setting the camera’s white balance to automatic helps too.", True,
        ),
        Problem(
            "greyscale", "This photo is black and white: it holds no colour to measure.",
            "Take it again in colour, without a filter. This one stays with the note.", True,
        ),
        Problem(
            "gamut_edge", "Part of the coral is more colourful than this photo can hold, so its "
            "colour is less sure.",
            "Let the camera save wide colour (HEIC, Display P3), without a vivid mode.", False,
        ),
        Problem(
            "brighter_than_white", "The coral comes out brighter than white: it glows in this "
            "light, or the reference lay in shade.",
            WHITE_FIRST + " Hold the card right beside the coral, facing as it does.", True,
        ),
        Problem(
            "card_unclear", "The colour card can’t be read where its corners are marked.",
            "Mark the middles of its four corner rings, and show the whole card, unbent and dry of "
            "glints.", True,
        ),
        Problem(
            "tinted", "The light is tinted, so the colour is less sure and corals that glow look "
            "paler than they are.", WHITE_FIRST, False,
        ),
        Problem(
            "reference_uneven", "The reference is not evenly lit.",
            "Mark only the part that lies in the coral’s light.", False,
        ),
    )
}  # fmt: skip
