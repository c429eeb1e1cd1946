"""The work sheet and the condition report: nothing in them is a price."""

from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.urls import reverse

from estimates.material_list import read_material
from estimates.papers.work_sheet import render_work_sheet
from jobs.models import HoldPoint, Photo
from jobs.papers import render_condition_report
from jobs.papers.condition_report import PAPER_PHOTO_PX
from jobs.papers.work_sheet import page_address, qr_png
from jobs.services.verdicts import judge_finding, limits_of, overrule_verdict, read_stations
from shopfloor.templatetags.shop import hours, length
from tests.factories import NOON, FindingFactory, JobFactory
from tests.paper_scenes import bookmarks_of, finish_work, opened, told_job, words_of
from tests.scenes import jpeg, opened_coach
from tests.support.qr import modules_of, text_of

# Drawing is dear; that each paper of a job opens on every database is shown in test_papers_of_job.py.
pytestmark = [pytest.mark.django_db, pytest.mark.one_database]

LATER = NOON + timedelta(hours=28)


@pytest.fixture(scope="module")
def kept_job(keeper):
    return keeper(told_job, NOON)


@pytest.fixture
def scene(kept_job):
    return kept_job()


class TestWorkSheet:
    def test_agreed_work_stands_by_phase_with_hours_skill_and_crew(self, scene):
        pdf = render_work_sheet(scene.job, now=LATER)

        words = words_of(pdf)
        operations = list(scene.job.operations.all())
        assert len(operations) >= 4
        for operation in operations:
            assert operation.words in words
            assert hours(operation.hours) in words
            if operation.skill:
                assert f"{operation.skill} {operation.crew} p" in words
        phases = [each for each in bookmarks_of(pdf) if each.endswith("of labour")]
        assert [each.partition(". ")[2].partition(",")[0] for each in phases] == ["Open up", "Framing", "Seal and fit"]

    def test_how_the_coach_is_framed_stands_at_the_head_as_far_as_it_is_known(self, scene):
        scene.job.coach.wall_spacing_mm = 609.6
        scene.job.coach.save()

        words = words_of(render_work_sheet(scene.job, now=LATER))

        assert "Roof: 16 in apart, from side to side (assumed). Wall: 24 in apart, upright." in words

    def test_what_to_fetch_stands_by_finding_with_its_cuts(self, scene):
        pdf = render_work_sheet(scene.job, now=LATER)

        words = words_of(pdf)
        for each in read_material(scene.job):
            assert f"{each.label.capitalize()}, {each.words}" in words
            for row in each.rows:
                assert f"{row.quantity} {row.name}" in words
                assert all(cut in words for cut in row.cuts)
        assert "Material to fetch" in bookmarks_of(pdf)

    def test_cautions_come_before_the_work(self, scene):
        marks = bookmarks_of(render_work_sheet(scene.job, now=LATER))

        assert marks.index("Take care first") < marks.index("Not agreed: do not start") < marks.index("Agreed work")

    def test_cautions_name_the_finding_or_the_remedy_and_defer(self, scene):
        words = words_of(render_work_sheet(scene.job, now=LATER))

        assert "Finding 4. Mould under 10 sq ft" in words
        assert "Cut out and splice framing. Prop the roof" in words
        assert "Product labels, local codes and licensed trades come before this sheet." in words

    def test_what_is_open_or_declined_is_not_to_be_started(self, scene):
        words = words_of(render_work_sheet(scene.job, now=LATER))

        assert "has not answered about finding 5 (loose decking)" in words
        assert "said no to finding 4 (mould)" in words
        assert "Replace decking" not in words.partition("Agreed work")[2]

    def test_hold_points_have_a_line_to_sign_until_they_are_passed(self, scene):
        waiting = HoldPoint.objects.filter(operation__job=scene.job).count()
        before = words_of(render_work_sheet(scene.job, now=LATER))

        scene.job.findings.get(number=5).requests.update(closed_at=LATER)
        finish_work(scene, LATER, fail_first=True)
        after = words_of(render_work_sheet(scene.job, now=LATER))

        assert waiting >= 2
        assert before.count("signed by a manager") == waiting
        assert after.count("signed by a manager") == 0
        assert after.count(f"Signed off by {scene.manager.get_full_name()}") == waiting
        assert "Glue line is open. Done again" in after

    def test_places_stand_with_their_measures_in_the_shops_units(self, scene):
        words = words_of(render_work_sheet(scene.job, now=LATER))

        for finding in scene.job.findings.all():
            for mm in (finding.left_mm, finding.top_mm, finding.width_mm, finding.height_mm):
                assert length(mm, scene.shop) in words

    def test_a_metric_shop_reads_metres_on_a4(self):
        finding = FindingFactory(job__shop__units="metric", left_mm=1250.0)

        pdf = render_work_sheet(finding.job, now=NOON)

        assert "1.25 m" in words_of(pdf)
        assert round(opened(pdf).pages[0].mediabox.width) == 595

    def test_the_qr_code_opens_the_technicians_page(self, scene, settings):
        settings.SITE_URL = "https://shop.example"
        address = page_address(scene.job)

        pdf = render_work_sheet(scene.job, now=LATER)

        assert address == f"https://shop.example{reverse('jobs:job-detail', args=[scene.job.pk])}"
        assert text_of(modules_of(qr_png(address))) == address
        # The very picture on the sheet, and not only the one that was made.
        assert any(_reads(image.image, address) for image in opened(pdf).pages[0].images)
        assert address in words_of(pdf).replace(" ", "")


