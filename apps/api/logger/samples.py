"""A logger's samples as JSON: many thousands at once, so each is read by hand, not by a form."""

import datetime as dt

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.common.programs.serializers import TankMomentField
from apps.photics.limits import ENTRY_YEAR_MIN, LOG_LINES_MAX, LOGGED_DAYS_MAX, PAR_MAX_UMOL
from apps.surveys.tables.log_reading import SECONDS_A_DAY, thinned

# So many rows that are wrong are named.
WRONG_SHOWN = 20
NAMES = {"at", "par_umol"}


class LoggedSampleSerializer(serializers.Serializer):
    """A logger's value at one time. A time without an offset is the tank's own clock."""

    at = serializers.DateTimeField()
    par_umol = serializers.FloatField(min_value=0, max_value=PAR_MAX_UMOL)


@extend_schema_field(LoggedSampleSerializer(many=True))
class SamplesField(TankMomentField):
    """Rows {"at", "par_umol"}, kept as [[seconds since 1970, PAR], ...], ascending."""

    default_error_messages = {
        "few": "At least two rows, please.",
        "many": f"At most {LOG_LINES_MAX:,} rows, please.",
        "long": f"A series can span {LOGGED_DAYS_MAX} days at most. Is a date mistyped?",
        "row": "A row must be an object with “at” and “par_umol”, nothing else.",
        "moment": "“at” must be a time such as 2026-03-01T14:30:00+01:00.",
        "par": f"“par_umol” must be a number from 0 to {PAR_MAX_UMOL:g}.",
        "year": f"The year must be {ENTRY_YEAR_MIN} or later.",
        "twice": "Another row has the same time.",
    }

    def to_internal_value(self, data: object) -> list[list[float]]:
        if not isinstance(data, list) or len(data) < 2:
            self.fail("few")
        if len(data) > LOG_LINES_MAX:
            self.fail("many")
        samples: dict[float, float] = {}
        wrong: list[str] = []
        for number, row in enumerate(data, start=1):
            try:
                instant, value = self.sample(row)
                if instant in samples:
                    self.fail("twice")
                samples[instant] = value
            except serializers.ValidationError as problem:
                wrong += [f"Row {number}: {text}" for text in problem.detail]
                if len(wrong) >= WRONG_SHOWN:
                    break
        if wrong:
            raise serializers.ValidationError(wrong)
        if max(samples) - min(samples) > LOGGED_DAYS_MAX * SECONDS_A_DAY:
            self.fail("long")
        return [list(sample) for sample in thinned(sorted(samples.items()))[0]]

    def sample(self, row: object) -> tuple[float, float]:
        """Return (seconds since 1970, PAR) of a row."""
        if not isinstance(row, dict) or row.keys() != NAMES:
            self.fail("row")
        value, text = row["par_umol"], row["at"]
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if not is_number or not 0 <= value <= PAR_MAX_UMOL:
            self.fail("par")
        try:
            moment = dt.datetime.fromisoformat(text)
        except (TypeError, ValueError):
            self.fail("moment")
        if not ENTRY_YEAR_MIN <= moment.year <= 9998:
            self.fail("year")
        moment = moment if moment.tzinfo else self.enforce_timezone(moment)
        return moment.timestamp(), float(value)

    def to_representation(self, value: list[list[float]]) -> list[dict[str, object]]:
        return [
            {"at": dt.datetime.fromtimestamp(instant, dt.UTC).isoformat(), "par_umol": par}
            for instant, par in value
        ]
