"""The agreed work on the screen and on paper."""

from decimal import Decimal
from io import BytesIO

import pytest
import time_machine
from django.conf import settings
from django.urls import reverse
from pypdf import PdfReader

from estimates.documents import render_revision
from estimates.models import Revision
from estimates.sheet import read_sheet
from jobs.models import ApprovalRequest, Decision
from jobs.papers import check_address
from jobs.services.approvals import Answer, record_decision
from shopfloor.demo.telling import drain
from tests.factories import NOON, PersonFactory
from tests.scenes import find_rot

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


@pytest.fixture
def revision(scene):
    """Revision 2: the owner has said yes to rotten framing."""
    find_rot(scene)
    drain(NOON)
    asked = ApprovalRequest.objects.open().get()
    record_decision(
        request_id=asked.pk,
        seen_sha256=asked.offer_sha256,
        answer=Answer(asked.remedy, "Delia Ü. Marchbanks", scene.owner, Decision.Channel.PHONE, phone="+1 555 0177"),
        by=scene.manager,
        now=NOON,
    )
    drain(NOON)
    return Revision.objects.get(job=scene.job, number=2)


def page_of(revision):
    return reverse("estimates:revision-detail", args=[revision.pk])


def paper_of(revision):
    return reverse("estimates:revision-paper", args=[revision.pk])


def words_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


class TestSheet:
    def test_the_groups_add_up_to_the_total(self, revision):
        sheet = read_sheet(revision)

        together = sum((group.amount_usd for group in sheet.groups), Decimal(0))
        assert together + sheet.totals["tax_usd"] == revision.total_usd
        assert sheet.hours == sum(group.hours for group in sheet.groups)

    def test_what_is_new_is_told_apart(self, revision):
        sheet = read_sheet(revision)

        assert [group.finding_number for group in sheet.added] == [3]
        assert sheet.change_usd == revision.total_usd - revision.job.revisions.get(number=1).total_usd
        assert [agreement.number for agreement in sheet.agreements] == [1, 2]

    def test_in_the_first_revision_nothing_is_new(self, revision):
        sheet = read_sheet(revision.job.revisions.get(number=1))

        assert sheet.added == ()
        assert sheet.change_usd is None


class TestPage:
    def test_it_shows_lines_total_and_what_changed(self, client, revision):
        page = client.get(page_of(revision)).content.decode()

        assert "Splice in new framing" in page
        assert f"${revision.total_usd:,.2f}" in page
        assert "Since revision 1" in page
        assert "Delia Ü. Marchbanks, by phone" in page

    def test_technicians_of_the_shop_may_read_it(self, client, scene, revision):
        client.force_login(scene.technician)

        assert client.get(page_of(revision)).status_code == 200

    @pytest.mark.parametrize("address", [page_of, paper_of])
    def test_other_shops_strangers_and_posts_are_refused(self, client, revision, address):
        assert client.post(address(revision)).status_code == 405
        client.force_login(PersonFactory(manager=True))
        assert client.get(address(revision)).status_code == 404
        client.force_login(PersonFactory(shop=None, is_superuser=True))
        assert client.get(address(revision)).status_code == 404
        client.logout()
        assert client.get(address(revision))["Location"].startswith(reverse("jobs:sign-in"))


class TestPaper:
    def test_it_holds_job_coach_lines_total_name_and_fingerprint(self, client, scene, revision):
        response = client.get(paper_of(revision))

        words = words_of(response.content)
        assert response["Content-Type"] == "application/pdf"
        assert response["Content-Disposition"] == f'inline; filename="agreed-work-{scene.job.number}-2.pdf"'
        assert str(scene.job.number) in words
        assert str(scene.coach) in words
        for line in (line for group in read_sheet(revision).groups for line in group.lines):
            assert line.words in words
            assert f"${line.amount_usd:,.2f}" in words
        assert f"${revision.total_usd:,.2f}" in words
        assert "Delia Ü. Marchbanks, by phone" in words
        assert "Mar 4, 2026, 12:00 PM CST" in words
        assert revision.sha256 in words.replace(" ", "") or revision.sha256 in words

    def test_it_defers_to_law_and_licensed_trades(self, revision):
        words = words_of(render_revision(revision))

        assert "Local consumer law applies." in words
        assert "licensed trades" in words
        assert "LP gas" in words

    def test_it_is_tagged_titled_and_numbered(self, revision):
        pdf = PdfReader(BytesIO(render_revision(revision)))

        root = pdf.trailer["/Root"]
        assert root["/MarkInfo"]["/Marked"]
        assert root["/StructTreeRoot"]["/K"]
        assert root["/Lang"] == "en"
        assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()
        assert pdf.metadata.title == f"Agreed work, job {revision.job.number}, revision 2"
        assert f"Page 1 of {len(pdf.pages)}" in pdf.pages[0].extract_text()

    @pytest.mark.one_database  # how it is set
    def test_a_long_agreement_breaks_over_pages_and_keeps_its_head(self, scene):
        first = scene.job.revisions.get(number=1)
        long = Revision(
            job=scene.job,
            number=1,
            content=first.content | {"groups": first.content["groups"] * 40},
            sha256="f" * 64,
            total_usd=first.total_usd,
            agreed_by=first.agreed_by,
            issued_at=NOON,
        )

        pdf = PdfReader(BytesIO(render_revision(long)))

        assert len(pdf.pages) > 3
        assert all("AMOUNT" in page.extract_text().upper() for page in pdf.pages[:-1])

    def test_hostile_words_stay_words(self, scene):
        first = scene.job.revisions.get(number=1)
        scene.job.complaint = '<img src="file:///etc/hostname"> & <b>bold</b>'
        hostile = Revision(
            job=scene.job,
            number=1,
            content=first.content,
            sha256="f" * 64,
            total_usd=first.total_usd,
            agreed_by="<script>x</script>",
            issued_at=NOON,
        )

        words = words_of(render_revision(hostile))

        assert "<b>bold</b>" in words

    @pytest.mark.parametrize(
        "url",
        [
            "file:///etc/passwd",
            f"{(settings.BASE_DIR / 'static').as_uri()}/../manage.py",
            f"{(settings.BASE_DIR / 'static').as_uri()}/%2e%2e/manage.py",
            "http://127.0.0.1/static/css/base.css",
            "file://elsewhere/work/static/css/base.css",
            f"{settings.BASE_DIR.as_uri()}/static-not/x.css",
        ],
    )
    def test_only_static_files_can_be_read_while_it_is_drawn(self, url):
        with pytest.raises(ValueError, match="static files only"):
            check_address(url)

    def test_the_style_sheets_can_be_read(self):
        check_address(f"{(settings.BASE_DIR / 'static').as_uri()}/css/print.css")