class TestConditionReport:
    def test_every_finding_stands_with_place_evidence_verdict_and_reasons(self, scene):
        pdf = render_condition_report(scene.job, now=LATER)

        words = words_of(pdf)
        stations, limits = read_stations(scene.job), limits_of(scene.shop)
        for finding in scene.job.findings.select_related("job__shop"):
            assert f"{finding.label.capitalize()}: {finding.get_kind_display()}" in bookmarks_of(pdf)
            assert finding.seen in words
            assert f"Verdict: {finding.verdict_words}" in words
            for reason in judge_finding(finding, stations, limits).reasons:
                assert reason in words
        assert "mains wiring" in words
        assert "$" not in words

    def test_every_photo_is_on_paper_and_made_small_for_it(self, scene):
        Photo.objects.first().large.save("large.jpg", ContentFile(jpeg(width_px=1600, height_px=1200)))

        reader = opened(render_condition_report(scene.job, now=LATER))

        # Every page may name all of them; each is in the file once, and so is the one that findings 4 and 5 share.
        images = {image.indirect_reference.idnum: image for page in reader.pages for image in page.images}
        sizes = [image.image.size for image in images.values()]
        assert Photo.objects.count() == 5
        assert len(sizes) == 4
        assert max(max(size) for size in sizes) == PAPER_PHOTO_PX

    def test_photos_that_are_not_there_are_said(self, scene):
        first, second, *_ = Photo.objects.order_by("pk")
        first.large.storage.delete(first.large.name)
        Photo.objects.filter(pk=second.pk).update(large="", small="")

        words = words_of(render_condition_report(scene.job, now=LATER))

        assert "This photo cannot be read." in words
        assert "This photo is still being made ready." in words

    def test_stations_stand_with_first_and_last_reading(self, scene):
        words = words_of(render_condition_report(scene.job, now=LATER))

        assert "1, framing the front wall, high up, in the middle 32.2 % 26.7 % 19 %" in words

    def test_a_persons_own_verdict_stands_beside_the_computed_one(self, scene):
        finding = scene.job.findings.get(number=3)
        overrule_verdict(
            finding_id=finding.pk, verdict="soft", reason="Only the skin of it.", by=scene.manager, now=LATER
        )

        words = words_of(render_condition_report(scene.job, now=LATER))

        assert f"{scene.manager.get_full_name()} decided so" in words
        assert "Only the skin of it. The evidence itself says: rotted." in words

    def test_unsafe_to_leave_stands_out(self):
        finding = FindingFactory(is_unsafe_to_leave=True)

        assert words_of(render_condition_report(finding.job, now=NOON)).count("nsafe to leave") == 1

    def test_of_a_booked_job_it_shows_what_was_reported(self):
        scene = opened_coach(NOON)

        assert "Known at booking" in words_of(render_condition_report(scene.job, now=NOON))

    @pytest.mark.one_database  # how it is set
    def test_a_long_report_has_no_heading_alone_at_the_foot(self):
        job = JobFactory(arrived=True)
        for _ in range(14):
            FindingFactory(job=job, seen="Batt is soaked right across, and the batten behind it is dark. " * 3)

        reader = opened(render_condition_report(job, now=NOON))

        assert len(reader.pages) > 4
        for page in reader.pages[:-1]:
            # The foot of the page stands last: running title and page number.
            lines = [line for line in page.extract_text().splitlines() if line.strip() and "Page " not in line]
            body = [line for line in lines if not line.startswith("Condition report, job")]
            assert not body[-1].startswith(("Finding ", "Evidence", "Verdict", "Moisture"))


def _reads(image, address):
    from io import BytesIO

    out = BytesIO()
    image.convert("RGB").save(out, "PNG")
    try:
        return text_of(modules_of(out.getvalue())) == address
    except (ValueError, IndexError, ZeroDivisionError):
        return False
