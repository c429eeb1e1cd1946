"""The words to the owner: plain over every combination, complete, and safe against hostile text."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from functools import cache
from html.parser import HTMLParser
from itertools import product

import pytest
import textstat
from django.core.mail import EmailMessage
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.faces import Face, Place, describe_place, faces_of
from jobs.calc.leaving import left_words
from jobs.calc.moisture.verdict import Verdict
from updates.compose.booking import compose_booking
from updates.compose.decision import compose_decision
from updates.compose.drying import HELD_WORDS, compose_drying
from updates.compose.evidence import LOOK_WORDS, SIDE_WORDS, TAP_WORDS, VERDICT_WORDS
from updates.compose.facts import (
    BookingFacts,
    ChangeFacts,
    ChoiceFacts,
    Common,
    DecisionFacts,
    DryingFacts,
    FindingFacts,
    LeftFacts,
    OfferFacts,
    PromiseFacts,
    ReadyFacts,
    TermsFacts,
)
from updates.compose.finding import compose_changed_finding, compose_finding
from updates.compose.kinds import KIND_WORDS, caution_of, meaning_of
from updates.compose.mail import render_mail
from updates.compose.promise import compose_promise
from updates.compose.ready import compose_ready
from updates.compose.terms import PAYER_WORDS, WAY_WORDS, WHOSE, compose_terms
from updates.compose.words import as_sentence, day, days_apart, depth, hours, moment, money, one_line

HARDEST_GRADE = 8.0
# Plain-language guidelines of the US government: sentences of 15 to 20 words on average, never over 40.
LONGEST_SENTENCE_WORDS, LONGEST_AVERAGE_WORDS = 40, 20
NOT_OUR_READERS_WORDS = re.compile(
    r"\b(delaminat\w*|substrate|membrane|adhesi\w*|frass|moisture content|hygrometer|equilibrium|close-in|close in|"
    r"teardown|scope|revision|remed\w*|operation|hold point|verdict|forecast|overrun|P50|P80|MC|EMC|RH)\b",
    re.IGNORECASE,
)
UNFILLED = re.compile(r"[{}]|%\(|%s|\bNone\b|\bTrue\b|\bFalse\b|Decimal|datetime")

COMMON = Common(
    owner_name="Pat Rivera",
    coach_words="your 2014 trailer",
    shop_name="Larkfield Coach Repair",
    shop_phone="555 0100",
    shop_email="desk@shop.example",
    locale="en_US",
    time_zone="America/Chicago",
)
NOTE = "Punky all along the sill, delaminated substrate"
REMEDY = "Cut out the soft wood and fit new"
PRICE = Decimal("1240.50")
WITHOUT_ON = date(2026, 12, 8)
ANSWER_AT = datetime(2026, 12, 1, 22, 0, tzinfo=UTC)
LINK = "https://shop.example/o/abc_DEF-123/"

CHANGED = ("we found a way that keeps more of the wall", "the first price was for the wrong size")

MOISTURES = (None, 12.0, 28.4)
PROBES = ((None, "us"), (0.0, "us"), (14.0, "us"), (14.0, "metric"))
DAYS = (0, 3, -2)
SIZES = {size.face: size for size in faces_of(length_mm=7600, width_mm=2400, height_mm=2100)}


def finding(**changes):
    facts = {
        "kind": "rotten_framing",
        "seen_words": NOTE,
        "place_words": "the roof, near the front on the road side",
    }
    return FindingFacts(**facts | changes)


def choice(days=3, **changes):
    facts = {
        "remedy_words": REMEDY,
        "total_usd": PRICE,
        "ready_with_on": WITHOUT_ON + timedelta(days=days),
        "hours": 6.5,
    }
    return ChoiceFacts(**facts | changes)


def offer(days=3, is_unsafe=False, **changes):
    facts = {
        "choices": (choice(days),),
        "ready_without_on": WITHOUT_ON,
        "answer_by_at": ANSWER_AT,
        "is_unsafe_to_leave": is_unsafe,
    }
    return OfferFacts(**facts | changes)


def decision(**changes):
    facts = {
        "is_approved": True,
        "kind": "mould",
        "place_words": "the floor, near the rear",
        "remedy_words": REMEDY,
        "signed_by": "Pat Rivera",
        "is_unsafe_to_leave": False,
        "new_total_usd": PRICE,
        "expected_on": WITHOUT_ON,
        "promised_on": WITHOUT_ON,
    }
    return DecisionFacts(**facts | changes)


def all_findings():
    """Every kind with every combination of evidence."""
    combinations = product(KIND_WORDS, MOISTURES, PROBES, (None, *TAP_WORDS), (None, *LOOK_WORDS), (None, True, False))
    for kind, moisture_pct, (probe_depth_mm, units), tap_sound, look, is_wet in combinations:
        yield finding(
            kind=kind,
            moisture_pct=moisture_pct,
            probe_depth_mm=probe_depth_mm,
            units=units,
            tap_sound=tap_sound,
            look=look,
            is_wet=is_wet,
        )


def all_places():
    """Every way describe_place has of saying where something is."""
    thirds = (0.1, 0.45, 0.8)
    for face, along, across in product(Face, thirds, thirds):
        size = SIZES[face]
        spot = Place(face, along * size.width_mm, across * size.height_mm, 0.1 * size.width_mm, 0.1 * size.height_mm)
        yield describe_place(spot, size)


def other_family_messages():
    """Every combination of the other families."""
    late, none = WITHOUT_ON + timedelta(days=3), None
    for approved, kind, unsafe, expected, promised in product(
        (True, False), KIND_WORDS, (True, False), (none, WITHOUT_ON, late), (none, WITHOUT_ON)
    ):
        facts = decision(
            is_approved=approved, kind=kind, is_unsafe_to_leave=unsafe, expected_on=expected, promised_on=promised
        )
        yield compose_decision(COMMON, facts)
    for kind, expected, promised in product(KIND_WORDS, (none, WITHOUT_ON, late), (none, WITHOUT_ON)):
        facts = decision(kind=kind, expected_on=expected, promised_on=promised, is_go_ahead=True, cost_usd=PRICE)
        yield compose_decision(COMMON, facts)
        yield compose_decision(COMMON, replace(facts, undated_spots=2))
    for works, promised in product(((REMEDY,), (REMEDY, "Fit new seals")), (none, late)):
        yield compose_booking(COMMON, BookingFacts(works, PRICE, WITHOUT_ON, promised))
    for old, reason in product((none, WITHOUT_ON, late, late + timedelta(days=1)), ("", "the wood is not dry yet")):
        yield compose_promise(COMMON, PromiseFacts(old, late, reason))
    yield compose_ready(COMMON, ReadyFacts(PRICE))
    for due in (Decimal(0), PRICE):
        yield compose_ready(COMMON, ReadyFacts(PRICE, paid_usd=PRICE, due_usd=due))
    for kind, unsafe in product(KIND_WORDS, (True, False)):
        yield compose_ready(COMMON, ReadyFacts(PRICE, (LeftFacts(kind, "the floor, near the rear", unsafe),) * 2))
    yield from drying_messages()
    for kind, days, unsafe, reasons in product(KIND_WORDS, DAYS, (True, False), ((), CHANGED[:1], CHANGED)):
        yield compose_changed_finding(COMMON, finding(kind=kind, moisture_pct=28.4), offer(days, unsafe), reasons)
    yield from bill_messages()


def bill_messages():
    """Every change of the bill alone, and all of them in one message."""
    changes = [each for words in ("", "you came back to us") for each in bill_changes(words)]
    for told, paid, insurer in product(
        [*((each,) for each in changes), changes], (Decimal(0), PRICE), (Decimal(0), PRICE)
    ):
        yield compose_terms(COMMON, TermsFacts(tuple(told), PRICE, PRICE, paid, insurer))
        yield compose_terms(COMMON, TermsFacts(tuple(told), PRICE, Decimal(0), 2 * PRICE, insurer, refund_usd=PRICE))


def bill_changes(words):
    about = "wet insulation (the roof, near the front on the road side)"
    for is_taken_back in (False, True):
        yield ChangeFacts("discount", words, amount_usd=PRICE, is_taken_back=is_taken_back)
        yield ChangeFacts("discount", words, about=about, pct=Decimal("12.50"), is_taken_back=is_taken_back)
        for payer in PAYER_WORDS:
            yield ChangeFacts("payer", words, payer, about, is_taken_back=is_taken_back)
        for payer, way in product(WHOSE, WAY_WORDS):
            paid = {"amount_usd": PRICE, "paid_on": WITHOUT_ON, "way": way}
            yield ChangeFacts("payment", words, payer, is_taken_back=is_taken_back, **paid)
            yield ChangeFacts("payment", words, payer, is_taken_back=is_taken_back, is_given_back=True, **paid)


def drying_messages():
    """Every way a coach can dry, or not."""
    for spots, wettest_pct in product((1, 7), (None, 12.4, 28.4)):
        yield compose_drying(COMMON, DryingFacts("dry", spots, wettest_pct, 19.0))
        for held_by in HELD_WORDS:
            yield compose_drying(COMMON, DryingFacts("held", spots, wettest_pct, 19.0, held_by=held_by))
        for even_on, safe_on in product((None, WITHOUT_ON), repeat=2):
            yield compose_drying(COMMON, DryingFacts("drying", spots, wettest_pct, 19.0, even_on, safe_on))


def some_messages():
    """One message or a few of each family, for checks that need not see every combination."""
    one = (finding(moisture_pct=28.4, probe_depth_mm=14.0, tap_sound="hollow", look="stained", is_wet=True), offer())
    yield compose_finding(COMMON, [one])
    yield compose_finding(COMMON, [one, (finding(kind="failed_seal"), offer(days=0, is_unsafe=True))])
    yield from other_family_messages()


# --- how hard it reads


OURS = {
    moment(ANSWER_AT, COMMON): "that time",
    **{day(WITHOUT_ON + timedelta(days=days), COMMON): "that day" for days in range(-2, 6)},
    money(PRICE, COMMON): "this sum",
    COMMON.shop_phone: "this line",
    f" Our technician wrote: “{NOTE}”.": "",
}


def neutral(text):
    """Without what no rule of ours can make plain: names, money, dates and the technician's own note."""
    for given_words, plain_words in OURS.items():
        text = text.replace(given_words, plain_words)
    return text


