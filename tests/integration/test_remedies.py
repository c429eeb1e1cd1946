"""Remedies picked by the technician, adjusted by the manager, and what the owner hears of it."""

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse

from estimates.models import Offer
from jobs.models import ApprovalRequest, Decision, Finding, JournalEntry, RemedyMatch
from jobs.services.remedies import remedies_version
from shopfloor.demo.telling import drain
from tests.factories import NOON, PersonFactory
from tests.scenes import find_rot
from updates.links import make_link

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


@pytest.fixture
def finding(scene):
    """Rotten framing whose owner has been asked and told."""
    finding = find_rot(scene)
    drain(NOON)
    mail.outbox.clear()
    return Finding.objects.get(pk=finding.pk)


@pytest.fixture
def owner(scene):
    browser = Client()
    browser.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=NOON).split("/o/")[1])
    return browser


def named(scene, name):
    return scene.shop.standard_remedies.get(name=name)


def adjust(client, finding, *, first, second="", third="", **fields):
    given = {
        "seen": remedies_version(finding),
        "first": first,
        "second": second,
        "third": third,
        "reason": "it can be dried and treated instead",
    }
    return client.post(page_of(finding), given | fields)


def page_of(finding):
    return reverse("jobs:remedies-adjust", args=[finding.pk])


def fresh(finding):
    return Finding.objects.get(pk=finding.pk)


