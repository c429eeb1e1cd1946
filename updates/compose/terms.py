"""Telling the owner that the bill changed, though the work did not: discounts, payers, payments, one set of figures."""

from updates.compose.facts import ChangeFacts, Common, TermsFacts
from updates.compose.frame import coach, letter
from updates.compose.message import Message
from updates.compose.words import as_sentence, day, money

WAY_WORDS = {
    "cash": " in cash",
    "card": " by card",
    "transfer": " by bank transfer",
    "cheque": " by cheque",
    "other": "",
}
PAYER_WORDS = {"owner": "You pay", "insurer": "Your insurer pays", "shop": "We pay"}
WHOSE = {"owner": "from you", "insurer": "from your insurer"}
TO_WHOM = {"owner": "to you", "insurer": "to your insurer"}


def compose_terms(common: Common, facts: TermsFacts) -> Message:
    """Say what changed and why, what the owner now pays in all, what was paid, and what is left or comes back.

    Raises ValueError without any change.
    """
    if not facts.changes:
        raise ValueError("changes must hold at least one change of the bill, got none")
    total, due, refund = (money(usd, common) for usd in (facts.total_usd, facts.due_usd, facts.refund_usd))
    return letter(
        common,
        subject=_subject(common, facts),
        paragraphs=(
            _opening(common, facts),
            *(_change(common, change) for change in facts.changes),
            f"Your part {'' if _is_receipt(facts) or _is_refund(facts) else 'now '}comes to {total}, tax included.",
            _paid(common, facts),
            f"Your insurer pays {money(facts.insurer_usd, common)}." if facts.insurer_usd else "",
        ),
        rows=(
            ("Your total, tax included", total),
            *((("You have paid", money(facts.paid_usd, common)),) if facts.paid_usd else ()),
            ("We give back to you", refund) if facts.refund_usd else ("Left to pay", due),
        ),
    )


def _is_receipt(facts: TermsFacts) -> bool:
    """Nothing but money that came in."""
    return all(_has_moved(change) and not change.is_given_back for change in facts.changes)


def _is_refund(facts: TermsFacts) -> bool:
    """Nothing but money that went back."""
    return all(_has_moved(change) and change.is_given_back for change in facts.changes)


def _has_moved(change: ChangeFacts) -> bool:
    return change.kind == "payment" and not change.is_taken_back


def _subject(common: Common, facts: TermsFacts) -> str:
    if _is_receipt(facts):
        return f"We got a payment for {coach(common)}"
    if _is_refund(facts):
        return f"We gave money back for {coach(common)}"
    return f"The bill for {coach(common)} changed"


def _opening(common: Common, facts: TermsFacts) -> str:
    if _is_receipt(facts):
        return f"Thank you. We have noted what was paid for {coach(common)}."
    if _is_refund(facts):
        return f"We have noted what we gave back for {coach(common)}."
    return f"The work on {coach(common)} stays the same, but the bill changed."


def _change(common: Common, change: ChangeFacts) -> str:
    """One change with the shop's own reason or note."""
    said = {"discount": _discount, "payer": _payer, "payment": _payment}[change.kind](common, change)
    words = as_sentence(change.words)
    is_note = change.kind == "payment" and not change.is_taken_back
    why = f"{'Our note' if is_note else 'This is why'}: {words}" if words else ""
    return " ".join(part for part in (said, why) if part)


def _discount(common: Common, change: ChangeFacts) -> str:
    size = money(change.amount_usd, common) if change.amount_usd is not None else f"{change.pct:f} percent"
    about = f" on this: {change.about}" if change.about else ""
    return f"We {'take back' if change.is_taken_back else 'give you'} a discount of {_trimmed(size)}{about}."


def _payer(common: Common, change: ChangeFacts) -> str:
    if change.is_taken_back:
        return f"We take back what we told you about who pays for this: {change.about}."
    return f"{PAYER_WORDS[change.payer]} for this: {change.about}."


def _payment(common: Common, change: ChangeFacts) -> str:
    amount = money(change.amount_usd, common) if change.amount_usd is not None else ""
    if change.is_given_back:
        return _given_back(common, change, amount)
    source = WHOSE.get(change.payer, "")
    if change.is_taken_back:
        return f"We had noted {amount} {source}. That was not right, so we have taken it off again."
    on = f" on {day(change.paid_on, common)}" if change.paid_on else ""
    return f"We got {amount} {source}{WAY_WORDS[change.way]}{on}."


def _given_back(common: Common, change: ChangeFacts, amount: str) -> str:
    gave = f"gave {amount} back {TO_WHOM.get(change.payer, '')}"
    if change.is_taken_back:
        return f"We had noted that we {gave}. That was not right, so we have taken it off again."
    on = f" on {day(change.paid_on, common)}" if change.paid_on else ""
    return f"We {gave}{WAY_WORDS[change.way]}{on}."


def _trimmed(size: str) -> str:
    """A percentage without noughts behind the point; money as it is."""
    number, space, unit = size.partition(" percent")
    return f"{number.rstrip('0').rstrip('.') if '.' in number else number}{space}{unit}" if space else size


def _paid(common: Common, facts: TermsFacts) -> str:
    paid = money(facts.paid_usd, common)
    if facts.refund_usd:
        return f"You have paid {paid}, which is more than that. We owe you {money(facts.refund_usd, common)} back."
    return f"You have paid {paid} of it. That leaves {money(facts.due_usd, common)}." if facts.paid_usd else ""
