"""What the pages have in common that ask by an address and store nothing."""

from collections.abc import Iterator
from typing import Any

from django import forms


class AskingForm(forms.Form):
    """named: what fields are called at the head of a refused question, apart from the group that makes them clear."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.named: dict[str, str] = {}

    def refused(self) -> Iterator[tuple[forms.BoundField, str]]:
        """Each field that was refused, and its name."""
        return ((field, self.named.get(field.name, str(field.label))) for field in self if field.errors)
