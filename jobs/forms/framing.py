"""The fields that ask how a coach is framed."""

from typing import Any

from django import forms

from jobs.calc.framing import ASSUMED_SPACING_MM, CLOSEST_MM, RUN_WORDS, WIDEST_MM, FaceGroup, MemberRun, spacing_words
from jobs.fields import LengthField
from jobs.models import Coach, Shop
from jobs.services.framing import GroupFraming

GROUP_LABELS = {
    FaceGroup.ROOF: "Roof members, on centre",
    FaceGroup.WALL: "Wall members, on centre",
    FaceGroup.FLOOR: "Floor members, on centre",
}


def add_framing_fields(form: forms.Form, shop: Shop) -> None:
    """A spacing and a direction for each group of faces; a spacing left empty is not known."""
    assumed = spacing_words(ASSUMED_SPACING_MM, units=shop.units)
    for group in FaceGroup:
        form.fields[f"{group}_spacing"] = LengthField(
            units=shop.units,
            label=GROUP_LABELS[group],
            required=False,
            help_text=f"Empty: not known yet, {assumed} is assumed.",
        )
        form.fields[f"{group}_spacing"].widget.attrs["placeholder"] = assumed
        form.fields[f"{group}_run"] = forms.ChoiceField(
            label="They run",
            choices=[(run.value, RUN_WORDS[group][run]) for run in (MemberRun.ACROSS, MemberRun.ALONG)],
            initial=MemberRun.ACROSS.value,
            required=False,
        )


def check_framing(form: forms.Form, cleaned: dict[str, Any], shop: Shop) -> None:
    """Add an error to each spacing that is a slip."""
    ends = [spacing_words(mm, units=shop.units) for mm in (CLOSEST_MM, WIDEST_MM)]
    for group in FaceGroup:
        spacing_mm = cleaned.get(f"{group}_spacing")
        if spacing_mm is not None and not CLOSEST_MM <= spacing_mm <= WIDEST_MM:
            form.add_error(f"{group}_spacing", f"Members stand {ends[0]} to {ends[1]} apart. Check the unit.")


def framing_given(cleaned: dict[str, Any]) -> dict[FaceGroup, GroupFraming]:
    """What was written; only after is_valid()."""
    return {
        group: GroupFraming(cleaned[f"{group}_spacing"], cleaned[f"{group}_run"] or MemberRun.ACROSS)
        for group in FaceGroup
    }


class FramingForm(forms.Form):
    """How a coach is framed, as measured once it is open."""

    def __init__(self, *args: Any, coach: Coach, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shop = shop
        add_framing_fields(self, shop)
        for group in FaceGroup:
            known = coach.framing_of(group)
            self.initial[f"{group}_run"] = known.run.value
            if not known.is_assumed:
                self.initial[f"{group}_spacing"] = spacing_words(known.spacing_mm, units=shop.units)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        check_framing(self, cleaned, self.shop)
        return cleaned

    def pairs(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """Spacing and direction, group by group."""
        return [(self[f"{group}_spacing"], self[f"{group}_run"]) for group in FaceGroup]
