"""What was found, what it means, what we propose, what it costs and what it does to the date."""

from collections.abc import Iterator, Sequence

from jobs.calc.leaving import left_words
from updates.compose.evidence import evidence_sentences, side_sentences, verdict_sentence
from updates.compose.facts import ChoiceFacts, Common, FindingFacts, OfferFacts
from updates.compose.frame import call_first, coach, letter
from updates.compose.kinds import KIND_WORDS, meaning_of
from updates.compose.message import Message
from updates.compose.words import as_sentence, capitalised, day, days_apart, hours, moment, money, one_line


def compose_finding(common: Common, findings_with_offers: Sequence[tuple[FindingFacts, OfferFacts]]) -> Message:
    """Ask the owner about one finding or several in one message.

    Raises ValueError without any finding.
    """
    if not findings_with_offers:
        raise ValueError("findings_with_offers must hold at least one finding, got none")
    many = len(findings_with_offers) > 1
    paragraphs: list[str] = [_opening(common, len(findings_with_offers))]
    rows: list[tuple[str, str]] = []
    for number, (finding, offer) in enumerate(findings_with_offers, start=1):
        mark = f"{number}. " if many else ""
        paragraphs += _block(common, mark, finding, offer)
        rows += _rows(common, mark, offer)
    paragraphs.append(_what_we_need(common, [offer for _, offer in findings_with_offers]))
    return letter(
        common,
        subject=_subject(common, findings_with_offers),
        paragraphs=tuple(paragraphs),
        rows=tuple(rows),
        action_words="See it and answer",
    )


def compose_changed_finding(
    common: Common, finding: FindingFacts, offer: OfferFacts, reason_words: Sequence[str]
) -> Message:
    """Ask the owner anew about a finding whose proposal the shop has changed, and say why."""
    kind = KIND_WORDS[finding.kind]
    reasons = " ".join(as_sentence(words) for words in reason_words)
    return letter(
        common,
        subject=f"Please answer: we changed our plan for the {kind} in {coach(common)}",
        paragraphs=(
            f"We wrote to you about the {kind} in {coach(common)}. We have changed our plan for it.",
            f"This is why: {reasons}" if reasons else "",
            "What you read here takes the place of what we sent you before.",
            *_block(common, "", finding, offer),
            _what_we_need(common, [offer]),
        ),
        rows=tuple(_rows(common, "", offer)),
        action_words="See it and answer",
    )


def _subject(common: Common, findings: Sequence[tuple[FindingFacts, OfferFacts]]) -> str:
    if len(findings) > 1:
        return f"Please answer: we found {len(findings)} things in {coach(common)}"
    return f"Please answer: we found {KIND_WORDS[findings[0][0].kind]} in {coach(common)}"


def _opening(common: Common, count: int) -> str:
    found = "something" if count == 1 else f"{count} things"
    return f"We have opened up {coach(common)} and found {found} that we could not see from outside."


def _block(common: Common, mark: str, finding: FindingFacts, offer: OfferFacts) -> tuple[str, ...]:
    """The paragraphs about one finding; marked with its number when there are several."""
    unsafe = f"This is not safe to leave as it is. If you do not want this work, {call_first(common)}."
    return (
        _what_we_found(mark, finding),
        verdict_sentence(finding),
        meaning_of(finding.kind),
        unsafe if offer.is_unsafe_to_leave else "",
        *_choices(common, offer),
        _if_left(common, finding, offer),
    )


def _what_we_found(mark: str, finding: FindingFacts) -> str:
    place = one_line(finding.place_words)
    note = one_line(finding.seen_words)
    sentences = (
        f"{mark}What we found: {KIND_WORDS[finding.kind]}.",
        f"Where it is: {place}.",
        *side_sentences(place),
        f"Our technician wrote: “{note}”{'' if note[-1] in '.!?' else '.'}" if note else "",
        *evidence_sentences(finding),
    )
    return " ".join(sentence for sentence in sentences if sentence)


def _choices(common: Common, offer: OfferFacts) -> Iterator[str]:
    """Each remedy with its price and date; numbered, the recommended one named, when there are several."""
    if len(offer.choices) == 1:
        yield f"What we want to do: {_choice(common, offer.choices[0], offer)}"
        return
    yield f"You can choose from {len(offer.choices)} ways to put this right. We would do number 1."
    for number, choice in enumerate(offer.choices, start=1):
        yield f"Number {number}: {_choice(common, choice, offer)}"


def _choice(common: Common, choice: ChoiceFacts, offer: OfferFacts) -> str:
    parts = (
        as_sentence(choice.remedy_words),
        f"This takes {hours(choice.hours)} of work." if choice.hours else "",
        as_sentence(choice.keeps),
        as_sentence(choice.warranty),
        f"It costs {money(choice.total_usd, common)} in all, tax included.",
        _dates(common, choice, offer),
    )
    return " ".join(part for part in parts if part)


def _dates(common: Common, choice: ChoiceFacts, offer: OfferFacts) -> str:
    with_it = day(choice.ready_with_on, common)
    if choice.ready_with_on == offer.ready_without_on:
        return f"This does not change the ready date. If all goes well, your coach is ready on {with_it}."
    apart = days_apart(offer.ready_without_on, choice.ready_with_on)
    return f"If you say yes and all goes well, we expect your coach to be ready on {with_it}. So a yes means {apart}."


def _if_left(common: Common, finding: FindingFacts, offer: OfferFacts) -> str:
    without_it = day(offer.ready_without_on, common)
    return f"If you say no, we leave it. {left_words(finding.kind)} If all goes well, it is then ready on {without_it}."


def _what_we_need(common: Common, offers: Sequence[OfferFacts]) -> str:
    by = moment(min(offer.answer_by_at for offer in offers), common)
    if len(offers) == 1:
        return (
            f"What we need from you: a yes or a no by {by}. We start none of this work until you answer. "
            "If your answer comes later, the ready date may move."
        )
    return (
        f"What we need from you: a yes or a no to each one by {by}. You can say yes to one and no to the next. "
        "Each price and date above is for that one answer. Once we have all of them, we will tell you the new total "
        "and date. We start none of this work until you answer. If an answer comes later, the ready date may move."
    )


def _rows(common: Common, mark: str, offer: OfferFacts) -> tuple[tuple[str, str], ...]:
    return (
        *(
            row
            for number, choice in enumerate(offer.choices, start=1)
            for row in _choice_rows(common, mark, number, choice, offer)
        ),
        (f"{mark}Ready if you say no", day(offer.ready_without_on, common)),
        (f"{mark}Please answer by", moment(offer.answer_by_at, common)),
    )


def _choice_rows(
    common: Common, mark: str, number: int, choice: ChoiceFacts, offer: OfferFacts
) -> tuple[tuple[str, str], ...]:
    which = f"Number {number}: " if len(offer.choices) > 1 else ""
    apart = capitalised(days_apart(offer.ready_without_on, choice.ready_with_on))
    return (
        (f"{mark}{which}Cost in all, tax included", money(choice.total_usd, common)),
        (f"{mark}{which}Ready if you say yes", day(choice.ready_with_on, common)),
        (f"{mark}{which}What a yes does to the date", apart),
    )