class TestAdjusting:
    def test_the_page_offers_what_fits_first_and_the_rest_with_a_caution(self, client, finding):
        page = client.get(page_of(finding)).text

        assert '<optgroup label="Fits what was found">' in page
        assert '<optgroup label="Meant for other damage">' in page
        assert "check on the coach that it suits this place" in page
        assert "the part grows weaker" in page, "what leaving it means"

    def test_a_fresh_offer_takes_the_place_of_the_old_one_which_stays(self, client, scene, finding):
        old_request = ApprovalRequest.objects.get()
        old = Offer.objects.get()

        response = adjust(client, finding, first=named(scene, "Renew the edge seal").pk)
        drain(NOON)

        new = Offer.objects.exclude(pk=old.pk).get()
        old_request.refresh_from_db()
        assert response["Location"] == reverse("jobs:finding-detail", args=[finding.pk])
        assert old_request.closed_at == NOON
        assert Offer.objects.get(pk=old.pk).content == old.content
        assert [choice["name"] for choice in new.choices] == ["Renew the edge seal"]
        assert fresh(finding).current_request.offer_sha256 == new.sha256
        assert new.total_usd != old.total_usd

    def test_the_owner_gets_one_message_that_says_what_changed_and_why(self, client, scene, finding):
        adjust(client, finding, first=named(scene, "Renew the edge seal").pk)
        drain(NOON)

        (sent,) = mail.outbox
        assert sent.subject == "Please answer: we changed our plan for the rotten framing in your 2011 travel trailer"
        assert "This is why: It can be dried and treated instead." in sent.body
        assert "takes the place of what we sent you before" in sent.body

    def test_adjusted_before_the_owner_heard_of_it_the_message_is_the_first(self, client, scene):
        finding = find_rot(scene)
        mail.outbox.clear()
        client.force_login(scene.technician)
        adjust(client, finding, first=named(scene, "Renew the edge seal").pk)
        drain(NOON)

        (sent,) = mail.outbox
        assert sent.subject.startswith("Please answer: we found rotten framing")
        assert "changed" not in sent.subject
        assert Offer.objects.count() == 1

    def test_twice_in_a_row_tells_both_reasons_once(self, client, scene, finding):
        adjust(client, finding, first=named(scene, "Renew the edge seal").pk)
        adjust(client, fresh(finding), first=named(scene, "Open up and inspect").pk, reason="we must look first")
        drain(NOON)

        (sent,) = mail.outbox
        assert "It can be dried and treated instead. We must look first." in sent.body
        assert Offer.objects.count() == 2

    def test_once_the_owner_was_asked_nothing_goes_ahead_without_an_answer(self, client, scene, finding):
        scene.job.go_ahead_usd, scene.job.go_ahead_days = 99999, 300
        scene.job.save()

        adjust(client, finding, first=named(scene, "Renew the edge seal").pk)
        drain(NOON)

        assert not Decision.objects.exists()
        assert fresh(finding).current_request.closed_at is None

    def test_own_words_are_rewritten_where_they_stand(self, client, scene, finding):
        skill = scene.shop.skills.first()
        fields = {
            "own_words": "Let a new header in",
            "own_hours": "3,5",
            "own_skill": skill.pk,
            "own_wait_hours": "12",
            "material_1_name": "Glue",
            "material_1_quantity": "1",
            "material_1_cost": "9.50",
        }

        adjust(client, finding, first="own", **fields)
        drain(NOON)
        page = client.get(page_of(finding)).text

        (remedy,) = fresh(finding).standing_remedies
        assert (remedy.own_hours, remedy.own_wait_hours, remedy.materials.get().name) == (3.5, 12, "Glue")
        assert 'value="3.5"' in page
        assert "Let a new header in" in page

    def test_while_it_is_worked_out_the_shop_sees_that(self, client, scene, finding):
        adjust(client, finding, first=named(scene, "Renew the edge seal").pk)

        page = client.get(reverse("jobs:finding-detail", args=[finding.pk])).text

        assert "being worked out" in page
        assert "Renew the edge seal" in page

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"reason": " "}, "Say why, in a sentence."),
            ({"first": ""}, "Choose the one to recommend."),
            ({"first": "999999"}, "Choose from the list."),
            ({"first": "own"}, "Say what you would do."),
            ({"own_words": "Something else"}, "Say where your own remedy stands"),
            ({"second": "same"}, "This one stands there already."),
            ({"first": "own", "own_words": "x", "own_hours": "-1"}, "own_hours"),
        ],
    )
    def test_what_cannot_be_is_refused_and_what_was_typed_kept(self, client, scene, finding, fields, words):
        first = named(scene, "Renew the edge seal").pk
        given = {name: str(first) if value == "same" else value for name, value in fields.items()}

        response = adjust(client, finding, **{"first": first} | given)

        assert response.status_code == 422
        assert words in response.text
        assert "it can be dried and treated instead" in response.text or "reason" in fields
        assert not JournalEntry.objects.filter(kind="remedies_adjusted").exists()
        assert ApprovalRequest.objects.get().closed_at is None

    def test_answered_meanwhile_is_refused_in_words(self, client, scene, finding, owner):
        asked = ApprovalRequest.objects.get()
        seen = remedies_version(finding)
        say_yes(owner, scene, asked)

        response = adjust(client, finding, first=named(scene, "Renew the edge seal").pk, seen=seen)

        assert response.status_code == 409
        assert "The owner has answered" in response.text
        assert fresh(finding).current_request.decision.is_approved

    def test_adjusted_by_somebody_else_meanwhile_is_refused_and_shown(self, client, scene, finding):
        seen = remedies_version(finding)
        adjust(client, finding, first=named(scene, "Renew the edge seal").pk)

        response = adjust(client, finding, first=named(scene, "Open up and inspect").pk, seen=seen)

        assert response.status_code == 409
        assert "Somebody changed these remedies" in response.text
        assert [each.name for each in fresh(finding).standing_remedies] == ["Renew the edge seal"]

    def test_a_technician_may_not_once_the_owner_is_asked(self, client, scene, finding):
        client.force_login(scene.technician)

        page = client.get(page_of(finding))
        response = adjust(client, finding, first=named(scene, "Renew the edge seal").pk)

        assert "A manager changes the proposal from here on." in page.text
        assert "<form" not in page.text.split("Change the remedies")[1].split("</main>")[0]
        assert response.status_code == 409

    def test_another_shop_finds_nothing_and_a_stranger_signs_in(self, client, finding):
        client.force_login(PersonFactory(manager=True))
        assert client.get(page_of(finding)).status_code == 404
        assert client.post(page_of(finding)).status_code == 404

        client.logout()
        assert client.get(page_of(finding))["Location"].startswith(reverse("jobs:sign-in"))

    def test_no_other_method(self, client, finding):
        assert client.put(page_of(finding)).status_code == 405


class TestOwner:
    def test_a_page_with_the_old_proposal_is_refused_and_shows_the_new_one(self, client, scene, finding, owner):
        asked = ApprovalRequest.objects.get()
        adjust(client, finding, first=named(scene, "Renew the edge seal").pk)
        drain(NOON)

        response = say_yes(owner, scene, asked)

        assert response.status_code == 409
        assert "We changed this proposal after you opened it. Please read the new one." in response.text
        assert fresh(finding).current_request.offer_sha256 in response.text
        assert "This is why: it can be dried and treated instead" in response.text
        assert not Decision.objects.exists()

    def test_between_old_and_new_the_story_says_that_it_is_changing(self, client, scene, finding, owner):
        asked = ApprovalRequest.objects.get()
        adjust(client, finding, first=named(scene, "Renew the edge seal").pk)

        response = say_yes(owner, scene, asked)

        assert response.status_code == 409
        assert "We are changing what we propose, and will write to you about it." in response.text

    def test_a_yes_to_the_new_one_counts(self, client, scene, finding, owner):
        adjust(client, finding, first=named(scene, "Renew the edge seal").pk)
        drain(NOON)

        say_yes(owner, scene, ApprovalRequest.objects.open().get())
        drain(NOON)

        groups = scene.job.revisions.order_by("number").last().content["groups"]
        assert groups[-1]["words"] == "rotten framing: Renew the edge seal"


