"""The way of a finding, step by step, through the services and the worker's reactions."""

import email
import email.policy
from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.core import mail

from estimates.consent import go_ahead_left
from estimates.models import DateChange, JobForecast, Offer
from jobs import journal
from jobs.calc.faces import Face, Place
from jobs.errors import AlreadyDecided, JobError, NotNow, Stale
from jobs.models import ApprovalRequest, Decision, Finding, HoldPoint, Job, Operation, Photo, Reaction, Remedy
from jobs.services.approvals import Answer, record_decision, withdraw_request
from jobs.services.work import fail_hold_point, finish_operation, start_operation
from shopfloor.demo.telling import drain
from tests.factories import NOON, OwnerFactory
from tests.scenes import find_rot
from updates.models import OwnerLink, Update

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(kept_coach):
    return kept_coach()


def decide(scene, *, is_approved, now=NOON + timedelta(hours=2), **changes):
    request = ApprovalRequest.objects.open().get(finding__job=scene.job)
    given = {"seen_sha256": request.offer_sha256, "owner": scene.owner} | changes
    return record_decision(
        request_id=request.pk,
        seen_sha256=given["seen_sha256"],
        answer=Answer(request.remedy if is_approved else None, scene.owner.name, given["owner"], Decision.Channel.LINK),
        by=None,
        now=now,
    )


def nothing_failed():
    return not Reaction.objects.exclude(state=Reaction.State.DONE).exists()


def test_a_booked_coach_gets_its_first_revision_and_a_date(scene):
    revision = scene.job.revisions.get()

    lines = [line for group in revision.content["groups"] for line in group["lines"]]
    assert revision.number == 1
    assert sum(Decimal(line["amount_usd"]) for line in lines) == Decimal(revision.content["totals"]["subtotal_usd"])
    assert revision.total_usd > 0
    assert scene.job.forecast.expected_on >= scene.shop.local_date(NOON)
    assert nothing_failed()


def test_a_finding_is_priced_planned_and_put_to_the_owner(scene):
    mail.outbox.clear()

    finding = find_rot(scene)
    drain(NOON)

    offer = Offer.objects.get(finding=finding)
    request = finding.requests.get()
    assert request.offer_sha256 == offer.sha256
    assert offer.ready_with_on >= offer.ready_without_on
    assert journal.sha256_of(offer.content) == offer.sha256
    [message] = mail.outbox
    assert message.to == [scene.owner.email]
    assert f"${offer.total_usd:,.2f}" in message.body
    assert nothing_failed()


def test_the_mail_reads_back_as_a_mail_with_one_link_that_opens_the_page(scene, client):
    mail.outbox.clear()
    find_rot(scene)
    drain(NOON)

    parsed = email.message_from_bytes(mail.outbox[0].message().as_bytes(), policy=email.policy.default)

    text = parsed.get_body(("plain",)).get_content()
    html = parsed.get_body(("html",)).get_content()
    link = next(line for line in text.splitlines() if "/o/" in line).strip()
    assert link in html
    assert parsed["Message-ID"].startswith(f"<{Update.objects.latest('pk').message_id}@")
    with time_machine.travel(NOON, tick=False):
        assert client.get(link, follow=True).status_code == 200
    assert not OwnerLink.objects.filter(token_sha256__in=link.split("/")).exists()


def test_photos_are_made_ready_upright_and_bare(scene):
    finding = find_rot(scene, photos=2)
    drain(NOON)

    photos = list(Photo.objects.filter(finding=finding))
    assert [photo.is_ready for photo in photos] == [True, True]


def test_a_finding_sent_twice_is_stored_once(scene):
    first = find_rot(scene)

    again = find_rot(scene, key=first.key)

    assert again.pk == first.pk
    assert Finding.objects.filter(is_booked=False).count() == 1


def test_a_yes_adds_exactly_what_was_offered(scene):
    finding = find_rot(scene)
    drain(NOON)
    offer = Offer.objects.get(finding=finding)
    before = scene.job.revisions.get()

    decide(scene, is_approved=True)
    drain(NOON + timedelta(hours=2))

    after = scene.job.revisions.get(number=2)
    assert after.content["groups"][:-1] == before.content["groups"]
    assert after.content["groups"][-1]["lines"] == offer.choices[0]["lines"]
    assert Operation.objects.filter(remedy__finding=finding).count() == len(offer.choices[0]["operations"])
    assert HoldPoint.objects.filter(operation__remedy__finding=finding).count() == 1
    assert nothing_failed()


def test_a_later_price_does_not_touch_an_offer_or_a_revision(scene):
    finding = find_rot(scene)
    drain(NOON)
    rates = scene.shop.rates
    rates.labour_usd_per_hour *= 2
    rates.save()

    decide(scene, is_approved=True)
    drain(NOON + timedelta(hours=2))

    assert (
        scene.job.revisions.get(number=2).content["groups"][-1]["lines"]
        == Offer.objects.get(finding=finding).choices[0]["lines"]
    )


