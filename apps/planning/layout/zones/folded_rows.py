"""Rows of a form that fold up to one line, and of which empty ones are passed over."""

from django import forms


class FoldedRow(forms.Form):
    """A row of a form that is folded up to one line while nothing of it is missing or wrong."""

    # The fields without which the row says nothing.
    needed: tuple[str, ...] = ()

    @property
    def is_filled(self) -> bool:
        """Return whether nothing that is needed is missing."""
        return all(self[name].value() not in (None, "") for name in self.needed)

    @property
    def stands_open(self) -> bool:
        """Return whether the row is shown whole."""
        return not self.is_filled or bool(self.errors)


class Rows(forms.BaseFormSet):
    """Rows of which those left as they came and empty are passed over."""

    def kept(self) -> list[forms.Form]:
        """Return the forms that say something and are not taken out."""
        return [
            form for form in self.forms if form.cleaned_data and not form.cleaned_data.get("DELETE")
        ]


def empty_permitted(rows: Rows) -> Rows:
    """Return rows of which those without initial values may stay empty."""
    for form in rows.forms:
        form.empty_permitted = not form.initial
    return rows