@cache
def counts(paragraph):
    """Sentences, words and syllables of a paragraph; they add up over paragraphs."""
    text = neutral(paragraph)
    return textstat.sentence_count(text), textstat.lexicon_count(text), textstat.syllable_count(text)


def added_counts(paragraphs):
    return tuple(map(sum, zip(*map(counts, paragraphs), strict=True)))


def grade_of(sentences, words, syllables):
    return 0.39 * words / sentences + 11.8 * syllables / words - 15.59


def grade(message):
    return grade_of(*added_counts(message.paragraphs))


def test_adding_up_paragraphs_grades_as_the_judge_grades_the_whole():
    messages = list(some_messages())

    apart = max(
        abs(grade(message) - textstat.flesch_kincaid_grade(neutral("\n".join(message.paragraphs))))
        for message in messages
    )

    assert apart < 1e-9, f"{len(messages)} messages, at most {apart} apart"


@pytest.mark.timeout(600)
def test_every_message_about_one_finding_reads_at_grade_eight_or_lower():
    worst, worst_message, count = -99.0, None, 0

    for facts, days, unsafe in product(all_findings(), DAYS, (False, True)):
        message = compose_finding(COMMON, [(facts, offer(days, unsafe))])
        count += 1
        if (hard := grade(message)) > worst:
            worst, worst_message = hard, message

    said = f"{count} messages, worst grade {worst:.2f}: {worst_message}"
    assert count == 10 * 3 * 4 * 5 * 7 * 3 * 3 * 2, said
    assert worst <= HARDEST_GRADE, said


