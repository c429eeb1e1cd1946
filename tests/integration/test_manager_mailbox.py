"""The demo's mailbox, and the checks for whoever watches over the server."""

import os
from datetime import UTC, datetime

import pytest
from django.core.mail import EmailMultiAlternatives
from django.core.mail.backends.filebased import EmailBackend
from django.db import DatabaseError, connection

from shopfloor.mailbox import read_mailbox
from shopfloor.views import health

SITE = "http://127.0.0.1:8000"
LINK = f"{SITE}/o/abc_DEF-123/"


@pytest.fixture
def folder(tmp_path, settings):
    settings.DEMO = True
    settings.SITE_URL = SITE
    settings.MAILBOX_DIR = tmp_path / "mailbox"
    settings.MAILBOX_DIR.mkdir()
    return settings.MAILBOX_DIR


def send(folder, *messages):
    """Write mails as the demo's mail backend does: one connection, one file."""
    backend = EmailBackend(file_path=folder)
    backend.send_messages(messages)
    backend.close()


def mail(subject="We found rot", text=f"Hello Agnes.\n\n{LINK}\n\nThank you.\n", at="Wed, 04 Mar 2026 18:00:00 +0000"):
    message = EmailMultiAlternatives(
        subject, text, "Harrowbend <desk@harrowbend.example>", ["agnes@post.example"], headers={"Date": at}
    )
    message.attach_alternative(f"<p>{text}</p>", "text/html")
    return message


class TestMailbox:
    def test_a_mail_is_shown_with_its_link(self, client, folder):
        send(folder, mail("Größe of the rot – please answer"))

        page = client.get("/mailbox/").content.decode()

        assert "Größe of the rot – please answer" in page
        assert "Hello Agnes." in page
        assert f'href="{LINK}"' in page

    def test_the_newest_stands_first(self, folder):
        send(folder, mail("older"), mail("newer", at="Wed, 04 Mar 2026 19:00:00 +0000"))
        send(folder, mail("oldest", at="Wed, 04 Mar 2026 08:00:00 +0000"))

        mails = read_mailbox(folder, site_url=SITE)

        assert [each.subject for each in mails] == ["newer", "older", "oldest"]
        assert mails[0].sent_at == datetime(2026, 3, 4, 19, tzinfo=UTC)

    def test_only_links_to_this_site_are_offered(self, folder):
        send(folder, mail(text="See\nhttp://elsewhere.example/o/abc/\nplease\n"))

        assert read_mailbox(folder, site_url=SITE)[0].link == ""

    def test_what_a_mail_says_is_never_run(self, client, folder):
        send(folder, mail("<script>alert(1)</script>", text="<img src=x onerror=alert(1)>"))

        page = client.get("/mailbox/").content.decode()

        assert "<script>alert" not in page
        assert "<img src=x" not in page

    def test_what_is_no_mail_is_left_out(self, folder):
        (folder / "20260304-1.log").write_bytes(os.urandom(300))
        (folder / "empty.log").touch()
        send(folder, mail())

        assert len(read_mailbox(folder, site_url=SITE)) == 1

    def test_an_empty_or_missing_mailbox_says_so(self, client, folder):
        folder.rmdir()

        assert "No mail has been sent yet." in client.get("/mailbox/").content.decode()

    def test_outside_the_demo_there_is_no_mailbox(self, client, folder, settings):
        settings.DEMO = False

        assert client.get("/mailbox/").status_code == 404

    def test_nothing_can_be_posted_to_it(self, client, folder):
        assert client.post("/mailbox/").status_code == 405


@pytest.mark.django_db
class TestHealth:
    def test_a_process_that_is_up_says_so_to_anybody(self, client):
        response = client.get("/healthz")

        assert (response.status_code, response.content) == (200, b"up\n")

    def test_ready_means_that_database_and_broker_answer(self, client, monkeypatch):
        monkeypatch.setattr(health, "app", Broker())

        response = client.get("/readyz")

        assert (response.status_code, response.content) == (200, b"ready\n")

    def test_a_broker_out_of_reach_is_not_ready_and_tells_no_detail(self, client, monkeypatch):
        monkeypatch.setattr(health, "app", Broker(ConnectionRefusedError("redis://secret@10.0.0.7")))

        response = client.get("/readyz")

        assert (response.status_code, response.content) == (503, b"not ready\n")

    def test_a_database_out_of_reach_is_not_ready(self, client, monkeypatch):
        monkeypatch.setattr(health, "app", Broker())
        monkeypatch.setattr(connection, "cursor", fail_with(DatabaseError("host 10.0.0.8 is down")))

        response = client.get("/readyz")

        assert (response.status_code, response.content) == (503, b"not ready\n")

    @pytest.mark.parametrize("path", ["/healthz", "/readyz"])
    def test_nothing_can_be_posted(self, client, path):
        assert client.post(path).status_code == 405


class Broker:
    """A broker that answers, or fails as it would over the network."""

    def __init__(self, failure=None):
        self.failure = failure

    def connection_for_read(self):
        return self

    def __enter__(self):
        return self

    def __exit__(self, *args):
        return None

    def ensure_connection(self, **options):
        if self.failure:
            raise self.failure


def fail_with(error):
    def fail(*args, **kwargs):
        raise error

    return fail
