"""The whole loop as people do it, against the running product with a real worker and a real mail server."""

import re

import pytest
from playwright.sync_api import expect

from tests.scenes import jpeg
from tests.support.loop import sign_in


def link_in(message) -> str:
    text = message.get_body(("plain",)).get_content()
    return re.search(r"http://\S+/o/\S+", text).group()


@pytest.mark.parametrize("javascript", [True, False], ids=["with JavaScript", "without JavaScript"])
def test_a_finding_goes_from_the_phone_to_the_owner_to_the_board(opened_shop, page_maker, javascript, tmp_path):
    photo = tmp_path / "header.jpg"
    photo.write_bytes(jpeg(width_px=1200, height_px=900))

    # The technician, on a phone.
    phone = page_maker("phone", javascript=javascript)
    sign_in(phone, opened_shop, "tech")
    phone.locator("main a[href*='/shop/jobs/']").first.click()
    phone.locator("a[href$='/post/']").click()
    phone.locator("input[type=file]").last.set_input_files(photo)
    phone.locator("[name=kind]").select_option("rotten_framing")
    phone.locator("[name=face]").select_option("front")
    for name, value in {"left": "4", "top": "0", "width": "6'", "height": "6"}.items():
        phone.locator(f"[name={name}]").fill(value)
    phone.locator("[name=seen]").fill("Header is soft from end to end.")
    phone.locator("[name=remedy]").select_option(label="Cut out and splice framing")
    phone.locator("form:has([name=kind]) button[type=submit]").last.click()
    expect(phone.locator("main")).to_contain_text("Header is soft from end to end.")

    # The worker prices it, plans it and writes to the owner.
    [asked] = opened_shop.mail.wait_for(1)
    price = re.search(r"\$[\d,]+\.\d\d", asked.get_body(("plain",)).get_content()).group()
    phone.reload()
    expect(phone.locator("main")).to_contain_text(price)

    # The owner, by the link in the mail.
    owner = page_maker("phone", javascript=javascript)
    owner.goto(link_in(asked))
    expect(owner.locator("main")).to_contain_text("We found rotten framing")
    expect(owner.locator("main")).to_contain_text(price)
    picture = owner.locator(".question img").first
    assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 0 if javascript else True
    owner.get_by_label("Yes, please do this work").check()
    owner.get_by_label("Type your name to sign").fill("Delia Marchbanks")
    owner.get_by_role("button", name="Send my answer").click()
    expect(owner.get_by_role("heading", level=1)).to_contain_text("Thank you, Delia Marchbanks")
    confirmed = opened_shop.mail.wait_for(2)[1]
    assert "You said yes" in confirmed["Subject"]

    # The agreed work as a paper.
    owner.goto(link_in(confirmed))
    href = owner.locator("a[href$='/agreed/2.pdf']").get_attribute("href")
    paper = owner.request.get(f"{opened_shop.url}{href}")
    assert paper.headers["content-type"] == "application/pdf"
    assert paper.body().startswith(b"%PDF")

    # The manager, at the desk.
    desk = page_maker("desktop", javascript=javascript)
    sign_in(desk, opened_shop, "boss")
    expect(desk.locator("main")).to_contain_text("Larkmoor Finch")
    desk.goto(f"{opened_shop.url}/manager/")
    job = desk.locator("main a[href*='/manager/jobs/']").filter(has_text="Larkmoor").first
    desk.goto(f"{opened_shop.url}{job.get_attribute('href')}")
    expect(desk.locator("main")).to_contain_text("Revision 2")
    expect(desk.locator("main")).to_contain_text("Owner decided")
    assert opened_shop.manage("verify_journal").startswith("The journals of 1 jobs are whole.")


@pytest.mark.parametrize("profile", ["phone", "desktop"])
def test_a_refused_finding_keeps_what_was_typed(opened_shop, page_maker, profile):
    page = page_maker(profile)
    sign_in(page, opened_shop, "tech")
    page.locator("main a[href*='/shop/jobs/']").first.click()
    page.locator("a[href$='/post/']").click()
    page.locator("[name=seen]").fill("Written with cold fingers.")
    page.locator("[name=left]").fill("a hand's width")
    page.evaluate("document.querySelectorAll('form').forEach(form => form.noValidate = true)")

    with page.expect_response(lambda response: response.request.method == "POST") as answered:
        page.locator("form:has([name=kind]) button[type=submit]").last.click()

    assert answered.value.status == 422
    expect(page.locator("[name=seen]")).to_have_value("Written with cold fingers.")
    expect(page.locator("[name=left]")).to_have_value("a hand's width")
    assert (
        opened_shop.python("from jobs.models import Finding; print(Finding.objects.filter(is_booked=False).count())")
        == "0"
    )
