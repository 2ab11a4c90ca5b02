"""What a keeper tells of a rig over what hung before, whether typed in a form or sent by a program.

Both ways make HungFixtures here and end in `hanging.save_light_change`.
"""

from django.core.exceptions import ValidationError

from apps.common.validation import FILL_IN
from apps.lighting.hanging import HUNG
from apps.lighting.models import Fixture, HungFixture
from apps.lighting.optic_models import below_full
from apps.lighting.rig import rig_in_force
from apps.photics.limits import FIXTURES_MAX

NOT_THERE = "No fixture hangs there under this number."
# Another keeper's fixture is answered like one that does not exist.
NOT_YOURS = "No fixture of your library has this id."
NO_FIXTURE = "Say which fixture is hung, or the number of one that hangs there."
NAMED_TWICE = "Two rows speak of the same fixture."


def rows_before(change):
    """Return the HungFixtures a change says itself, else those in force before it."""
    if change.pk and change.tells_rig:
        return list(change.hung.all())
    return rig_in_force(change.tank, change.happened_at, without=change)


def fixtures_for(user, rows):
    """Return the fixtures a keeper may hang: their own, and those that hang there already."""
    hanging = {row.fixture_id for row in rows if row.fixture_id}
    return Fixture.objects.owned_by(user) | Fixture.objects.filter(pk__in=hanging)


def take_what_it_is(row, *, hanging, fixture):
    """Give a new HungFixture its facts; return whether it goes on hanging as `hanging` did.

    They come from the library when `fixture` is newly hung, else with the number from `hanging`.
    Another fixture has other channels, so it takes no levels of the one before.
    """
    if fixture is not None and (hanging is None or fixture.pk != hanging.fixture_id):
        row.take_facts(fixture)
        return False
    if hanging is not None:
        for name in ("fixture_id", *HungFixture.FACTS, "number", "channel_levels"):
            setattr(row, name, getattr(hanging, name))
    return hanging is not None


def stated_of(row, hanging):
    """Return what of a row that hung before its change states and those before do not."""
    own = hanging.told if hanging.change_id == row.change_id else []
    if HUNG in own:
        return [HUNG]
    return [n for n in row.SETTINGS if n in own or getattr(row, n) != getattr(hanging, n)]


def settings_of(row):
    """Return what a keeper set of a HungFixture."""
    return [getattr(row, name) for name in HungFixture.SETTINGS]


def rig_to_save(change, *, shown, hung, down=None):
    """Return the HungFixtures to save and the numbers taken down; (None, ()) for no change of rig.

    `shown` are the rows of before that were shown and `hung` what was made of them; one of
    `shown` that no row keeps is taken down. `down`, by default what the change took down already,
    stays so.
    """
    filled = {row.number: row for row in shown}
    kept = {row.number for row in hung}
    was_down = set(change.taken_down)
    down = (filled.keys() - kept) | (was_down if down is None else set(down))
    is_same = all(
        row.number is not None and settings_of(row) == settings_of(filled[row.number])
        for row in hung
    )
    return (None, ()) if is_same and down == was_down else (hung, down)


class InvalidRig(ValidationError):
    """Rows that can't hang. `by_row` is {index: {field: [sentence]}}, `down` is about numbers."""

    def __init__(self, *, by_row, whole=(), down=()):
        self.by_row, self.whole, self.down = by_row, list(whole), list(down)
        rows = [
            f"Row {index + 1}: {' '.join(sentences)}"
            for index, errors in by_row.items()
            for sentences in errors.values()
        ]
        super().__init__([*self.whole, *rows, *self.down])


def rig_from_rows(*, change, rows, user, taken_down=None):
    """Return what `rig_to_save` returns, for rows given as {"number", "fixture_id", any SETTINGS}.

    A row names one that hangs by its number, or a fixture newly hung; with both, that fixture
    takes the other's place. What a row does not state, and what no row names, stays as it hung;
    numbers in `taken_down` come down, None leaves them. Raises InvalidRig.
    """
    before = {row.number: row for row in rows_before(change)}
    fixtures = {fixture.pk: fixture for fixture in fixtures_for(user, before.values())}
    hung, by_row, named = [], {}, set()
    for index, stated in enumerate(rows):
        number = stated.get("number")
        try:
            if number in named:
                raise ValidationError({"number": NAMED_TWICE})
            hung.append(row_from(stated, change=change, before=before, fixtures=fixtures))
        except ValidationError as problem:
            by_row[index] = problem.message_dict
        named |= set() if number is None else {number}
    sent, known = set(taken_down or ()), before.keys() | set(change.taken_down)
    hung += [row_left(before[number], change) for number in sorted(before.keys() - named - sent)]
    many = len(hung) > FIXTURES_MAX
    whole = [f"At most {FIXTURES_MAX} fixtures hang over a tank."] if many else []
    down = down_problems(sent, known=known, named=named)
    if by_row or whole or down:
        raise InvalidRig(by_row=by_row, whole=whole, down=down)
    return rig_to_save(change, shown=before.values(), hung=hung, down=taken_down)


def down_problems(numbers, *, known, named):
    """Return sentences on numbers that can't be taken down."""
    twice = [f"Number {n} stands in a row too: leave one out." for n in sorted(numbers & named)]
    return twice + [
        f"No fixture hangs there under number {n}." for n in sorted(numbers - named - known)
    ]


def row_from(stated, *, change, before, fixtures):
    """Return the HungFixture of one row given as a dict. Raises ValidationError by field."""
    hanging, fixture = named_in(stated, before, fixtures)
    row = HungFixture(change=change)
    stays = take_what_it_is(row, hanging=hanging, fixture=fixture)
    for name in HungFixture.SETTINGS:
        if name in stated:
            setattr(row, name, stated[name])
        elif hanging is not None and (stays or name != "channel_levels"):
            setattr(row, name, getattr(hanging, name))
    check_row(row)
    row.channel_levels = below_full(row.channel_levels)
    row.told = stated_of(row, hanging) if stays else []
    return row


def named_in(stated, before, fixtures):
    """Return the row of before and the Fixture that a row names, None for what it does not."""
    number, pk = stated.get("number"), stated.get("fixture_id")
    errors = {}
    if number is not None and number not in before:
        errors["number"] = NOT_THERE
    if pk is not None and pk not in fixtures:
        errors["fixture"] = NOT_YOURS
    elif pk is None and number is None:
        errors["fixture"] = NO_FIXTURE
    if errors:
        raise ValidationError(errors)
    return before.get(number), fixtures.get(pk)


def check_row(row):
    """Raise ValidationError by field unless a HungFixture may hang so."""
    needed = [n for n in HungFixture.SETTINGS if not HungFixture._meta.get_field(n).null]
    missing = {n: FILL_IN for n in needed if getattr(row, n) is None}
    try:
        row.full_clean(exclude={"change", "fixture", "number", *missing}, validate_unique=False)
    except ValidationError as problem:
        raise ValidationError(problem.message_dict | missing) from None
    if missing:
        raise ValidationError(missing)


def row_left(hanging, change):
    """Return the HungFixture of one that no row names: it hangs on as it did."""
    row = HungFixture(change=change)
    take_what_it_is(row, hanging=hanging, fixture=None)
    for name in HungFixture.SETTINGS:
        setattr(row, name, getattr(hanging, name))
    row.told = stated_of(row, hanging)
    return row