def test_a_no_leaves_the_scope_as_it_was_and_brings_the_date_back(scene):
    before = scene.job.forecast.expected_on
    finding = find_rot(scene)
    drain(NOON)

    decide(scene, is_approved=False, now=NOON)
    drain(NOON)

    assert scene.job.revisions.count() == 1
    assert not Operation.objects.filter(remedy__finding=finding).exists()
    assert JobForecast.objects.get(job=scene.job).expected_on == before


def test_the_answer_is_confirmed_with_the_new_total(scene):
    find_rot(scene)
    drain(NOON)
    mail.outbox.clear()

    decide(scene, is_approved=True)
    drain(NOON + timedelta(hours=2))

    [message] = mail.outbox
    assert f"${scene.job.revisions.get(number=2).total_usd:,.2f}" in message.body


def test_moves_of_the_date_add_up_from_the_promise(scene):
    find_rot(scene)
    drain(NOON)
    decide(scene, is_approved=True, now=NOON + timedelta(days=5))
    drain(NOON + timedelta(days=5))

    promise = scene.job.promise
    changes = DateChange.objects.filter(job=scene.job, changed_at__gte=promise.promised_at, from_on__isnull=False)
    moved = sum((change.to_on - change.from_on).days for change in changes)
    assert moved > 0
    assert JobForecast.objects.get(job=scene.job).expected_on - promise.expected_on == timedelta(days=moved)


def test_an_answer_to_another_offer_is_refused(scene):
    find_rot(scene)
    drain(NOON)

    with pytest.raises(Stale):
        decide(scene, is_approved=True, seen_sha256="0" * 64)

    assert not Decision.objects.exists()


def test_a_second_answer_is_refused(scene):
    find_rot(scene)
    drain(NOON)
    request = ApprovalRequest.objects.open().get()
    decide(scene, is_approved=False)

    with pytest.raises(AlreadyDecided):
        record_decision(
            request_id=request.pk,
            seen_sha256=request.offer_sha256,
            answer=Answer(request.remedy, "Me", scene.owner, Decision.Channel.LINK),
            by=None,
            now=NOON,
        )

    assert Decision.objects.get().is_approved is False


def test_somebody_who_may_not_decide_is_refused(scene):
    find_rot(scene)
    drain(NOON)

    with pytest.raises(JobError, match="may not decide"):
        decide(scene, is_approved=True, owner=OwnerFactory(shop=scene.shop))


def test_a_withdrawn_question_moves_the_date_back_and_takes_no_answer(scene):
    before = scene.job.forecast.expected_on
    find_rot(scene)
    drain(NOON)
    request = ApprovalRequest.objects.open().get()

    withdraw_request(request_id=request.pk, reason="Posted on the wrong coach", by=scene.manager, now=NOON)
    drain(NOON)

    assert JobForecast.objects.get(job=scene.job).expected_on == before
    with pytest.raises(AlreadyDecided, match="taken this question back"):
        record_decision(
            request_id=request.pk,
            seen_sha256=request.offer_sha256,
            answer=Answer(request.remedy, "Me", scene.owner, Decision.Channel.LINK),
            by=None,
            now=NOON,
        )


def test_nothing_is_closed_in_over_an_open_question(scene):
    opening = scene.job.operations.get(phase=1)
    start_operation(operation_id=opening.pk, by=scene.technician, now=NOON)
    finish_operation(operation_id=opening.pk, by=scene.technician, now=NOON)
    find_rot(scene)
    drain(NOON)
    sealing = scene.job.operations.filter(phase=5).first()

    with pytest.raises(NotNow, match="the owner's answer to finding 3"):
        start_operation(operation_id=sealing.pk, by=scene.technician, now=NOON)


def test_a_failed_hold_point_adds_work_at_the_shops_cost_and_the_price_stays(scene):
    for operation in scene.job.operations.order_by("phase", "position"):
        start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
        finish_operation(operation_id=operation.pk, by=scene.technician, now=NOON + timedelta(hours=1))
    drain(NOON)
    hold_point = HoldPoint.objects.get()

    redo = fail_hold_point(
        hold_point_id=hold_point.pk, note="A drop comes through", redo_hours=24.0, by=scene.manager, now=NOON
    )
    drain(NOON)

    assert redo.payer == Operation.Payer.SHOP
    assert redo.hold_point.words == hold_point.words
    assert scene.job.revisions.count() == 1
    assert DateChange.objects.filter(job=scene.job, cause="rework").exists()


def test_the_owner_is_told_once_that_the_coach_is_ready(scene):
    for operation in scene.job.operations.order_by("phase", "position"):
        start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
        finish_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
    HoldPoint.objects.update(passed_at=NOON, checked_by=scene.manager)
    drain(NOON)
    drain(NOON)

    assert Update.objects.filter(family=Update.Family.READY).count() == 1