def test_every_verdict_on_every_kind_reads_at_grade_eight_or_lower():
    worst = max(
        grade(compose_finding(COMMON, [(finding(kind=kind, verdict=verdict, moisture_pct=28.4), offer())]))
        for kind, verdict in product(KIND_WORDS, VERDICT_WORDS)
    )

    assert worst <= HARDEST_GRADE, f"worst grade {worst:.2f}"


@pytest.mark.timeout(600)
def test_any_number_of_findings_in_one_message_reads_at_grade_eight_or_lower():
    """Counts add up, so a mix is never harder than the longest sentences and longest words of its parts together."""
    longest, hardest, count = 0.0, 0.0, 0
    parts = [several_frame(number) for number in (2, 12)]
    # The evidence stands in one paragraph, so days and the danger need varying only once for each finding.
    parts += (own_block(facts, offer(days, unsafe)) for facts in all_findings() for days, unsafe in ((3, False),))
    parts += (
        own_block(finding(kind=kind, verdict=verdict), offer()) for kind, verdict in product(KIND_WORDS, VERDICT_WORDS)
    )
    parts += (own_block(finding(kind=kind), offer(d, u)) for kind, d, u in product(KIND_WORDS, DAYS, (False, True)))

    for sentences, words, syllables in map(added_counts, parts):
        count += 1
        longest, hardest = max(longest, words / sentences), max(hardest, syllables / words)

    bound = 0.39 * longest + 11.8 * hardest - 15.59
    assert bound <= HARDEST_GRADE, f"{count} parts, no mix of them is above grade {bound:.2f}"


