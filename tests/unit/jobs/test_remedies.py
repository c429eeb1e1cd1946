"""Which remedies stand beside each other: picked at posting, adjusted until the owner answers."""

import pytest

from jobs.errors import AlreadyDecided, JobError, NotNow, Stale
from jobs.models import ApprovalRequest, Finding, JournalEntry, RemedyMatch
from jobs.services.remedies import (
    OwnMaterial,
    OwnRemedy,
    adjust_remedies,
    awaits_offer,
    choose_ways,
    fits_at,
    remedies_version,
    ways_of,
    why_not_adjust,
    write_ways,
)
from jobs.services.verdicts import Evidence
from tests.factories import (
    NOON,
    ApprovalRequestFactory,
    DecisionFactory,
    FindingFactory,
    JobFactory,
    PersonFactory,
    SkillFactory,
    StandardRemedyFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def finding():
    return FindingFactory()


@pytest.fixture
def manager(finding):
    return PersonFactory(shop=finding.job.shop, manager=True)


@pytest.fixture
def remedies(finding):
    """Four of the shop's remedies; the first two stand."""
    made = [StandardRemedyFactory(shop=finding.job.shop, name=name) for name in ("Dry", "Splice", "Renew", "Treat")]
    write_ways(finding, made[:2])
    return made


def ask(finding):
    return ApprovalRequestFactory(
        remedy=finding.standing_remedies[0], finding=finding, choices=finding.standing_remedies
    )


def fresh(finding):
    return Finding.objects.select_related("job__shop").get(pk=finding.pk)


def adjust(finding, by, ways, **changes):
    given = {
        "finding_id": finding.pk,
        "ways": ways,
        "seen_version": remedies_version(fresh(finding)),
        "reason": "It keeps more of the wall.",
        "by": by,
        "now": NOON,
    }
    return adjust_remedies(**given | changes)


def names(finding):
    return [remedy.name for remedy in fresh(finding).standing_remedies]


def test_they_are_dropped_added_and_put_in_another_order(finding, manager, remedies):
    adjust(finding, manager, [remedies[2], remedies[0]])

    assert names(finding) == ["Renew", "Dry"]


def test_the_open_question_is_taken_back_and_what_was_offered_stays(finding, manager, remedies):
    asked = ask(finding)

    adjust(finding, manager, [remedies[1]])

    asked.refresh_from_db()
    assert asked.closed_at == NOON
    assert [choice.name for choice in asked.choices.order_by("position")] == ["Dry", "Splice"]
    assert fresh(finding).current_request is None
    assert awaits_offer(fresh(finding))


def test_the_journal_says_who_what_and_why(finding, manager, remedies):
    asked = ask(finding)

    adjust(finding, manager, [remedies[1]], reason="  The wall is sound.  ")

    entry = JournalEntry.objects.get(kind="remedies_adjusted")
    assert entry.person == manager
    assert entry.data == {
        "finding": finding.pk,
        "number": finding.number,
        "before": ["Dry", "Splice"],
        "after": ["Splice"],
        "reason": "The wall is sound.",
        "request": asked.pk,
    }


def test_while_another_proposal_is_worked_out_the_finding_is_undecided(finding, manager, remedies):
    ask(finding)
    adjust(finding, manager, [remedies[1]])

    assert list(Finding.objects.undecided()) == [finding]

    asked = ask(fresh(finding))
    DecisionFactory(request=asked)
    ApprovalRequest.objects.filter(pk=asked.pk).update(closed_at=NOON)
    assert not Finding.objects.undecided().exists()


def test_an_own_remedy_is_rewritten_with_its_hours_wait_and_materials(finding, manager, remedies):
    skill = SkillFactory(shop=finding.job.shop)
    own = OwnRemedy("Let a header in", 4.5, skill, 24.0, (OwnMaterial("Glue", 2, 9),))

    adjust(finding, manager, [own, remedies[0]])

    first, second = ways_of(fresh(finding))
    assert (first.words, first.hours, first.skill, first.wait_hours) == ("Let a header in", 4.5, skill, 24.0)
    assert [(item.name, item.quantity, item.unit_cost_usd) for item in first.materials] == [("Glue", 2, 9)]
    assert second == remedies[0]


def test_two_who_adjust_at_once_the_second_reads_again_first(finding, manager, remedies):
    seen = remedies_version(finding)
    adjust(finding, manager, [remedies[2]], seen_version=seen)

    with pytest.raises(Stale, match="changed these remedies after you opened"):
        adjust(finding, manager, [remedies[3]], seen_version=seen)

    assert names(finding) == ["Renew"]


def test_what_the_owner_answered_stays(finding, manager, remedies):
    asked = ask(finding)
    DecisionFactory(request=asked)

    with pytest.raises(AlreadyDecided, match="has answered meanwhile"):
        adjust(finding, manager, [remedies[2]])

    assert names(finding) == ["Dry", "Splice"]


def test_a_question_taken_back_may_be_asked_again_with_other_remedies(finding, manager, remedies):
    asked = ask(finding)
    ApprovalRequest.objects.filter(pk=asked.pk).update(closed_at=NOON)

    adjust(finding, manager, [remedies[3]])

    assert awaits_offer(fresh(finding))


def test_not_once_the_coach_is_gone(manager, finding, remedies):
    finding.job.collected_at = NOON
    finding.job.save()

    with pytest.raises(NotNow, match="handed back"):
        adjust(finding, manager, [remedies[2]])


def test_not_what_was_agreed_at_booking(finding, manager, remedies):
    Finding.objects.filter(pk=finding.pk).update(is_booked=True)

    with pytest.raises(NotNow, match="booked in"):
        adjust(finding, manager, [remedies[2]])


def test_a_technician_until_the_owner_is_asked_and_no_longer(finding, remedies):
    technician = PersonFactory(shop=finding.job.shop)
    adjust(finding, technician, [remedies[2]])
    ask(fresh(finding))

    with pytest.raises(NotNow, match="A manager changes the proposal"):
        adjust(finding, technician, [remedies[3]])

    assert why_not_adjust(fresh(finding), technician)
    assert names(finding) == ["Renew"]


@pytest.mark.parametrize(
    ("pick", "words"),
    [
        (lambda made: [], "at least one"),
        (lambda made: made, "At most 3"),
        (lambda made: [made[0], made[0]], "twice"),
        (lambda made: [StandardRemedyFactory(name="Foreign")], "not in the shop's catalogue"),
        (lambda made: [OwnRemedy("A", 1.0, None), OwnRemedy("B", 1.0, None)], "One remedy in own words"),
    ],
)
def test_what_cannot_stand_beside_each_other_is_refused(finding, manager, remedies, pick, words):
    with pytest.raises(JobError, match=words):
        adjust(finding, manager, pick(remedies))

    assert names(finding) == ["Dry", "Splice"]


def test_a_reason_is_needed(finding, manager, remedies):
    with pytest.raises(JobError, match="Say why"):
        adjust(finding, manager, [remedies[2]], reason=" \n ")


def test_one_out_of_use_may_stay_but_not_come_in(finding, manager, remedies):
    for each in (remedies[0], remedies[2]):
        each.is_active = False
        each.save()

    adjust(finding, manager, [remedies[0]])

    assert names(finding) == ["Dry"]
    with pytest.raises(JobError, match="not in the shop's catalogue"):
        adjust(finding, manager, [remedies[2]])


def test_nothing_named_means_what_fits_best_and_nothing_that_fits_is_refused(finding, remedies):
    with pytest.raises(JobError, match="None of the shop's remedies fits"):
        choose_ways(finding, None, None)

    for each in remedies:
        RemedyMatch.objects.create(standard=each, kind=finding.kind)
    RemedyMatch.objects.create(standard=remedies[3], kind=finding.kind, face="roof")

    assert choose_ways(finding, None, None) == [remedies[3], remedies[0], remedies[1]]
    assert choose_ways(finding, remedies[2], []) == [remedies[2]]
    assert choose_ways(finding, None, [remedies[1], remedies[0]]) == [remedies[1], remedies[0]]


def test_what_fits_before_posting_follows_the_verdict_of_the_evidence(remedies):
    job = JobFactory(shop=remedies[0].shop, arrived=True)
    RemedyMatch.objects.create(standard=remedies[0], verdict="wait_for_dry")
    RemedyMatch.objects.create(standard=remedies[1], verdict="rotted")
    given = {"kind": "rotten_framing", "face": "front", "place": None, "now": NOON}

    wet = fits_at(job, evidence=Evidence(moisture_pct=30.0, member="wall_framing"), **given)
    rotted = fits_at(job, evidence=Evidence(moisture_pct=12.0, probe_depth_mm=20.0, is_wet=False), **given)

    assert wet.remedies == (remedies[0],)
    assert rotted.remedies == (remedies[1],)
    assert "rot goes on" in wet.left_words