def test_the_journal_of_a_whole_loop_is_whole(scene):
    find_rot(scene)
    drain(NOON)
    decide(scene, is_approved=True)
    drain(NOON + timedelta(hours=2))

    assert journal.first_break(scene.job) is None
    kinds_written = list(scene.job.entries.values_list("kind", flat=True))
    way = [
        "finding_posted", "offer_made", "owner_asked", "update_written", "update_sent",
        "owner_decided", "work_agreed", "scope_settled", "scope_planned",
    ]  # fmt: skip
    positions = [kinds_written.index(kind, kinds_written.index("finding_posted")) for kind in way]
    assert positions == sorted(positions)


def test_the_owner_chooses_the_second_of_two_remedies_and_exactly_that_is_done(scene):
    finding = find_rot(scene)
    drain(NOON)
    offer = Offer.objects.get(finding=finding)
    first, second = offer.offered()
    request = ApprovalRequest.objects.open().get()
    chosen = request.choices.get(pk=second.remedy_id)

    record_decision(
        request_id=request.pk,
        seen_sha256=request.offer_sha256,
        answer=Answer(chosen, "Delia M.", scene.owner, Decision.Channel.LINK),
        by=None,
        now=NOON,
    )
    drain(NOON)

    assert [first.name, second.name] == ["Cut out and splice framing", "Replace the whole member"]
    assert first.total_usd != second.total_usd
    revision = scene.job.revisions.order_by("number").last()
    assert revision.content["groups"][-1]["lines"] == offer.choice(second.remedy_id)["lines"]
    words = set(Operation.objects.filter(remedy=chosen).values_list("words", flat=True))
    assert words == {"Take out the old member", "Cut the new member and shape its ends", "Fit the new member"}
    assert not Operation.objects.filter(remedy_id=first.remedy_id).exists()
    assert "new one from end to end" in mail.outbox[-1].body


def test_a_remedy_that_was_not_offered_is_refused(scene):
    finding = find_rot(scene)
    drain(NOON)
    request = ApprovalRequest.objects.open().get()
    stray = Remedy.objects.create(
        finding=finding, standard=scene.shop.standard_remedies.get(name="Replace decking"), position=9
    )

    with pytest.raises(Stale, match="not among the choices"):
        record_decision(
            request_id=request.pk,
            seen_sha256=request.offer_sha256,
            answer=Answer(stray, "Delia M.", scene.owner, Decision.Channel.LINK),
            by=None,
            now=NOON,
        )

    assert not Decision.objects.exists()


def within_limit(scene, usd, days):
    Job.objects.filter(pk=scene.job.pk).update(go_ahead_usd=usd, go_ahead_days=days)
    mail.outbox.clear()


def test_what_lies_inside_the_go_ahead_limit_is_done_and_only_reported(scene):
    within_limit(scene, Decimal(2000), 20)

    finding = find_rot(scene)
    drain(NOON)

    decision = Decision.objects.get()
    assert (decision.channel, decision.is_approved) == (Decision.Channel.GO_AHEAD, True)
    assert scene.job.revisions.count() == 2
    assert Operation.objects.filter(remedy__finding=finding).exists()
    (told,) = mail.outbox
    assert "inside the limit you gave us" in told.body
    assert "Please answer" not in told.subject
    left = go_ahead_left(Job.objects.get(pk=scene.job.pk))
    assert left.usd_left == Decimal(2000) - Offer.objects.get().total_usd


@pytest.mark.parametrize(("usd", "days"), [(Decimal(100), 20), (Decimal(2000), 0)], ids=["too dear", "too late"])
def test_what_lies_outside_either_part_of_the_limit_is_asked(scene, usd, days):
    within_limit(scene, usd, days)

    find_rot(scene)
    drain(NOON)

    assert not Decision.objects.exists()
    assert ApprovalRequest.objects.open().exists()
    assert mail.outbox[0].subject.startswith("Please answer")


def test_what_can_hurt_people_is_asked_whatever_the_limit(scene):
    within_limit(scene, Decimal(9000), 90)

    find_rot(scene, is_unsafe_to_leave=True)
    drain(NOON)

    assert ApprovalRequest.objects.open().exists()


def test_the_limit_is_used_up_by_what_went_ahead_under_it(scene):
    within_limit(scene, Decimal(1500), 60)
    find_rot(scene)
    drain(NOON)

    find_rot(scene, place=Place(Face.REAR, 100, 0, 1800, 150))
    drain(NOON)

    assert Decision.objects.count() == 1
    assert ApprovalRequest.objects.open().count() == 1


def test_a_warranty_changed_in_the_catalogue_after_the_offer_changes_nothing_agreed(scene):
    find_rot(scene)
    drain(NOON)
    offered = Offer.objects.get().offered()[0]
    scene.shop.standard_remedies.filter(name=offered.name).update(warranty="None any more.", name="Renamed")

    decide(scene, is_approved=True)
    drain(NOON + timedelta(hours=2))

    group = scene.job.revisions.latest("number").content["groups"][-1]
    assert group["warranty"] == offered.warranty != "None any more."
    assert group["words"].endswith(offered.name)
