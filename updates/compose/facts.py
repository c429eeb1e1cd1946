"""What the words to an owner are composed from. Money in USD, days as dates, times aware."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal


@dataclass(frozen=True)
class Common:
    """Who writes to whom, about which coach. `coach_words` reads on after "in": "your 2014 trailer"."""

    owner_name: str
    coach_words: str
    shop_name: str
    shop_phone: str
    shop_email: str
    locale: str
    time_zone: str


@dataclass(frozen=True)
class FindingFacts:
    """A finding as the technician posted it; evidence that was not taken is None.

    `seen_words` is the technician's own note and is shown quoted. `units` is "us" or "metric".
    `tap_sound` and `look` are the codes of the finding's form, `verdict` that of the standing verdict.
    `limit_pct` is the shop's close-in limit for framing [% of dry mass].
    """

    kind: str
    seen_words: str
    place_words: str
    moisture_pct: float | None = None
    probe_depth_mm: float | None = None
    tap_sound: str | None = None
    look: str | None = None
    is_wet: bool | None = None
    units: str = "us"
    limit_pct: float = 19.0
    verdict: str = "open"


@dataclass(frozen=True)
class ChoiceFacts:
    """One remedy: what is done, what it costs in all, tax included, and the ready date with it.

    `keeps` and `warranty` are sentences, empty where the shop says nothing of them.
    """

    remedy_words: str
    total_usd: Decimal
    ready_with_on: date
    hours: float | None = None
    keeps: str = ""
    warranty: str = ""


@dataclass(frozen=True)
class OfferFacts:
    """The remedies to choose from, the recommended one first, and what a no means."""

    choices: tuple[ChoiceFacts, ...]
    ready_without_on: date
    answer_by_at: datetime
    is_unsafe_to_leave: bool


@dataclass(frozen=True)
class DecisionFacts:
    """An owner's answer to one finding, and what holds after it.

    `is_go_ahead`: nobody was asked, for it lies inside the limit the owner gave in advance; then `cost_usd` is what
    it adds, tax included. `apart_words`: why the total before and this price do not add up to the new one, if so.
    `undated_spots`: how many spots in the wood have no drying date, so that no ready date is sure.
    """

    is_approved: bool
    kind: str
    place_words: str
    remedy_words: str
    signed_by: str
    is_unsafe_to_leave: bool
    new_total_usd: Decimal
    expected_on: date | None
    promised_on: date | None
    is_go_ahead: bool = False
    cost_usd: Decimal = Decimal("0.00")
    apart_words: str = ""
    undated_spots: int = 0


@dataclass(frozen=True)
class ChangeFacts:
    """One change on the bill. `kind` is "discount", "payer" or "payment"; `payer` is "owner", "insurer" or "shop".

    `amount_usd` or `pct` of a discount; amount, day and way ("cash", "card", "transfer", "cheque" or "other") of a
    payment; `about` names the work that somebody else pays for. `words` are the shop's own: why, or a note.
    """

    kind: str
    words: str = ""
    payer: str = ""
    about: str = ""
    amount_usd: Decimal | None = None
    pct: Decimal | None = None
    paid_on: date | None = None
    way: str = "other"
    is_taken_back: bool = False
    is_given_back: bool = False  # money that went from the shop to the payer


@dataclass(frozen=True)
class TermsFacts:
    """What changed on the bill, oldest first, and what holds now [USD, tax included]."""

    changes: tuple[ChangeFacts, ...]
    total_usd: Decimal
    due_usd: Decimal
    paid_usd: Decimal
    insurer_usd: Decimal
    refund_usd: Decimal = Decimal("0.00")  # what was paid above the total, to be given back


@dataclass(frozen=True)
class BookingFacts:
    """The work agreed at booking, one text for each piece of it."""

    work_words: tuple[str, ...]
    total_usd: Decimal
    arrives_on: date
    promised_on: date | None


@dataclass(frozen=True)
class PromiseFacts:
    """A ready date given for the first time (`old_on` None) or changed, with the manager's reason."""

    old_on: date | None
    new_on: date
    reason_words: str


@dataclass(frozen=True)
class LeftFacts:
    """A finding the owner chose to leave as it is."""

    kind: str
    place_words: str
    is_unsafe_to_leave: bool


@dataclass(frozen=True)
class ReadyFacts:
    """A coach whose agreed work is done."""

    total_usd: Decimal
    left: tuple[LeftFacts, ...] = ()
    paid_usd: Decimal = Decimal("0.00")
    due_usd: Decimal = Decimal("0.00")


@dataclass(frozen=True)
class DryingFacts:
    """How a coach dries by the latest readings.

    `state` is "drying", "held" or "dry"; `held_by` why it is held: "rising", "stalled" or "near_equilibrium".
    `wettest_pct` is None where the wood is too wet for the meter. Moisture in % of dry mass.
    """

    state: str
    spots: int
    wettest_pct: float | None
    limit_pct: float
    even_on: date | None = None
    safe_on: date | None = None
    held_by: str = ""


@dataclass(frozen=True)
class CauseFacts:
    """One cause of a moved date: calendar days later, or below 0 sooner.

    `cause` is a cause of a stored change of date, "promise" for what the plan stood past the date when it was given,
    or "turn" for another order of the coaches. `kind` and `place_words` are of the finding it is about, if any.
    """

    cause: str
    days: int
    kind: str = ""
    place_words: str = ""


@dataclass(frozen=True)
class DelayFacts:
    """A coach expected after the day its owner was given. `is_past`: that day is over.

    `causes` add up to the days between, or there are none: then the owner is asked to call.
    """

    promised_on: date
    expected_on: date
    causes: tuple[CauseFacts, ...]
    is_past: bool = False
