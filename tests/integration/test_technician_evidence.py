"""Noting evidence on a finding, the verdict that follows, and deciding otherwise."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse
from django.utils.html import escape

from jobs import kinds
from jobs.models import Finding, JournalEntry
from tests.factories import (
    NOON,
    FindingFactory,
    JobFactory,
    PersonFactory,
    ReadingFactory,
    RemedyFactory,
    StandardRemedyFactory,
    StationFactory,
)

pytestmark = pytest.mark.django_db

EIGHTH_IN_MM = 3.175


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def technician(client):
    person = PersonFactory()
    client.force_login(person)
    return person


@pytest.fixture
def job(technician):
    return JobFactory(shop=technician.shop, in_bay=True)


@pytest.fixture
def finding(job):
    """Stained framing, found an hour ago, of which nothing is known yet."""
    finding = FindingFactory(job=job, kind="stained_framing", posted_at=NOON - timedelta(hours=1))
    RemedyFactory(finding=finding, standard=StandardRemedyFactory(shop=job.shop))
    return finding


@pytest.fixture
def note(client, finding):
    """Note evidence of dry, firm wood, with some fields changed."""

    def send(**changes):
        return client.post(form_of(finding), good_fields() | changes)

    return send


@pytest.fixture
def overrule(client, finding):
    def send(**fields):
        return client.post(reverse("jobs:verdict-overrule", args=[finding.pk]), fields)

    return send


def form_of(finding):
    return reverse("jobs:evidence-note", args=[finding.pk])


def page_of(finding):
    return reverse("jobs:finding-detail", args=[finding.pk])


def good_fields():
    return {
        "moisture_pct": "14",
        "is_wet": "no",
        "probe_depth": '1/16"',
        "tap_sound": "solid",
        "look": "stained",
        "member": "wall_framing",
        "member_thickness": '1 1/2"',
    }


def said_by(client, response):
    return [str(message) for message in client.get(response.url).context["messages"]]


class TestForm:
    def test_it_opens_with_what_is_known(self, client, finding):
        Finding.objects.filter(pk=finding.pk).update(
            moisture_pct=27.5, probe_depth_mm=12.7, tap_sound="dull", is_wet=True, member="roof_framing"
        )

        form = client.get(form_of(finding)).context["form"]

        shown = {name: form[name].value() for name in ("moisture_pct", "probe_depth", "tap_sound", "is_wet", "member")}
        assert shown == {
            "moisture_pct": "27.5",
            "probe_depth": '1/2"',
            "tap_sound": "dull",
            "is_wet": "yes",
            "member": "roof_framing",
        }

    def test_what_is_not_known_stands_empty(self, client, finding):
        form = client.get(form_of(finding)).context["form"]

        assert {form[name].value() for name in good_fields()} == {""}

    def test_what_dried_since_opens_without_what_was_noted_wet(self, client, job, finding):
        wet = {"moisture_pct": 28.0, "is_wet": True, "probe_depth_mm": 5.0, "tap_sound": "dull"}
        Finding.objects.filter(pk=finding.pk).update(**wet, look="stained", member="wall_framing")
        ReadingFactory(station=StationFactory(job=job), meter_pct=14.0, round__taken_at=NOON)

        form = client.get(form_of(finding)).context["form"]

        shown = {name: form[name].value() for name in good_fields()}
        assert {name for name, text in shown.items() if text} == {"look", "member"}
        assert "probe and tap it again" in form["probe_depth"].help_text
        client.post(form_of(finding), shown | {"look": "clean"})
        finding.refresh_from_db()
        assert (finding.probe_depth_mm, finding.tap_sound, finding.verdict) == (None, "", "open")

    def test_what_is_still_wet_opens_with_its_probe(self, client, job, finding):
        Finding.objects.filter(pk=finding.pk).update(moisture_pct=28.0, probe_depth_mm=5.0, tap_sound="dull")
        ReadingFactory(station=StationFactory(job=job), meter_pct=26.0, round__taken_at=NOON)

        form = client.get(form_of(finding)).context["form"]

        assert (form["moisture_pct"].value(), form["tap_sound"].value()) == ("", "dull")

    def test_a_note_between_two_rounds_does_not_make_a_wet_probe_count(self, client, job, finding):
        Finding.objects.filter(pk=finding.pk).update(moisture_pct=28.0, probe_depth_mm=5.0, tap_sound="dull")
        station = StationFactory(job=job)
        ReadingFactory(station=station, meter_pct=26.0, round__taken_at=NOON)
        form = client.get(form_of(finding)).context["form"]
        client.post(form_of(finding), {name: form[name].value() for name in good_fields()} | {"look": "stained"})

        ReadingFactory(station=station, meter_pct=13.0, round__taken_at=NOON + timedelta(hours=9))

        assert client.get(page_of(finding)).context["judgement"].verdict == "open"

    @pytest.mark.parametrize("method", ["put", "patch", "delete"])
    def test_other_methods_are_refused(self, client, finding, method):
        assert getattr(client, method)(form_of(finding)).status_code == 405


class TestNoting:
    def test_it_is_stored_and_the_verdict_follows(self, client, finding, note):
        response = note()

        finding.refresh_from_db()
        assert response.url == page_of(finding)
        assert said_by(client, response) == ["Noted. The evidence says: stained, sound."]
        assert (finding.moisture_pct, finding.is_wet) == (14.0, False)
        assert finding.probe_depth_mm == pytest.approx(EIGHTH_IN_MM / 2)
        assert (finding.tap_sound, finding.look, finding.member) == ("solid", "stained", "wall_framing")
        assert finding.member_thickness_mm == pytest.approx(38.1)
        assert (finding.verdict, finding.evidence_at) == ("stained_sound", NOON)

    def test_an_exposed_wire_found_to_be_near_mains_wiring_is_unsafe_to_leave_from_then_on(self, finding, note):
        Finding.objects.filter(pk=finding.pk).update(kind="exposed_wire")

        note(is_near_mains="on")

        finding.refresh_from_db()
        assert finding.is_unsafe_to_leave

    def test_the_journal_keeps_what_stood_there_before(self, technician, finding, note):
        Finding.objects.filter(pk=finding.pk).update(moisture_pct=27.5, is_wet=True)

        note(is_near_mains="on")

        noted, reached = JournalEntry.objects.order_by("number")
        assert (noted.kind, noted.person, noted.at) == (kinds.EVIDENCE_NOTED, technician, NOON)
        assert (noted.data["finding"], noted.data["number"]) == (finding.pk, finding.number)
        assert noted.data["before"] == {
            "moisture_pct": 27.5,
            "probe_depth_mm": None,
            "tap_sound": "",
            "look": "",
            "is_wet": True,
            "member": "",
            "member_thickness_mm": None,
            "is_near_mains": False,
            "is_near_gas": False,
        }
        assert noted.data["evidence"]["moisture_pct"] == 14.0
        assert noted.data["evidence"]["is_wet"] is False
        assert noted.data["evidence"]["is_near_mains"] is True
        assert reached.kind == kinds.VERDICT_REACHED
        assert (reached.data["before"], reached.data["verdict"]) == ("open", "stained_sound")

    def test_what_is_sent_twice_is_noted_once(self, finding, note):
        note()
        with time_machine.travel(NOON + timedelta(minutes=1), tick=False):
            note()

        finding.refresh_from_db()
        assert finding.evidence_at == NOON
        assert [entry.kind for entry in JournalEntry.objects.order_by("number")] == [
            kinds.EVIDENCE_NOTED,
            kinds.VERDICT_REACHED,
        ]

    @pytest.mark.parametrize(("units", "depth_mm"), [("us", 3.81), ("us", 20.0), ("metric", 3.4), ("metric", 9.6)])
    def test_lengths_left_alone_keep_their_measure_though_they_are_shown_rounded(
        self, client, job, finding, units, depth_mm
    ):
        job.shop.units = units
        job.shop.save()
        before = {"moisture_pct": 14.0, "probe_depth_mm": depth_mm, "member_thickness_mm": 38.4}
        Finding.objects.filter(pk=finding.pk).update(**before)
        form = client.get(form_of(finding)).context["form"]
        shown = {name: form[name].value() for name in good_fields()}

        client.post(form_of(finding), shown)
        assert not JournalEntry.objects.exists()

        client.post(form_of(finding), shown | {"tap_sound": "solid"})
        finding.refresh_from_db()
        assert {name: getattr(finding, name) for name in before} == before
        assert finding.tap_sound == "solid"

    def test_what_is_emptied_is_not_known_any_more(self, finding, note):
        note()

        note(**dict.fromkeys(good_fields(), ""))

        finding.refresh_from_db()
        assert (finding.moisture_pct, finding.probe_depth_mm, finding.is_wet) == (None, None, None)
        assert (finding.tap_sound, finding.look, finding.member) == ("", "", "")
        assert finding.verdict == "open"

    @pytest.mark.parametrize("typed", ["14,5", "14.5"])
    def test_moisture_may_have_a_comma(self, finding, note, typed):
        note(moisture_pct=typed)

        finding.refresh_from_db()
        assert finding.moisture_pct == 14.5

    def test_right_through_is_as_deep_as_the_probe_goes(self, finding, note):
        note(probe_depth='1 1/2"')

        finding.refresh_from_db()
        assert finding.verdict == "rotted"

    def test_a_metric_shop_writes_millimetres(self, job, finding, note):
        job.shop.units = "metric"
        job.shop.save()

        note(probe_depth="4 mm", member_thickness="38")

        finding.refresh_from_db()
        assert (finding.probe_depth_mm, finding.member_thickness_mm) == (4.0, 38.0)
        assert finding.verdict == "soft"


BAD_FIELDS = [
    ({"moisture_pct": "wet"}, "moisture_pct", "Write a number, such as 18"),
    ({"moisture_pct": "nan"}, "moisture_pct", "Write a number, such as 18"),
    ({"moisture_pct": "-1"}, "moisture_pct", "At least 0"),
    ({"moisture_pct": "200.1"}, "moisture_pct", "At most 200"),
    ({"probe_depth": "deep"}, "probe_depth", "does not read as a length"),
    ({"probe_depth": "-1"}, "probe_depth", "below zero"),
    ({"probe_depth": "3 ft"}, "probe_depth", "At most"),
    ({"probe_depth": '2"'}, "probe_depth", "cannot go deeper than the member is thick"),
    ({"member_thickness": "0"}, "member_thickness", "more than nothing"),
    ({"member_thickness": "3 ft"}, "member_thickness", "At most"),
    ({"tap_sound": "loud"}, "tap_sound", "not one of the available choices"),
    ({"look": "ugly"}, "look", "not one of the available choices"),
    ({"is_wet": "maybe"}, "is_wet", "not one of the available choices"),
    ({"member": "chimney"}, "member", "not one of the available choices"),
]


class TestRefusals:
    @pytest.mark.parametrize(("changes", "field", "words"), BAD_FIELDS)
    def test_a_bad_field_is_refused_beside_it_with_all_that_was_typed(self, finding, note, changes, field, words):
        typed = good_fields() | changes

        response = note(**changes)

        form = response.context["form"]
        assert response.status_code == 422
        assert list(form.errors) == [field]
        assert words in form.errors[field][0]
        assert response.text.count(escape(form.errors[field][0])) == 2  # beside the field, and at the head
        assert {name: str(form[name].value()) for name in typed} == typed
        finding.refresh_from_db()
        assert (finding.moisture_pct, finding.evidence_at, finding.verdict) == (None, None, "open")
        assert not JournalEntry.objects.exists()


class TestPosting:
    """The verdict is there as soon as the finding is."""

    def post(self, client, job, **changes):
        fields = good_fields() | {
            "key": "6a1f1f0e-5b1c-4f0e-9a52-4d2a3f7c1b10",
            "kind": "stained_framing",
            "seen": "Stud is dark below the window.",
            "face": "roof",
            "left": "3 ft",
            "top": "10",
            "width": "4 ft",
            "height": '18"',
            "remedy": StandardRemedyFactory(shop=job.shop).pk,
        }
        return client.post(reverse("jobs:finding-post", args=[job.pk]), fields | changes)

    @pytest.mark.parametrize(
        ("changes", "verdict"),
        [
            ({}, "stained_sound"),
            ({"moisture_pct": "28"}, "wait_for_dry"),
            ({"probe_depth": '1/4"'}, "soft"),
            ({"probe_depth": '1/2"'}, "rotted"),
            ({"probe_depth": ""}, "open"),
        ],
    )
    def test_it_follows_from_the_evidence_posted_and_stands_in_the_journal(self, client, job, changes, verdict):
        self.post(client, job, **changes)

        finding = Finding.objects.get()
        assert finding.verdict == verdict
        entry = JournalEntry.objects.get()
        assert (entry.kind, entry.data["verdict"]) == (kinds.FINDING_POSTED, verdict)
        assert entry.data["evidence"]["member"] == "wall_framing"

    def test_a_probe_deeper_than_the_member_is_refused_beside_it(self, client, job):
        response = self.post(client, job, probe_depth='2"')

        assert response.status_code == 422
        assert "cannot go deeper than the member is thick" in response.context["form"].errors["probe_depth"][0]
        assert not Finding.objects.exists()


class TestPage:
    def test_it_shows_the_verdict_its_reasons_and_what_is_missing(self, client, finding):
        page = client.get(page_of(finding))

        assert "Not known yet" in page.text
        assert "It was not probed yet, and early decay looks unchanged." in page.text
        assert "<strong>Missing:</strong> a moisture reading, a probe with an awl." in page.text
        assert form_of(finding) in page.text

    def test_it_names_the_stations_at_the_place(self, client, job, finding):
        here, elsewhere = StationFactory(job=job), StationFactory(job=job, left_mm=6000.0)
        for station in (here, elsewhere):
            ReadingFactory(station=station)

        page = client.get(page_of(finding))

        assert [line[0] for line in page.context["here"]] == [here]
        assert "Station 1</dt>" in page.text

    def test_cautions_follow_what_lies_in_reach(self, client, finding):
        plain = client.get(page_of(finding)).context["evidence_cautions"]
        Finding.objects.filter(pk=finding.pk).update(is_near_mains=True, is_near_gas=True)

        near = client.get(page_of(finding)).context["evidence_cautions"]

        added = {caution.words for caution in near} - {caution.words for caution in plain}
        assert any("power" in words for words in added)
        assert any("gas" in words.lower() for words in added)

    def test_it_tells_what_is_left_of_a_soft_member(self, client, finding, note):
        note(probe_depth='1/4"')

        assert client.get(page_of(finding)).context["remaining"]


class TestCollected:
    """What the papers say that went along with the coach stays as it stood."""

    @pytest.fixture
    def collected(self, job):
        job.left_bay_at = job.collected_at = NOON
        job.save()

    def test_new_evidence_is_refused_in_words_and_kept_in_the_form(self, finding, collected, note):
        response = note(probe_depth='1/2"')

        finding.refresh_from_db()
        assert response.status_code == 422
        assert response.text.count("This coach has been collected. What was found stands as it is.") == 1
        assert response.context["form"]["probe_depth"].value() == '1/2"'
        assert finding.probe_depth_mm is None
        assert not JournalEntry.objects.exists()

    def test_a_verdict_of_ones_own_is_refused_in_words_and_kept_in_the_form(self, finding, collected, overrule):
        response = overrule(verdict="rotted", reason="Crumbles.")

        finding.refresh_from_db()
        assert response.status_code == 422
        assert response.text.count("This coach has been collected. What was found stands as it is.") == 1
        assert response.context["verdict_form"]["reason"].value() == "Crumbles."
        assert finding.own_verdict == ""
        assert not JournalEntry.objects.exists()

    def test_neither_is_offered(self, client, finding, collected):
        page = client.get(page_of(finding)).text

        assert form_of(finding) not in page
        assert "Decide otherwise" not in page


class TestOverruling:
    def test_a_persons_verdict_stands_with_its_reason_and_the_computed_one_beside_it(
        self, client, technician, finding, note, overrule
    ):
        note(probe_depth='1/4"')

        response = overrule(verdict="rotted", reason="Crumbles <in the hand> & smells.")

        finding.refresh_from_db()
        assert said_by(client, response)[-1] == "Your verdict stands, with your reason."
        assert (finding.verdict, finding.own_verdict, finding.standing_verdict) == ("soft", "rotted", "rotted")
        assert (finding.own_verdict_by, finding.own_verdict_at) == (technician, NOON)
        page = client.get(page_of(finding)).text
        assert '<p class="lead">Rotted</p>' in page
        assert "Imani Feld decided so" in page
        assert escape("Crumbles <in the hand> & smells.") in page
        assert "The evidence itself says: <strong>soft</strong>." in page

    def test_the_journal_keeps_both(self, technician, finding, overrule):
        overrule(verdict="sound", reason="  Taken apart, it is firm. ")

        entry = JournalEntry.objects.get()
        assert (entry.kind, entry.person) == (kinds.VERDICT_OVERRULED, technician)
        assert entry.data == {
            "finding": finding.pk,
            "number": finding.number,
            "computed": "open",
            "chosen": "sound",
            "reason": "Taken apart, it is firm.",
        }

    def test_it_can_be_taken_back_with_a_reason(self, client, finding, overrule):
        overrule(verdict="rotted", reason="Crumbles.")

        response = overrule(verdict="", reason="It was the old paint that crumbled.")

        finding.refresh_from_db()
        assert said_by(client, response)[-1] == "Taken back."
        assert (finding.own_verdict, finding.own_verdict_reason) == ("", "")
        assert (finding.own_verdict_by, finding.own_verdict_at) == (None, None)
        assert "decided so" not in client.get(page_of(finding)).text
        last = JournalEntry.objects.latest("number")
        assert (last.data["chosen"], last.data["reason"]) == ("", "It was the old paint that crumbled.")

    @pytest.mark.parametrize(
        ("fields", "field", "words"),
        [
            ({"verdict": "rotted", "reason": ""}, "reason", "Say why, in a sentence."),
            ({"verdict": "rotted", "reason": "   "}, "reason", "Say why, in a sentence."),
            ({"verdict": "", "reason": ""}, "reason", "Say why, in a sentence."),
            ({"verdict": "rotted", "reason": "x" * 301}, "reason", "at most 300 characters"),
            ({"verdict": "gone", "reason": "It is."}, "verdict", "not one of the available choices"),
            ({"verdict": "open", "reason": "Who knows."}, "verdict", "not one of the available choices"),
        ],
    )
    def test_what_is_no_verdict_or_has_no_reason_is_refused(self, finding, overrule, fields, field, words):
        response = overrule(**fields)

        form = response.context["verdict_form"]
        assert response.status_code == 422
        assert list(form.errors) == [field]
        assert words in form.errors[field][0]
        assert response.text.count(escape(form.errors[field][0])) == 2
        assert {name: form[name].value() for name in fields} == fields
        finding.refresh_from_db()
        assert finding.own_verdict == ""
        assert not JournalEntry.objects.exists()

    def test_new_evidence_leaves_a_persons_verdict_standing(self, finding, note, overrule):
        overrule(verdict="rotted", reason="Crumbles.")

        note()

        finding.refresh_from_db()
        assert (finding.verdict, finding.standing_verdict) == ("stained_sound", "rotted")

    @pytest.mark.parametrize("method", ["get", "put", "delete"])
    def test_other_methods_are_refused(self, client, finding, method):
        assert getattr(client, method)(reverse("jobs:verdict-overrule", args=[finding.pk])).status_code == 405