def own_block(facts, terms):
    """The numbered paragraphs about one of several findings, without those that frame them."""
    both = compose_finding(COMMON, [(facts, terms)] * 2).paragraphs[1:-1]
    return both[: len(both) // 2]


def several_frame(number):
    """The paragraphs around several findings."""
    paragraphs = compose_finding(COMMON, [(finding(), offer())] * number).paragraphs
    return (paragraphs[0], paragraphs[-1])


KEEPS, WARRANTY = "The first skin and the inner panel stay.", "We stand behind the bond for two years."


def test_any_number_of_ways_to_choose_from_reads_at_grade_eight_or_lower():
    ways = (choice(3, keeps=KEEPS, warranty=WARRANTY), choice(0), choice(-2, keeps=KEEPS), choice(5, warranty=WARRANTY))
    worst = max(
        grade(compose_finding(COMMON, [(finding(kind=kind), offer(choices=ways[:count]))]))
        for kind, count in product(KIND_WORDS, (1, 2, 3, 4))
    )

    assert worst <= HARDEST_GRADE, f"worst grade {worst:.2f}"


def test_several_ways_are_numbered_with_price_date_and_what_stays():
    ways = (choice(3, keeps=KEEPS, warranty=WARRANTY), choice(0, remedy_words="Fit a new one", total_usd=Decimal(2000)))

    message = compose_finding(COMMON, [(finding(), offer(choices=ways))])

    said = " ".join(message.paragraphs)
    assert "You can choose from 2 ways to put this right. We would do number 1." in said
    assert f"Number 1: Cut out the soft wood and fit new. This takes about 6 and a half hours of work. {KEEPS}" in said
    assert "Number 2: Fit a new one." in said
    rows = dict(message.rows)
    assert rows["Number 1: Cost in all, tax included"] == "$1,240.50"
    assert rows["Number 2: Cost in all, tax included"] == "$2,000.00"
    assert rows["Number 2: What a yes does to the date"] == "No change"


def test_a_changed_proposal_says_so_says_why_and_asks_anew():
    message = compose_changed_finding(COMMON, finding(), offer(), CHANGED)

    said = " ".join(message.paragraphs)
    assert message.subject == "Please answer: we changed our plan for the rotten framing in your 2014 trailer"
    assert "We found a way that keeps more of the wall. The first price was for the wrong size." in said
    assert "takes the place of what we sent you before" in said
    assert "It costs $1,240.50 in all, tax included." in said
    assert "a yes or a no by" in said
    assert message.action_words == "See it and answer"


def test_two_findings_of_any_kinds_read_at_grade_eight_or_lower():
    count, worst = 0, -99.0

    for first, second, days, unsafe in product(KIND_WORDS, KIND_WORDS, DAYS, (False, True)):
        pair = [(finding(kind=first), offer(days, unsafe)), (finding(kind=second), offer(-days, not unsafe))]
        worst, count = max(worst, grade(compose_finding(COMMON, pair))), count + 1

    assert worst <= HARDEST_GRADE, f"{count} messages, worst grade {worst:.2f}"


def test_every_place_reads_at_grade_eight_or_lower():
    places = sorted(set(all_places()))

    worst = max(
        grade(compose_finding(COMMON, [(finding(kind=kind, place_words=place), offer())]))
        for kind, place in product(KIND_WORDS, places)
    )

    assert worst <= HARDEST_GRADE, f"{len(places)} places, worst grade {worst:.2f}"


def test_every_message_of_the_other_families_reads_at_grade_eight_or_lower():
    messages = list(other_family_messages())

    worst = max(messages, key=grade)

    assert grade(worst) <= HARDEST_GRADE, f"{len(messages)} messages, worst grade {grade(worst):.2f}: {worst}"


def test_every_meaning_alone_reads_at_grade_eight_or_lower():
    grades = {kind: textstat.flesch_kincaid_grade(meaning_of(kind)) for kind in KIND_WORDS}

    assert max(grades.values()) <= HARDEST_GRADE, grades


def test_sentences_keep_to_the_published_lengths():
    for message in some_messages():
        sentences = [part for text in map(neutral, message.paragraphs) for part in re.split(r"[.!?]", text) if part]
        lengths = [len(sentence.split()) for sentence in sentences]

        assert max(lengths) <= LONGEST_SENTENCE_WORDS, message
        assert sum(lengths) / len(lengths) <= LONGEST_AVERAGE_WORDS, message


# --- complete and clean


def texts_of(message):
    rows = (text for row in message.rows for text in row)
    return (message.subject, message.greeting, *message.paragraphs, *rows, message.action_words or "", *message.closing)


def test_no_text_has_gaps_line_breaks_or_unfilled_places():
    for message in some_messages():
        for text in texts_of(message):
            assert text == text.strip(), message
            assert text, message
            assert "  " not in text, message
            assert text.splitlines() == [text], message
            assert not UNFILLED.search(text), text
            assert ".." not in text, text


def test_our_own_words_have_no_jargon():
    own = [neutral(text) for message in some_messages() for text in texts_of(message)]
    own += [*TAP_WORDS.values(), *LOOK_WORDS.values(), *SIDE_WORDS.values()]
    own += [meaning_of(kind) for kind in KIND_WORDS] + [left_words(kind) for kind in KIND_WORDS]
    own += [*VERDICT_WORDS.values(), *HELD_WORDS.values()]

    assert [text for text in own if NOT_OUR_READERS_WORDS.search(text)] == []


def test_the_words_cover_exactly_what_a_technician_can_post():
    from jobs.models.finding import Finding, FindingKind

    assert list(KIND_WORDS) == FindingKind.values
    assert set(TAP_WORDS) == set(Finding.TapSound.values)
    assert set(LOOK_WORDS) == set(Finding.Look.values)
    assert set(VERDICT_WORDS) == set(Verdict)


def test_drying_says_how_wet_when_dry_and_what_holds_it():
    drying = compose_drying(COMMON, DryingFacts("drying", 5, 28.4, 19.0, WITHOUT_ON, WITHOUT_ON + timedelta(days=3)))
    held = compose_drying(COMMON, DryingFacts("held", 5, None, 16.0, held_by="rising"))
    dry = compose_drying(COMMON, DryingFacts("dry", 5, 14.0, 19.0))

    said = " ".join(drying.paragraphs)
    assert "at 5 spots" in said
    assert "28 percent" in said
    assert "19 percent or less" in said
    assert day(WITHOUT_ON, COMMON) in said
    assert day(WITHOUT_ON + timedelta(days=3), COMMON) in said
    assert "too wet for our meter" in " ".join(held.paragraphs)
    assert "leak" in " ".join(held.paragraphs)
    assert held.rows == (("Spots we read", "5"),)
    assert "Each spot we read is now dry enough" in " ".join(dry.paragraphs)
    assert [message.subject for message in (drying, held, dry)] == [
        "Your 2014 trailer is drying",
        "Your 2014 trailer is not drying as it should",
        "Your 2014 trailer is dry",
    ]


def test_what_is_not_known_yet_is_not_said():
    said = " ".join(compose_finding(COMMON, [(finding(), offer())]).paragraphs)

    assert "What we know so far" not in said


@pytest.mark.parametrize(
    ("kind", "must_say"),
    [
        ("mould", "do not touch it or clean it yourself"),
        ("exposed_wire", "until a licensed electrician says it is safe"),
        ("rotten_framing", "do not stand, climb or lean there"),
        ("loose_decking", "do not walk or climb there"),
        ("failed_seal", "do not climb up"),
        ("loose_skin", "do not tow or drive"),
        ("corrosion", "do not tow or drive"),
    ],
)
def test_a_kind_that_can_hurt_carries_its_caution_when_asked_and_when_declined(kind, must_say):
    asked = compose_finding(COMMON, [(finding(kind=kind), offer())])
    declined = compose_decision(COMMON, decision(kind=kind, is_approved=False))
    left = compose_ready(COMMON, ReadyFacts(PRICE, (LeftFacts(kind, "the floor", False),)))

    assert must_say in caution_of(kind)
    for message in (asked, declined, left):
        assert must_say in " ".join(message.paragraphs)


@pytest.mark.parametrize("kind", ["loose_skin", "corrosion"])
def test_a_coach_that_must_not_go_on_the_road_has_a_way_out_in_plain_words(kind):
    (left,) = [
        each
        for each in compose_ready(COMMON, ReadyFacts(PRICE, (LeftFacts(kind, "the floor", False),))).paragraphs
        if "leave this as it is" in each
    ]

    assert "Call us before you tow or drive it" in left
    assert textstat.flesch_kincaid_grade(caution_of(kind)) <= 8


def test_an_unknown_kind_is_refused():
    with pytest.raises(ValueError, match="'rust'"):
        meaning_of("rust")


# --- asking


def test_the_question_says_what_where_why_how_much_and_until_when():
    message = compose_finding(COMMON, [(finding(moisture_pct=28.4, probe_depth_mm=12.7), offer())])

    said = " ".join(message.paragraphs)
    for words in (
        "What we found: rotten framing.",
        "Where it is: the roof, near the front on the road side.",
        f"Our technician wrote: “{NOTE}”.",
        "Our meter read 28 percent water there.",
        "Our probe sank in 1/2 inch.",
        meaning_of("rotten_framing"),
        "What we want to do: Cut out the soft wood and fit new. This takes about 6 and a half hours of work.",
        "It costs $1,240.50 in all, tax included.",
        "If you say yes and all goes well, we expect your coach to be ready on Friday, December 11, 2026.",
        "So a yes means 3 days later.",
        "If you say no, we leave it. The rot goes on as long as it gets damp, and the part grows weaker.",
        "If all goes well, it is then ready on Tuesday, December 8, 2026.",
        "a yes or a no by Tuesday, December 1, 2026 at 4:00 PM CST.",
        "We start none of this work until you answer.",
    ):
        assert words in said
    assert message.subject == "Please answer: we found rotten framing in your 2014 trailer"
    assert message.action_words == "See it and answer"


def test_evidence_that_was_not_taken_is_not_spoken_of():
    said = " ".join(compose_finding(COMMON, [(finding(), offer())]).paragraphs)

    assert not re.search(r"meter|probe|tapped|It looks|It is stained|when we found it", said)


def test_work_that_does_not_move_the_date_says_so():
    message = compose_finding(COMMON, [(finding(), offer(days=0))])

    assert "This does not change the ready date." in " ".join(message.paragraphs)
    assert ("What a yes does to the date", "No change") in message.rows


def test_work_that_brings_the_date_forward_says_so():
    message = compose_finding(COMMON, [(finding(), offer(days=-2))])

    assert "So a yes means 2 days sooner." in " ".join(message.paragraphs)


@pytest.mark.parametrize(
    ("seen", "said"),
    [
        ("Soft under the awl", "wrote: “Soft under the awl”. "),
        ("Soft under the awl.", "wrote: “Soft under the awl.” "),
        ("Soft!", "wrote: “Soft!” "),
    ],
)
def test_a_note_ends_with_one_stop(seen, said):
    message = compose_finding(COMMON, [(finding(seen_words=seen, moisture_pct=28.4), offer())])

    assert any(said in paragraph for paragraph in message.paragraphs)


def test_money_to_give_back_is_named_and_nothing_is_left_to_pay():
    change = ChangeFacts("discount", amount_usd=Decimal(200))
    facts = TermsFacts((change,), Decimal(300), Decimal(0), Decimal(500), Decimal(0), refund_usd=Decimal(200))

    message = compose_terms(COMMON, facts)

    assert "You have paid $500.00, which is more than that. We owe you $200.00 back." in message.paragraphs
    assert dict(message.rows) == {
        "Your total, tax included": "$300.00",
        "You have paid": "$500.00",
        "We give back to you": "$200.00",
    }


def test_a_payment_alone_is_thanked_for_and_said_with_day_and_way():
    paid = ChangeFacts("payment", "Receipt 12", "owner", amount_usd=PRICE, paid_on=WITHOUT_ON, way="card")

    message = compose_terms(COMMON, TermsFacts((paid,), 2 * PRICE, PRICE, PRICE, Decimal(0)))

    said = " ".join(message.paragraphs)
    assert message.subject == "We got a payment for your 2014 trailer"
    assert "We got $1,240.50 from you by card on Tuesday, December 8, 2026. Our note: Receipt 12." in said
    assert "You have paid $1,240.50 of it. That leaves $1,240.50." in said


def test_money_given_back_alone_is_said_with_day_and_way():
    given = ChangeFacts("payment", "", "owner", amount_usd=PRICE, paid_on=WITHOUT_ON, way="card", is_given_back=True)

    message = compose_terms(COMMON, TermsFacts((given,), 2 * PRICE, Decimal(0), 2 * PRICE, Decimal(0)))

    said = " ".join(message.paragraphs)
    assert message.subject == "We gave money back for your 2014 trailer"
    assert "We gave $1,240.50 back to you by card on Tuesday, December 8, 2026." in said
    assert "the bill changed" not in said


def test_changes_told_together_stand_in_order_with_one_set_of_figures():
    changes = (
        ChangeFacts("discount", "for the wait", pct=Decimal("10.00")),
        ChangeFacts("payer", "it is a storm", "insurer", "mould (the roof)"),
        ChangeFacts("payment", "typed twice", "owner", amount_usd=PRICE, is_taken_back=True),
    )

    message = compose_terms(COMMON, TermsFacts(changes, PRICE, PRICE, Decimal(0), PRICE))

    assert message.subject == "The bill for your 2014 trailer changed"
    assert message.paragraphs[1:4] == (
        "We give you a discount of 10 percent. This is why: For the wait.",
        "Your insurer pays for this: mould (the roof). This is why: It is a storm.",
        "We had noted $1,240.50 from you. That was not right, so we have taken it off again. This is why: Typed twice.",
    )
    assert sum("comes to" in paragraph for paragraph in message.paragraphs) == 1


def test_a_bill_on_which_nothing_changed_is_refused():
    with pytest.raises(ValueError, match="at least one change"):
        compose_terms(COMMON, TermsFacts((), PRICE, PRICE, Decimal(0), Decimal(0)))


def test_ready_says_what_was_paid_and_what_is_left():
    part = compose_ready(COMMON, ReadyFacts(2 * PRICE, paid_usd=PRICE, due_usd=PRICE))
    whole = compose_ready(COMMON, ReadyFacts(PRICE, paid_usd=PRICE))

    assert "You have paid $1,240.50. That leaves $1,240.50." in part.paragraphs
    assert "You have paid $1,240.50. Thank you." in whole.paragraphs
    assert dict(whole.rows)["Left to pay"] == "$0.00"


@pytest.mark.parametrize("unsafe", [True, False])
def test_only_what_is_unsafe_to_leave_asks_for_a_call(unsafe):
    said = " ".join(compose_finding(COMMON, [(finding(), offer(is_unsafe=unsafe))]).paragraphs)

    assert ("This is not safe to leave as it is." in said) is unsafe
    assert ("please call us at 555 0100 before you use the coach" in said) is unsafe


def test_several_findings_each_keep_their_own_price_and_date_and_the_first_deadline_rules():
    later = offer(choices=(choice(0, total_usd=Decimal(90)),), answer_by_at=ANSWER_AT + timedelta(days=1))

    message = compose_finding(COMMON, [(finding(kind="mould"), later), (finding(), offer())])

    rows = dict(message.rows)
    assert message.subject == "Please answer: we found 2 things in your 2014 trailer"
    assert rows["1. Cost in all, tax included"] == "$90.00"
    assert rows["2. Cost in all, tax included"] == "$1,240.50"
    assert "a yes or a no to each one by Tuesday, December 1, 2026 at 4:00 PM CST." in message.paragraphs[-1]


def test_asking_about_nothing_is_refused():
    with pytest.raises(ValueError, match="at least one"):
        compose_finding(COMMON, [])


# --- the other families


def test_a_declined_danger_is_named_again_and_costs_nothing():
    message = compose_decision(COMMON, decision(is_approved=False, kind="exposed_wire", is_unsafe_to_leave=True))

    said = " ".join(message.paragraphs)
    assert message.rows[0] == ("Your answer", "No")
    assert "It is not safe to leave, so please call us at 555 0100 before you use the coach." in said
    assert "Your answer adds no cost." in said


def test_a_date_later_than_promised_is_not_slipped_in_as_a_new_promise():
    message = compose_decision(COMMON, decision(expected_on=WITHOUT_ON + timedelta(days=1)))

    said = " ".join(message.paragraphs)
    assert "That is 1 day later than we promised: Tuesday, December 8, 2026." in said
    assert ("We promised", "Tuesday, December 8, 2026") in message.rows


@pytest.mark.parametrize("late_days", [0, 3])
def test_no_promise_is_said_to_hold_or_fail_where_a_spot_has_no_drying_date(late_days):
    facts = decision(undated_spots=1, expected_on=WITHOUT_ON + timedelta(days=late_days))

    message = compose_decision(COMMON, facts)

    said = " ".join(message.paragraphs)
    assert "But 1 spot in the wood has no drying date yet, so this date is not sure." in said
    assert "We promised you Tuesday, December 8, 2026. If that date has to change, we will tell you why." in said
    assert "still holds" not in said
    assert "later than" not in said
    assert "By our plan, not sure yet" in dict(message.rows)


def test_without_a_promise_the_owner_hears_when_more_is_known():
    message = compose_decision(COMMON, decision(undated_spots=2, promised_on=None))

    said = " ".join(message.paragraphs)
    assert "But 2 spots in the wood have no drying date yet, so this date is not sure. We will write to you" in said


def test_a_changed_promise_gives_both_dates_and_the_reason():
    facts = PromiseFacts(WITHOUT_ON, WITHOUT_ON + timedelta(days=2), "the wood is not dry yet")

    message = compose_promise(COMMON, facts)

    said = " ".join(message.paragraphs)
    assert "We promised you Tuesday, December 8, 2026. The new date is Thursday, December 10, 2026." in said
    assert "The reason: The wood is not dry yet." in said
    assert "We are sorry" in said


def test_an_earlier_promise_is_no_reason_to_be_sorry():
    message = compose_promise(COMMON, PromiseFacts(WITHOUT_ON, WITHOUT_ON - timedelta(days=2), "It dried fast."))

    assert "2 days sooner" in " ".join(message.paragraphs)
    assert "sorry" not in " ".join(message.paragraphs)


def test_a_booking_lists_each_piece_of_work_and_warns_of_gas():
    message = compose_booking(COMMON, BookingFacts(("New roof edge", "New seals."), PRICE, WITHOUT_ON, None))

    assert message.rows[:2] == (("Work 1", "New roof edge."), ("Work 2", "New seals."))
    assert "turn it off at the tank" in " ".join(message.paragraphs)


def test_a_booking_without_work_is_refused():
    with pytest.raises(ValueError, match="at least one"):
        compose_booking(COMMON, BookingFacts((), PRICE, WITHOUT_ON, None))


# --- money, days and measures


@pytest.mark.parametrize(
    ("locale", "sum_words", "day_words", "moment_words"),
    [
        ("en_US", "$1,240.50", "Tuesday, December 8, 2026", "Tuesday, December 1, 2026 at 4:00 PM CST"),
        ("en_CA", "US$1,240.50", "Tuesday, December 8, 2026", "Tuesday, December 1, 2026 at 4:00 p.m. CST"),
        ("en_GB", "US$1,240.50", "Tuesday 8 December 2026", "Tuesday 1 December 2026 at 16:00 Central Standard Time"),
    ],
)
def test_money_and_days_are_written_as_in_the_owners_locale(locale, sum_words, day_words, moment_words):
    common = replace(COMMON, locale=locale)

    assert money(PRICE, common) == sum_words
    assert day(WITHOUT_ON, common).replace(",", "") == day_words.replace(",", "")
    assert moment(ANSWER_AT, common).replace(",", "") == moment_words.replace(",", "")


def test_the_two_half_past_ones_of_the_night_the_clocks_go_back_differ():
    first = moment(datetime(2026, 11, 1, 6, 30, tzinfo=UTC), COMMON)
    second = moment(datetime(2026, 11, 1, 7, 30, tzinfo=UTC), COMMON)

    assert (first, second) == (
        "Sunday, November 1, 2026 at 1:30 AM CDT",
        "Sunday, November 1, 2026 at 1:30 AM CST",
    )


def test_a_time_without_a_zone_is_refused():
    with pytest.raises(ValueError, match="aware"):
        moment(datetime(2026, 12, 1, 16, 0), COMMON)  # noqa: DTZ001


@pytest.mark.parametrize(
    ("days", "words"), [(0, "no change"), (1, "1 day later"), (-1, "1 day sooner"), (14, "14 days later")]
)
def test_days_apart_are_counted_on_the_calendar(days, words):
    assert days_apart(WITHOUT_ON, WITHOUT_ON + timedelta(days=days)) == words


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        (0.25, "about half an hour"),
        (0.5, "about half an hour"),
        (1, "about 1 hour"),
        (1.5, "about 1 and a half hours"),
        (2.0, "about 2 hours"),
        (6.6, "about 6 and a half hours"),
    ],
)
def test_hours_are_given_to_the_half_hour(amount, words):
    assert hours(amount) == words


