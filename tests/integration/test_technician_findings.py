"""Posting a finding from the phone, and reading it again."""

import io
import os
import uuid
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils.html import escape
from PIL import Image

from jobs import held, kinds
from jobs.journal import record
from jobs.models import Finding, JournalEntry, Photo, Reaction, Remedy
from tests.factories import (
    NOON,
    ApprovalRequestFactory,
    DecisionFactory,
    FindingFactory,
    JobFactory,
    OfferFactory,
    PersonFactory,
    PhotoFactory,
    RemedyFactory,
    SkillFactory,
    StandardRemedyFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"
    return settings.MEDIA_ROOT


@pytest.fixture
def technician(client):
    person = PersonFactory()
    client.force_login(person)
    return person


@pytest.fixture
def job(technician):
    return JobFactory(shop=technician.shop, in_bay=True)


@pytest.fixture
def remedy(job):
    return StandardRemedyFactory(shop=job.shop)


@pytest.fixture
def post(client, job, remedy):
    """Post a good finding, with some fields changed."""

    def send(**changes):
        return client.post(reverse("jobs:finding-post", args=[job.pk]), good_fields(remedy) | changes)

    return send


def good_fields(remedy):
    return {
        "key": str(uuid.uuid4()),
        "kind": "rotten_framing",
        "seen": "Header is gone from the road side to the middle.",
        "face": "roof",
        "left": "6' 3 1/2\"",
        "top": "10",
        "width": "4 ft",
        "height": '18"',
        "remedy": remedy.pk,
    }


def photo_file(name="IMG_0001.jpg", colour="red", image_format="JPEG"):
    buffer = io.BytesIO()
    Image.new("RGB", (64, 48), colour).save(buffer, image_format)
    return SimpleUploadedFile(name, buffer.getvalue())


def content_of(stored):
    return Path(stored.path).read_bytes()


def held_files(media):
    return sorted(path for path in Path(media).glob("held/**/*") if path.is_file())


class TestForm:
    def test_it_carries_a_fresh_mark_each_time(self, client, job):
        url = reverse("jobs:finding-post", args=[job.pk])

        keys = {str(client.get(url).context["form"]["key"].value()) for _ in range(2)}

        assert len(keys) == 2
        assert all(uuid.UUID(key) for key in keys)

    def test_it_takes_photos_from_the_camera_and_from_the_album(self, client, job):
        page = client.get(reverse("jobs:finding-post", args=[job.pk])).text

        assert 'enctype="multipart/form-data"' in page
        assert page.count('type="file"') == 2
        assert page.count('capture="environment"') == 1
        assert page.count("multiple") == 2

    def test_it_offers_the_shops_own_active_remedies_only(self, client, job, remedy):
        StandardRemedyFactory(name="Foreign remedy")
        StandardRemedyFactory(shop=job.shop, name="Given up long ago", is_active=False)

        page = client.get(reverse("jobs:finding-post", args=[job.pk])).text

        assert remedy.name in page
        assert remedy.caution in page
        assert "Foreign remedy" not in page
        assert "Given up long ago" not in page

    def test_a_coach_that_is_not_here_has_no_form(self, client, technician):
        booked = JobFactory(shop=technician.shop)

        page = client.get(reverse("jobs:finding-post", args=[booked.pk])).text

        assert "while the coach is at the shop" in page
        assert 'type="file"' not in page


class TestPosting:
    def test_a_finding_with_photos_is_stored_and_shown(self, client, technician, post, job, remedy):
        response = post(
            camera=photo_file(colour="red"),
            album=[photo_file("a.png", "blue", "PNG"), photo_file("b.jpg", "green")],
            moisture_pct="31,5",
            probe_depth='1 1/8"',
            tap_sound="crunchy",
            look="stained",
            is_wet="yes",
            is_unsafe_to_leave="on",
        )

        finding = Finding.objects.get()
        assert response.status_code == 302
        assert response.url == reverse("jobs:finding-detail", args=[finding.pk])
        assert (finding.job, finding.posted_by) == (job, technician)
        assert (finding.kind, finding.face) == ("rotten_framing", "roof")
        assert finding.left_mm == pytest.approx(75.5 * 25.4)
        assert finding.top_mm == pytest.approx(254)
        assert finding.width_mm == pytest.approx(1219.2)
        assert finding.height_mm == pytest.approx(457.2)
        assert finding.moisture_pct == 31.5
        assert finding.probe_depth_mm == pytest.approx(28.575)
        assert (finding.tap_sound, finding.look, finding.is_wet) == ("crunchy", "stained", True)
        assert finding.is_unsafe_to_leave
        assert finding.remedies.get().standard == remedy
        assert [Path(photo.original.name).suffix for photo in finding.photos.all()] == [".jpg", ".png", ".jpg"]
        assert JournalEntry.objects.get(job=job).kind == kinds.FINDING_POSTED

    @pytest.mark.parametrize(
        ("fields", "is_unsafe"),
        [
            ({"kind": "exposed_wire", "is_near_mains": "on"}, True),
            ({"kind": "exposed_wire"}, False),
            ({"kind": "rotten_framing", "is_near_mains": "on"}, False),
        ],
    )
    def test_an_exposed_wire_near_mains_wiring_is_unsafe_to_leave_whether_ticked_or_not(self, post, fields, is_unsafe):
        post(**fields)

        assert Finding.objects.get().is_unsafe_to_leave is is_unsafe

    def test_evidence_may_be_missing(self, post):
        post()

        finding = Finding.objects.get()
        assert finding.moisture_pct is None
        assert finding.probe_depth_mm is None
        assert finding.is_wet is None
        assert (finding.tap_sound, finding.look) == ("", "")

    def test_not_wet_is_not_the_same_as_not_known(self, post):
        post(is_wet="no")

        assert Finding.objects.get().is_wet is False

    def test_an_own_remedy_is_stored_with_its_materials(self, post, job):
        skill = SkillFactory(shop=job.shop)

        post(
            remedy="",
            own_words="Let a new header in and glue it",
            own_hours="6.5",
            own_skill=skill.pk,
            own_wait_hours="24",
            material_1_name="Clear fir, 2 by 4",
            material_1_quantity="2",
            material_1_cost="$18.40",
            material_3_name="Glue",
            material_3_quantity="0,5",
            material_3_cost="31",
        )

        stored = Remedy.objects.get()
        assert (stored.own_words, stored.own_hours) == ("Let a new header in and glue it", 6.5)
        assert (stored.own_skill, stored.own_wait_hours) == (skill, 24)
        assert [
            (each.name, str(each.quantity), str(each.unit_cost_usd)) for each in stored.materials.order_by("pk")
        ] == [
            ("Clear fir, 2 by 4", "2.00", "18.40"),
            ("Glue", "0.50", "31.00"),
        ]

    def test_the_same_form_sent_twice_is_one_finding(self, post):
        key = str(uuid.uuid4())

        first = post(key=key, camera=photo_file())
        second = post(key=key, camera=photo_file())

        assert Finding.objects.count() == 1
        assert Photo.objects.count() == 1
        assert first.url == second.url

    def test_a_metric_shop_writes_metres_and_a_bare_number_is_millimetres(self, client, remedy, job):
        job.shop.units = "metric"
        job.shop.save()

        client.post(
            reverse("jobs:finding-post", args=[job.pk]),
            good_fields(remedy) | {"left": "1.92 m", "top": "250", "width": "120 cm", "height": "0,5 m"},
        )

        finding = Finding.objects.get()
        assert (finding.left_mm, finding.top_mm) == (1920, 250)
        assert (finding.width_mm, finding.height_mm) == (1200, 500)

    def test_the_original_is_kept_but_its_name_is_not(self, post, media):
        post(camera=photo_file("Delia's garden.jpg"))

        stored = Photo.objects.get()
        assert "garden" not in stored.original.name
        assert (Path(media) / stored.original.name).read_bytes() == photo_file().read()


BAD_FIELDS = [
    ({"kind": ""}, "kind"),
    ({"kind": "termites"}, "kind"),
    ({"seen": "   "}, "seen"),
    ({"seen": "x" * 501}, "seen"),
    ({"face": ""}, "face"),
    ({"face": "ceiling"}, "face"),
    ({"left": ""}, "left"),
    ({"left": "a bit in"}, "left"),
    ({"left": "-3"}, "left"),
    ({"width": "0"}, "width"),
    ({"width": "26 ft"}, "width"),
    ({"height": "9 ft"}, "height"),
    ({"moisture_pct": "wet"}, "moisture_pct"),
    ({"moisture_pct": "300"}, "moisture_pct"),
    ({"moisture_pct": "nan"}, "moisture_pct"),
    ({"probe_depth": "3 ft"}, "probe_depth"),
    ({"tap_sound": "loud"}, "tap_sound"),
    ({"is_wet": "maybe"}, "is_wet"),
    ({"remedy": ""}, "remedy"),
    ({"remedy": "999999"}, "remedy"),
    ({"own_words": "Something else"}, "remedy"),
    ({"remedy": "", "own_words": "Mend it"}, "own_hours"),
    ({"remedy": "", "own_words": "Mend it", "own_hours": "2"}, "own_skill"),
    ({"remedy": "", "own_hours": "2"}, "own_words"),
    ({"remedy": "", "own_words": "Mend it", "own_hours": "0"}, "own_hours"),
    ({"remedy": "", "own_words": "Mend it", "own_hours": "2", "own_wait_hours": "-1"}, "own_wait_hours"),
    ({"remedy": "", "own_words": "Mend it", "material_1_name": "Glue"}, "material_1_quantity"),
    ({"remedy": "", "own_words": "Mend it", "material_1_quantity": "2"}, "material_1_name"),
    ({"remedy": "", "own_words": "Mend it", "material_2_name": "Glue", "material_2_cost": "1.234"}, "material_2_cost"),
]


class TestRefusals:
    @pytest.mark.parametrize(("changes", "field"), BAD_FIELDS)
    def test_a_bad_field_is_refused_beside_it_with_all_that_was_typed(self, post, changes, field):
        typed = {"seen": "Header is gone & soft <here>"} | changes

        response = post(**typed)

        assert response.status_code == 422
        assert field in response.context["form"].errors
        for name, text in typed.items():
            assert str(response.context["form"][name].value()) == text
        assert not Finding.objects.exists()
        assert not JournalEntry.objects.exists()

    def test_a_length_that_cannot_be_read_is_named_with_an_example(self, post):
        response = post(left="about 6 feet")

        said = response.context["form"].errors["left"][0]
        assert "“about 6 feet”" in said
        assert "such as 6' 3 1/2\"" in said
        assert response.text.count(escape(said)) == 2  # beside the field, and in the list at the head

    def test_a_place_that_runs_off_its_face_says_by_how_much(self, post):
        response = post(left="0", width="30 ft")

        assert "beyond the end of the roof" in response.context["form"].errors["width"][0]

    def test_a_remedy_of_another_shop_is_no_choice(self, post):
        response = post(remedy=StandardRemedyFactory().pk)

        assert "remedy" in response.context["form"].errors
        assert not Finding.objects.exists()

    def test_a_skill_of_another_shop_is_no_choice(self, post):
        response = post(remedy="", own_words="Mend it", own_hours="1", own_skill=SkillFactory().pk)

        assert "own_skill" in response.context["form"].errors

    @pytest.mark.parametrize("key", ["", "1", "../../etc/passwd", "x" * 4000])
    def test_a_key_that_is_none_is_replaced_and_nothing_is_stored(self, post, media, key):
        response = post(key=key, camera=photo_file())

        assert response.status_code == 422
        assert uuid.UUID(str(response.context["form"]["key"].value()))
        assert "Header is gone" in response.text
        assert not Finding.objects.exists()
        assert held_files(media) == []

    def test_a_coach_that_has_left_is_refused_in_words(self, post, job):
        job.left_bay_at = job.collected_at = NOON
        job.save()

        response = post()

        assert response.status_code == 422
        assert "while the coach is at the shop" in response.text
        assert not Finding.objects.exists()


class TestPhotosOfARefusedForm:
    def test_they_are_held_and_go_along_when_the_form_is_mended(self, post, media):
        key = str(uuid.uuid4())

        refused = post(key=key, seen="", album=[photo_file(colour="red"), photo_file(colour="blue")])
        assert "Kept: 2 photos" in refused.text
        assert len(held_files(media)) == 2
        assert not Photo.objects.exists()

        post(key=key, camera=photo_file(colour="green"))

        assert Photo.objects.count() == 3
        assert held_files(media) == []

    def test_they_are_held_over_more_than_one_refusal(self, post, media):
        key = str(uuid.uuid4())

        post(key=key, seen="", camera=photo_file(colour="red"))
        response = post(key=key, seen="", camera=photo_file(colour="blue"))

        assert "Kept: 2 photos" in response.text
        assert len(held_files(media)) == 2

    def test_they_can_be_left_out(self, post, media):
        key = str(uuid.uuid4())
        post(key=key, seen="", camera=photo_file())

        post(key=key, forget_held="on")

        assert Finding.objects.count() == 1
        assert not Photo.objects.exists()
        assert held_files(media) == []

    def test_they_are_private_files_under_the_person_and_the_key(self, post, technician, media):
        key = str(uuid.uuid4())

        post(key=key, seen="", camera=photo_file("../../evil.jpg"))

        (path,) = held_files(media)
        assert path.parent == Path(media) / "held" / str(technician.pk) / key
        assert path.stat().st_mode & 0o777 == 0o600
        assert path.parent.stat().st_mode & 0o777 == 0o700

    def test_another_person_does_not_get_them(self, client, post, job, remedy):
        key = str(uuid.uuid4())
        post(key=key, seen="", camera=photo_file())
        client.force_login(PersonFactory(shop=job.shop))

        post(key=key)

        assert not Photo.objects.exists()

    def test_a_broken_file_is_named_and_the_good_ones_are_kept(self, post, media):
        broken = SimpleUploadedFile("notes.jpg", b"these are no pixels")

        response = post(album=[photo_file(), broken])

        assert response.status_code == 422
        assert any(error.startswith("notes.jpg: ") for error in response.context["form"].errors["album"])
        assert "Kept: 1 photo." in response.text
        assert not Finding.objects.exists()

    def test_an_empty_file_is_named(self, post):
        response = post(album=SimpleUploadedFile("empty.jpg", b""))

        assert any("empty.jpg" in error for error in response.context["form"].errors["album"])

    def test_a_file_that_is_too_large_is_named_without_being_read(self, post, settings):
        settings.PHOTO_MAX_BYTES = 100

        response = post(camera=photo_file("huge.jpg"))

        assert "huge.jpg is larger than" in response.context["form"].errors["camera"][0]

    def test_more_than_twelve_are_refused_in_words(self, post):
        many = [photo_file(f"{number}.jpg", (number * 9, 0, 0)) for number in range(13)]

        response = post(album=many)

        assert response.status_code == 422
        assert "At most 12 photos; these are 13." in response.text
        assert not Finding.objects.exists()

    def test_few_forms_a_person_are_held_and_none_for_long(self, media):
        upload = held.accept(photo_file().read())
        keys = [uuid.uuid4() for _ in range(held.FORMS_A_PERSON + 2)]

        for number, key in enumerate(keys):
            held.hold(person_id=1, key=key, uploads=[upload], now=NOON)
            folder = Path(media) / "held" / "1" / str(key)
            moment = (NOON - timedelta(minutes=60 - number)).timestamp()
            os.utime(folder, (moment, moment))

        kept = {path.parent.name for path in held_files(media)}
        assert kept == {str(key) for key in keys[-held.FORMS_A_PERSON :]}

        held.hold(person_id=1, key=keys[0], uploads=[upload], now=NOON + held.KEPT_FOR)

        assert {path.parent.name for path in held_files(media)} == {str(keys[0])}


class TestDetail:
    def test_it_shows_what_where_how_we_know_and_what_to_do(self, client, job, remedy):
        finding = FindingFactory(job=job, moisture_pct=31.0, probe_depth_mm=28.575, tap_sound="crunchy", is_wet=True)
        RemedyFactory(finding=finding, standard=remedy)
        photo = PhotoFactory(finding=finding, small="photos/s.jpg", large="photos/l.jpg")

        page = client.get(reverse("jobs:finding-detail", args=[finding.pk])).text

        for words in (
            finding.seen,
            "Wet insulation",
            "The roof",
            "31 %",
            "1 1/8",
            "crunchy",
            remedy.words,
            remedy.caution,
        ):
            assert escape(words) in page
        assert reverse("jobs:photo", args=[photo.pk, "large"]) in page

    def test_a_photo_that_is_not_ready_says_so(self, client, job):
        finding = FindingFactory(job=job)
        RemedyFactory(finding=finding)
        PhotoFactory(finding=finding)

        page = client.get(reverse("jobs:finding-detail", args=[finding.pk])).text

        assert "is being made ready" in page
        assert "/small/" not in page

    def test_it_looks_again_until_price_and_days_are_there(self, client, job):
        finding = FindingFactory(job=job)
        remedy = RemedyFactory(finding=finding)
        url = reverse("jobs:finding-detail", args=[finding.pk])

        before = client.get(url, headers={"HX-Request": "true"}).text
        offer = OfferFactory(remedy=remedy)
        ApprovalRequestFactory(remedy=remedy, offer_sha256=offer.sha256)
        after = client.get(url, headers={"HX-Request": "true"}).text

        assert "being worked out" in before
        assert 'hx-trigger="every 2s"' in before
        assert f'href="{url}"' in before
        assert "<html" not in before
        assert '<p id="finding-state" hx-swap-oob="true"><span class="state state-waiting">with the owner<' in after
        assert "$1,234.50" in after
        assert "+3 days" in after
        assert "Fri, Mar 13" in after
        assert "Tue, Mar 10" in after
        assert "Answer expected by" in after
        assert "hx-get" not in after

    def test_the_full_page_and_the_part_are_told_apart_by_caches(self, client, job):
        finding = FindingFactory(job=job)

        response = client.get(reverse("jobs:finding-detail", args=[finding.pk]))

        assert "HX-Request" in response["Vary"]
        assert "<html" in response.text

    @pytest.mark.parametrize(("is_approved", "said"), [(True, "Yes"), (False, "No")])
    def test_the_owners_answer_is_shown(self, client, job, is_approved, said):
        finding = FindingFactory(job=job)
        remedy = RemedyFactory(finding=finding)
        OfferFactory(remedy=remedy)
        DecisionFactory(request__remedy=remedy, is_approved=is_approved)

        page = client.get(reverse("jobs:finding-detail", args=[finding.pk])).text

        assert f"<strong>{said}" in page
        assert "</strong>, Delia Marchbanks" in page
        assert "before the owner has answered" not in page

    @pytest.mark.parametrize(
        ("error", "said"),
        [
            ("Nobody here has the skill wiring.", "Nobody here has the skill wiring."),
            ("KeyError: 'rates'", "Something went wrong in the program."),
        ],
    )
    def test_a_price_that_could_not_be_worked_out_says_why_and_stops_looking(self, client, job, error, said):
        finding = FindingFactory(job=job)
        RemedyFactory(finding=finding)
        entry = record(
            job,
            kinds.FINDING_POSTED,
            now=NOON,
            person=finding.posted_by,
            data={"finding": finding.pk, "photos_sha256": []},
        )
        entry.reactions.all().delete()
        Reaction.objects.create(
            entry=entry, name="work out price and days", state="given_up", due_at=NOON, last_error=error
        )

        page = client.get(reverse("jobs:finding-detail", args=[finding.pk])).text
        job_page = client.get(reverse("jobs:job-detail", args=[job.pk])).text

        assert "could not be worked out" in page
        assert said in page
        assert "KeyError" not in page
        assert "hx-get" not in page
        assert "price not worked out" in job_page

    def test_photos_that_could_not_be_made_ready_say_so(self, client, job):
        finding = FindingFactory(job=job, is_booked=True)
        RemedyFactory(finding=finding)
        PhotoFactory(finding=finding)
        entry = record(
            job,
            kinds.PHOTOS_ADDED,
            now=NOON,
            person=finding.posted_by,
            data={"finding": finding.pk, "photos_sha256": []},
        )
        entry.reactions.update(state="given_up", last_error="The file is broken.")

        page = client.get(reverse("jobs:finding-detail", args=[finding.pk])).text

        assert "could not be made ready: The file is broken." in page
        assert "hx-get" not in page

    def test_the_number_of_queries_does_not_grow_with_photos(self, client, job, django_assert_max_num_queries):
        finding = FindingFactory(job=job)
        RemedyFactory(finding=finding)
        PhotoFactory(finding=finding)
        url = reverse("jobs:finding-detail", args=[finding.pk])
        with django_assert_max_num_queries(25) as few:
            client.get(url)
        for _ in range(8):
            PhotoFactory(finding=finding)

        with django_assert_max_num_queries(len(few)):
            client.get(url)


class TestMorePhotos:
    def test_photos_are_added_once(self, client, technician, job):
        finding = FindingFactory(job=job)
        url = reverse("jobs:finding-photos", args=[finding.pk])

        for _ in range(2):
            response = client.post(url, {"album": [photo_file(colour="red"), photo_file(colour="blue")]})

        assert response.url == reverse("jobs:finding-detail", args=[finding.pk])
        assert finding.photos.count() == 2
        assert JournalEntry.objects.get().person == technician

    @pytest.mark.parametrize("files", [{}, {"album": SimpleUploadedFile("x.jpg", b"no pixels")}])
    def test_nothing_and_nonsense_are_refused(self, client, job, files):
        finding = FindingFactory(job=job)

        response = client.post(reverse("jobs:finding-photos", args=[finding.pk]), files)

        assert response.status_code == 422
        assert response.context["photos_form"].errors["album"]
        assert not Photo.objects.exists()
        assert not JournalEntry.objects.exists()


class TestPhoto:
    @pytest.fixture
    def photo(self, job):
        photo = PhotoFactory(finding=FindingFactory(job=job))
        photo.large.save("large.jpg", photo_file(), save=False)
        photo.small.save("small.jpg", photo_file(colour="blue"), save=False)
        photo.save()
        return photo

    @pytest.mark.parametrize("size", ["small", "large"])
    def test_people_of_the_shop_see_it(self, client, photo, size):
        response = client.get(reverse("jobs:photo", args=[photo.pk, size]))

        assert b"".join(response.streaming_content) == content_of(getattr(photo, size))
        assert response["Content-Type"] == "image/jpeg"
        assert response["X-Content-Type-Options"] == "nosniff"
        assert response["Content-Disposition"].startswith("inline")
        assert set(response["Cache-Control"].split(", ")) == {"private", "max-age=3600"}

    def test_a_manager_downloads_the_original(self, client, photo):
        client.force_login(PersonFactory(shop=photo.finding.job.shop, manager=True))

        response = client.get(reverse("jobs:photo", args=[photo.pk, "original"]))

        assert response["Content-Disposition"].startswith("attachment")
        assert response["Content-Type"] == "application/octet-stream"
        assert b"".join(response.streaming_content) == content_of(photo.original)

    @pytest.mark.parametrize("size", ["original", "tiny", "finding"])
    def test_a_technician_gets_no_other_size(self, client, photo, size):
        assert client.get(reverse("jobs:photo", args=[photo.pk, size])).status_code == 404

    def test_what_is_not_ready_is_not_there(self, client, job):
        photo = PhotoFactory(finding=FindingFactory(job=job))

        assert client.get(reverse("jobs:photo", args=[photo.pk, "small"])).status_code == 404

    def test_a_file_that_is_gone_is_not_there(self, client, photo):
        Path(photo.small.path).unlink()

        assert client.get(reverse("jobs:photo", args=[photo.pk, "small"])).status_code == 404

    def test_people_of_another_shop_do_not_see_it(self, client, photo):
        client.force_login(PersonFactory(manager=True))

        assert client.get(reverse("jobs:photo", args=[photo.pk, "small"])).status_code == 404

    def test_a_stranger_is_sent_to_sign_in_and_the_answer_is_not_kept(self, client, photo):
        client.logout()

        response = client.get(reverse("jobs:photo", args=[photo.pk, "small"]))

        assert response.url.startswith("/sign-in/")
        assert "no-store" in response["Cache-Control"]

    def test_it_is_for_reading_only(self, client, photo):
        assert client.post(reverse("jobs:photo", args=[photo.pk, "small"])).status_code == 405


class TestWhoMayCome:
    @pytest.fixture
    def addresses(self):
        finding = FindingFactory()
        return {
            "finding-post": reverse("jobs:finding-post", args=[finding.job_id]),
            "finding-detail": reverse("jobs:finding-detail", args=[finding.pk]),
            "finding-photos": reverse("jobs:finding-photos", args=[finding.pk]),
        }

    @pytest.mark.parametrize(
        ("name", "method"),
        [("finding-post", "get"), ("finding-post", "post"), ("finding-detail", "get"), ("finding-photos", "post")],
    )
    def test_strangers_sign_in_and_other_shops_find_nothing(self, client, addresses, name, method):
        stranger = getattr(client, method)(addresses[name])
        client.force_login(PersonFactory(manager=True))
        other = getattr(client, method)(addresses[name])

        assert stranger.url.startswith("/sign-in/")
        assert other.status_code == 404
        assert not JournalEntry.objects.exists()

    @pytest.mark.parametrize(
        ("name", "method"), [("finding-post", "put"), ("finding-detail", "post"), ("finding-photos", "get")]
    )
    def test_other_methods_are_refused(self, client, technician, addresses, name, method):
        assert getattr(client, method)(addresses[name]).status_code == 405

    def test_a_manager_may_post_too(self, client):
        manager = PersonFactory(manager=True)
        client.force_login(manager)
        job = JobFactory(shop=manager.shop, in_bay=True)
        remedy = StandardRemedyFactory(shop=manager.shop)

        client.post(reverse("jobs:finding-post", args=[job.pk]), good_fields(remedy))

        assert Finding.objects.get().posted_by == manager
