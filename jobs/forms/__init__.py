"""One form for each of the technician's screens, one topic a module."""

from jobs.forms.findings import EvidenceForm, FindingForm, OwnVerdictForm, PhotosForm, new_key
from jobs.forms.framing import FramingForm
from jobs.forms.hours import MaterialForm, SpanForm
from jobs.forms.moisture import AltitudeForm, LimitsForm, PlacementForm, RetireForm, StationForm, StrikeForm
from jobs.forms.remedies import AdjustForm
from jobs.forms.rounds import RoundForm
from jobs.forms.signing import AdminSignIn, ThrottledSignIn
from jobs.forms.work import HoldPointFailForm, HoldPointPassForm, MoveForm

__all__ = [
    "AdjustForm",
    "AdminSignIn",
    "AltitudeForm",
    "EvidenceForm",
    "FindingForm",
    "FramingForm",
    "HoldPointFailForm",
    "HoldPointPassForm",
    "LimitsForm",
    "MaterialForm",
    "MoveForm",
    "OwnVerdictForm",
    "PhotosForm",
    "PlacementForm",
    "RetireForm",
    "RoundForm",
    "SpanForm",
    "StationForm",
    "StrikeForm",
    "ThrottledSignIn",
    "new_key",
]
