"""The owner's answer."""

from collections.abc import Sequence
from typing import Any

from django import forms

DECLINE = "decline"


class DecisionForm(forms.Form):
    """One of the remedies, or none, signed with a typed name. Nothing is chosen beforehand."""

    answer = forms.ChoiceField(
        label="Your answer",
        widget=forms.RadioSelect,
        error_messages={"required": "Please choose an answer.", "invalid_choice": "Please choose an answer."},
    )
    typed_name = forms.CharField(
        label="Type your name to sign",
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={
            "required": "Please type your name.",
            "max_length": "Please use a name of 80 letters or fewer.",
        },
    )
    seen_sha256 = forms.CharField(max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, remedies: Sequence[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["answer"].choices = [  # type: ignore[attr-defined]
            *answer_choices(remedies),
            (DECLINE, "No, leave this as it is"),
        ]

    def remedy_id(self) -> int | None:
        """The remedy chosen (its primary key), None for a no; only after is_valid()."""
        answer = self.cleaned_data["answer"]
        return None if answer == DECLINE else int(answer)


class TogetherForm(forms.Form):
    """An answer to try for each open question. It asks for a date and a total, and decides nothing."""

    def __init__(self, *args: Any, questions: Sequence[tuple[int, str, Sequence[int]]], **kwargs: Any) -> None:
        """questions: of each the finding (primary key), what it is about, and the remedies (primary keys)."""
        super().__init__(*args, **kwargs)
        for finding, words, remedies in questions:
            self.fields[f"try-{finding}"] = forms.ChoiceField(
                label=words,
                choices=[("", "Pick an answer"), *answer_choices(remedies), (DECLINE, "No, leave this as it is")],
                error_messages={"required": "Please pick one.", "invalid_choice": "Please pick one."},
            )

    def picks(self) -> dict[int, int | None]:
        """Finding -> remedy or None for a no (primary keys); only after is_valid()."""
        return {
            int(name.removeprefix("try-")): None if answer == DECLINE else int(answer)
            for name, answer in self.cleaned_data.items()
        }


def answer_choices(remedies: Sequence[int]) -> list[tuple[str, str]]:
    """A yes to each remedy (primary keys), told apart by the numbers that stand beside them."""
    if len(remedies) == 1:
        return [(str(remedies[0]), "Yes, please do this work")]
    return [(str(pk), f"Yes, please do number {number}") for number, pk in enumerate(remedies, start=1)]
