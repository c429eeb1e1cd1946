"""The kinds of journal entry that estimates writes."""

from jobs.journal import entry_kind

OFFER_MADE = entry_kind("offer_made", "Price and days worked out")
TERMS_CHANGED = entry_kind("terms_changed", "Terms changed")
PAYMENT_TAKEN = entry_kind("payment_taken", "Payment taken")
PAYMENT_TAKEN_BACK = entry_kind("payment_taken_back", "Payment taken back")
MONEY_GIVEN_BACK = entry_kind("money_given_back", "Money given back")
SCOPE_SETTLED = entry_kind("scope_settled", "Scope settled")
SCOPE_PLANNED = entry_kind("scope_planned", "Settled scope planned")
DATE_MOVED = entry_kind("date_moved", "Expected date moved")