@pytest.mark.parametrize(
    ("depth_mm", "units", "words"),
    [
        (12.7, "us", "1/2 inch"),
        (25.4, "us", "1 inch"),
        (38.1, "us", "1 and 1/2 inches"),
        (1.6, "us", "1/16 inch"),
        (12.7, "metric", "13 mm"),
    ],
)
def test_depths_are_given_in_the_shops_units(depth_mm, units, words):
    assert depth(depth_mm, units) == words


def test_a_depth_in_unknown_units_is_refused():
    with pytest.raises(ValueError, match="'cm'"):
        depth(10, "cm")


# --- as a mail


class Words(HTMLParser):
    """The words a reader of the body sees."""

    def __init__(self):
        super().__init__()
        self.seen, self.inside = [], False

    def handle_starttag(self, tag, attrs):
        self.inside = self.inside or tag == "body"

    def handle_data(self, data):
        if self.inside:
            self.seen += data.split()


def words_of_html(html):
    parser = Words()
    parser.feed(html)
    return parser.seen


def test_text_and_html_say_the_same():
    for message in some_messages():
        mail = render_mail(message, link_url=LINK, common=COMMON)

        plain = mail.text.replace(f"{message.action_words}:\n{LINK}\n", f"{message.action_words}\n").split()
        shop = COMMON.shop_name.split()
        assert words_of_html(mail.html) == shop + plain


