"""What a fixture is made of: its optic by name or by file, and its channels."""

import hashlib
import json
from functools import lru_cache

from django.core.exceptions import ValidationError
from django.db import models

from apps.lighting.day_models import number
from apps.photics import limits
from apps.photics.day import spectrum
from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.photometry.ies import read_ies

# Beams of optics known only by name [degrees]. Common practice, no published source.
FAMILY_BEAM_DEG = {"wide": 120.0, "medium": 90.0, "narrow": 55.0}
# Shares typed as whole percents may miss 100 by rounding [%].
SHARES_OFF_PERCENT = 1.5
CHANNEL_KEYS = {"name", "peak_nm", "white_kelvin", "share_percent"}
CHANNEL_NAME_MAX = 40
ANGLE_NEEDED = "Say the angle, or choose a named optic."


class Optic(models.TextChoices):
    ANGLE = "angle", "a beam angle"
    WIDE = "wide", "wide: no lens, about 120°"
    MEDIUM = "medium", "medium: about 90°"
    NARROW = "narrow", "narrow: lens or reflector, about 55°"
    FILE = "file", "its photometric file"


class RayTable(models.Model):
    """What a measured optic sends where, under a key made of it: written once, never changed."""

    key = models.CharField(max_length=64, primary_key=True)
    rows = models.JSONField()

    def __str__(self):
        return self.key[:8]

    @staticmethod
    def packed(optic):
        """Return the key and the rows of a photics MeasuredOptic."""
        rows = [list(row) for row in optic.ratio]
        return hashlib.sha256(json.dumps(rows).encode()).hexdigest(), rows

    @classmethod
    def holding(cls, optic):
        """Return the stored RayTable of a photics MeasuredOptic, stored now if it is new."""
        key, rows = cls.packed(optic)
        return cls.objects.get_or_create(key=key, defaults={"rows": rows})[0]


@lru_cache(maxsize=256)
def measured_rays(key):
    """Return the photics MeasuredOptic of a RayTable's key; a key always means the same rays."""
    rows = RayTable.objects.values_list("rows", flat=True).get(pk=key)
    return MeasuredOptic(tuple(tuple(row) for row in rows))


class PhotometricFile(models.Model):
    """A fixture's measured distribution, kept as LM-63 text whatever format it came in."""

    FOLLOWED, KEEPER = "fixture", "fixture__owner"

    fixture = models.OneToOneField(
        "lighting.Fixture", on_delete=models.CASCADE, related_name="photometric_file"
    )
    text = models.TextField(max_length=4 * limits.PHOTOMETRY_CHARS_MAX)
    told_as = models.CharField(max_length=20)
    notes = models.JSONField(default=list, blank=True)
    # What stands for it in the light field: the nearest beam, and what it sends beside that.
    beam_deg = models.FloatField()
    misplaced = models.FloatField()
    rays = models.ForeignKey(RayTable, null=True, on_delete=models.PROTECT, related_name="+")
    upward = models.FloatField()

    def __str__(self):
        return f"{self.told_as} of {self.fixture}"

    def photometry(self):
        return read_ies(self.text)


def channel_of(row):
    """Return the photics Channel of one entry of a fixture's channels. Raises ValueError."""
    return spectrum.Channel(
        name=str(row["name"]), peak_nm=row.get("peak_nm"), white_kelvin=row.get("white_kelvin")
    )


def channel_name(row):
    """Return the name in one entry of a fixture's channels, without spaces at its ends.

    Raises TypeError for what is no text, or for an entry that tells more than a channel has, and
    ValueError for a long one.
    """
    if not isinstance(row["name"], str) or row.keys() - CHANNEL_KEYS:
        raise TypeError("A channel has a name, a peak or a white, and a share.")
    name = row["name"].strip()
    if len(name) > CHANNEL_NAME_MAX:
        raise ValueError(f"The name of a channel has at most {CHANNEL_NAME_MAX} characters.")
    return name


def check_channels(rows):
    """Raise ValidationError unless every entry is a channel and their shares make a whole."""
    if not isinstance(rows, list) or len(rows) > limits.CHANNELS_MAX:
        raise ValidationError(f"At most {limits.CHANNELS_MAX} channels.")
    names, total = set(), 0.0
    for row in rows:
        try:
            name = channel_name(row)
            channel_of(row)
            share = number(row["share_percent"])
        except (KeyError, TypeError, OverflowError):
            raise ValidationError(
                "A channel needs a name, a peak or a white, and a share."
            ) from None
        except ValueError as problem:
            raise ValidationError(str(problem)) from None
        if not 0 <= share <= 100:
            raise ValidationError("A share is 0 to 100 %.")
        if not name or name.casefold() in names:
            raise ValidationError("Each channel needs a name of its own.")
        names.add(name.casefold())
        total += share
    if rows and abs(total - 100) > SHARES_OFF_PERCENT:
        raise ValidationError(f"The shares of the channels sum to 100 %, not {total:g} %.")


def check_channel_levels(levels, channels):
    """Raise ValidationError unless levels are {name of one of the channels: 0 to 100 %}."""
    if not isinstance(levels, dict):
        raise ValidationError("Levels of channels are given by name.")
    names = {row["name"] for row in channels}
    for name, level in levels.items():
        if name not in names:
            raise ValidationError(f"“{name}” is no channel of this lamp.")
        try:
            is_level = 0 <= number(level) <= limits.LEVEL_MAX_PERCENT
        except (TypeError, OverflowError):
            is_level = False
        if not is_level:
            raise ValidationError(f"The level of {name} is 0 to {limits.LEVEL_MAX_PERCENT:g} %.")


def below_full(levels):
    """Return levels {name: %} without those at full, which is what a name left out means."""
    return {name: level for name, level in levels.items() if level != limits.LEVEL_MAX_PERCENT}


def lit_share(channels, levels):
    """Return the PAR of channels at their levels for 1 of all at full level [1]."""
    total = sum(row["share_percent"] for row in channels)
    if not levels or not total:
        return 1.0
    lit = sum(row["share_percent"] * levels.get(row["name"], 100.0) for row in channels)
    return lit / (100.0 * total)


def channel_steps(old, new):
    """Yield (name, level before, level after) of the channels of two HungFixtures that moved [%].

    Where they have other channels, nothing can be set side by side.
    """
    names = [row["name"] for row in new.channels]
    if names != [row["name"] for row in old.channels]:
        return
    for name in names:
        before, after = (row.channel_levels.get(name, 100.0) for row in (old, new))
        if before != after:
            yield name, before, after


def carried_levels(levels, channels, renamed):
    """Return levels entered for `channels` as levels of the same fixture's channels entered anew.

    A channel keeps its level by its name; where only names changed, by its place.
    """
    kept = {row["name"]: levels[row["name"]] for row in renamed if row["name"] in levels}
    if len(channels) == len(renamed):
        old_names, new_names = ({row["name"] for row in rows} for rows in (channels, renamed))
        for old, new in zip(channels, renamed, strict=True):
            is_renamed = old["name"] not in new_names and new["name"] not in old_names
            if is_renamed and old["name"] in levels:
                kept[new["name"]] = levels[old["name"]]
    return kept