class TestPosting:
    def test_what_fits_is_shown_as_a_part_with_what_it_keeps_and_what_leaving_means(self, client, scene):
        given = {"kind": "rotten_framing", "face": "front", "moisture_pct": "12", "probe_depth": "1 in", "is_wet": "no"}

        page = client.get(reverse("jobs:fits-show", args=[scene.job.pk]), given, headers=HTMX).text

        assert "<html" not in page
        assert "Cut out and splice framing" in page
        assert named(scene, "Cut out and splice framing").warranty in page
        assert page.count("checked") <= 3
        assert "the part grows weaker" in page

    def test_a_measure_that_cannot_be_read_is_said_to_be_left_out(self, client, scene):
        given = {
            "kind": "rotten_framing",
            "face": "front",
            "moisture_pct": "abc",
            "probe_depth": "1 in",
            "is_wet": "no",
        }

        page = client.get(reverse("jobs:fits-show", args=[scene.job.pk]), given, headers=HTMX).text
        without_scripts = post(client, scene, see_fits="1", moisture_pct="abc")

        assert "What stands here leaves it out." in page
        assert without_scripts.status_code == 422
        assert list(without_scripts.context["form"].errors) == ["moisture_pct"]
        assert not Finding.objects.from_teardown().exists()

    def test_without_evidence_it_says_what_to_measure_first(self, client, scene):
        url = reverse("jobs:fits-show", args=[scene.job.pk])
        given = {"kind": "rotten_framing", "face": "front"}

        nothing_noted = client.get(url, given, headers=HTMX).text
        refused = post(client, scene, moisture_pct="", probe_depth="", is_wet="")

        first = "Take a moisture reading and probe it with an awl."
        assert "What fits cannot be told yet" in nothing_noted
        assert first in nothing_noted
        assert "Nothing in the catalogue fits" not in nothing_noted
        assert refused.context["form"].errors == {
            "remedy": [
                f"What fits cannot be told yet. {first} Or choose a remedy, or describe your own below.",
            ]
        }

    @pytest.mark.parametrize(
        ("kind", "first"),
        [
            ("stained_framing", "Take a moisture reading and probe it with an awl."),
            ("loose_decking", "Take a moisture reading and probe it with an awl and tap it."),
            ("loose_skin", "Tap it."),
        ],
    )
    def test_nothing_that_carries_is_offered_unmeasured(self, client, scene, kind, first):
        refused = post(client, scene, kind=kind, moisture_pct="", probe_depth="", tap_sound="", is_wet="")

        assert refused.status_code == 422
        assert refused.context["form"].errors["remedy"] == [
            f"What fits cannot be told yet. {first} Or choose a remedy, or describe your own below."
        ]
        assert not Finding.objects.from_teardown().exists()

    def test_evidence_is_not_asked_for_where_no_remedy_would_come_of_it(self, client, scene):
        scene.shop.standard_remedies.all().update(is_active=False)
        given = {"kind": "rotten_framing", "face": "front"}

        page = client.get(reverse("jobs:fits-show", args=[scene.job.pk]), given, headers=HTMX).text

        assert "Nothing in the catalogue fits this by itself." in page

    def test_a_missing_remedy_is_not_spoken_of_while_other_fields_are_wrong(self, client, scene):
        response = post(client, scene, moisture_pct="", probe_depth="", is_wet="", seen="", width="wide")

        assert set(response.context["form"].errors) == {"seen", "width"}

    def test_what_was_shown_before_is_no_mistake_while_the_form_is_written(self, client, scene):
        given = {"kind": "rotten_framing", "face": "front", "shown": "999"}

        page = client.get(reverse("jobs:fits-show", args=[scene.job.pk]), given, headers=HTMX).text

        assert "What fits has changed" not in page

    def test_before_kind_and_face_are_known_it_says_so(self, client, scene):
        page = client.get(reverse("jobs:fits-show", args=[scene.job.pk]), headers=HTMX).text

        assert "Say what it is and on which face" in page

    def test_without_scripts_the_address_leads_to_the_form(self, client, scene):
        url = reverse("jobs:fits-show", args=[scene.job.pk])

        assert client.get(url)["Location"] == reverse("jobs:finding-post", args=[scene.job.pk])
        assert client.post(url).status_code == 405

    def test_another_shops_people_see_nothing_of_what_fits(self, client, scene):
        client.force_login(PersonFactory())

        assert client.get(reverse("jobs:fits-show", args=[scene.job.pk]), headers=HTMX).status_code == 404

    def test_a_look_without_scripts_stores_nothing_and_keeps_what_was_typed(self, client, scene):
        response = post(client, scene, see_fits="1", seen="")

        assert response.status_code == 200
        assert "These fit what you found" in response.text
        assert "Nothing was stored yet" not in response.text
        assert not Finding.objects.from_teardown().exists()

    def test_the_ticked_ones_are_offered_and_no_others(self, client, scene):
        shown = post(client, scene, see_fits="1").context["fits"]
        picked = shown.remedies[-1]

        post(client, scene, shown=shown.signature, beside=[picked.pk])

        assert [each.standard for each in stored().standing_remedies] == [picked]

    def test_the_recommended_one_comes_first_and_the_ticked_ones_stand_beside_it(self, client, scene):
        shown = post(client, scene, see_fits="1").context["fits"]
        first = named(scene, "Open up and inspect")

        post(client, scene, shown=shown.signature, beside=[shown.remedies[0].pk], remedy=first.pk)

        assert [each.standard for each in stored().standing_remedies] == [first, shown.remedies[0]]

    def test_nobody_picks_and_what_fits_best_is_offered(self, client, scene):
        fits = post(client, scene, see_fits="1").context["fits"]

        post(client, scene)

        assert [each.standard for each in stored().standing_remedies] == list(fits.suggested)

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"kind": "mould", "beside": "one"}, "What fits has changed with what you wrote."),
            ({"beside": []}, "Tick a remedy, or describe your own below."),
        ],
    )
    def test_a_pick_that_cannot_be_is_refused_with_the_remedies_to_look_at(self, client, scene, fields, words):
        shown = post(client, scene, see_fits="1").context["fits"]
        given = {name: [shown.remedies[0].pk] if value == "one" else value for name, value in fields.items()}

        response = post(client, scene, shown=shown.signature, **given)

        assert response.status_code == 422
        assert words in response.text
        assert not Finding.objects.from_teardown().exists()

    def test_ticks_that_nobody_touched_follow_what_is_written_after_them(self, client, scene):
        shown = post(client, scene, see_fits="1").context["fits"]
        fits = post(client, scene, see_fits="1", kind="mould").context["fits"]
        assert fits.remedies != shown.remedies

        post(client, scene, kind="mould", shown=shown.signature, beside=[each.pk for each in shown.suggested])

        assert [each.standard for each in stored().standing_remedies] == list(fits.suggested)

    def test_more_than_three_are_refused(self, client, scene):
        for each in scene.shop.standard_remedies.all()[:4]:
            RemedyMatch.objects.get_or_create(standard=each, kind="rotten_framing", verdict="", member="", face="front")
        shown = post(client, scene, see_fits="1").context["fits"]
        every = [each.pk for each in shown.remedies]

        response = post(client, scene, shown=shown.signature, beside=every)

        assert len(every) > 3
        assert response.status_code == 422
        assert "At most 3 remedies, the recommended one included." in response.text
        assert not Finding.objects.from_teardown().exists()


def say_yes(owner, scene, asked):
    answer = {"answer": str(asked.remedy_id), "typed_name": "Delia M.", "seen_sha256": asked.offer_sha256}
    url = reverse("updates:decision-record", args=[scene.job.public_id, asked.pk])
    return owner.post(url, {f"{asked.pk}-{name}": value for name, value in answer.items()})


def stored():
    return Finding.objects.from_teardown().get()


def post(client, scene, **fields):
    given = {
        "key": "7a1e9a52-95d5-4f4e-9f60-5b9d2f7b0a11",
        "kind": "rotten_framing",
        "seen": "Header is gone.",
        "face": "front",
        "left": "4 in",
        "top": "0",
        "width": "5 ft",
        "height": "6 in",
        "moisture_pct": "12",
        "probe_depth": "1 in",
        "is_wet": "no",
    }
    return client.post(reverse("jobs:finding-post", args=[scene.job.pk]), given | fields)