def test_the_link_stands_on_a_line_of_its_own():
    for message in some_messages():
        mail = render_mail(message, link_url=LINK, common=COMMON)

        assert mail.text.splitlines().count(LINK) == 1
        assert mail.html.count(f'href="{LINK}"') == 1


def test_a_mail_has_no_gaps_and_nothing_unfilled():
    for message in some_messages():
        mail = render_mail(message, link_url=LINK, common=COMMON)

        assert "  " not in mail.text
        assert "\n\n\n" not in mail.text
        assert not UNFILLED.search(mail.subject + mail.text)
        assert not re.search(r"{[{%]|[%}]}", mail.html)
        assert not re.search(r"<(script|img|link|style)\b", mail.html)


def test_a_message_without_an_action_carries_no_link():
    message = replace(next(some_messages()), action_words=None)

    mail = render_mail(message, link_url=LINK, common=COMMON)

    assert LINK not in mail.text + mail.html


HOSTILE = '<b onload=x>Pat</b>\r\nBcc: all@evil.example\n\nSigned by:\u2028the shop\u202e & "co" {{ link_url }}'


def hostile_messages(common):
    bad = finding(seen_words=HOSTILE, place_words=HOSTILE)
    worst = (choice(remedy_words=HOSTILE, keeps=HOSTILE, warranty=HOSTILE),) * 2
    yield compose_finding(common, [(bad, offer(is_unsafe=True, choices=worst))])
    yield compose_finding(common, [(bad, offer()), (bad, offer(choices=worst))])
    yield compose_decision(
        common, decision(place_words=HOSTILE, remedy_words=HOSTILE, signed_by=HOSTILE, is_approved=False)
    )
    yield compose_booking(common, BookingFacts((HOSTILE,), PRICE, WITHOUT_ON, None))
    yield compose_promise(common, PromiseFacts(None, WITHOUT_ON, HOSTILE))
    yield compose_ready(common, ReadyFacts(PRICE, (LeftFacts("mould", HOSTILE, True),)))


def test_hostile_text_makes_no_line_no_header_and_no_element():
    common = replace(
        COMMON, owner_name=HOSTILE, coach_words=HOSTILE, shop_name=HOSTILE, shop_phone=HOSTILE, shop_email=HOSTILE
    )

    for message in hostile_messages(common):
        mail = render_mail(message, link_url=LINK, common=common)

        assert mail.subject.splitlines() == [mail.subject]
        assert EmailMessage(mail.subject, mail.text, "a@shop.example", ["b@shop.example"]).message()["Subject"]
        assert not any(line.startswith(("Bcc", "the shop")) for line in mail.text.splitlines())
        assert '<b onload=x>Pat</b> Bcc: all@evil.example Signed by: the shop & "co" {{ link_url }}' in mail.text
        assert "<b onload" not in mail.html
        assert "&lt;b onload=x&gt;Pat&lt;/b&gt;" in mail.html
        assert "\u202e" not in mail.text + mail.html
        assert mail.html.count(LINK) == 1


@pytest.mark.parametrize("link_url", ["javascript:alert(1)", "/o/abc/", "https://shop.example/a b", "", "https://x/\n"])
def test_a_link_that_is_no_web_address_is_refused(link_url):
    with pytest.raises(ValueError, match="absolute http"):
        render_mail(next(some_messages()), link_url=link_url, common=COMMON)


@given(st.text())
def test_one_line_is_one_line_of_single_spaces_and_changes_nothing_twice(text):
    line = one_line(text)

    assert line.splitlines() in ([], [line])
    assert "  " not in line
    assert line == line.strip()
    assert one_line(line) == line


@given(st.text())
def test_as_sentence_ends_with_a_stop_or_says_nothing(text):
    sentence = as_sentence(text)

    assert sentence == "" or sentence[-1] in ".!?"
