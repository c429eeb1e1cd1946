"""Remedies picked on the phone and changed at the desk, with scripts and without."""

import re

import pytest
from playwright.sync_api import expect

from tests.support.loop import sign_in

pytestmark = pytest.mark.one_database


@pytest.mark.parametrize("javascript", [True, False], ids=["with JavaScript", "without JavaScript"])
def test_what_fits_is_picked_and_later_changed_with_one_word_to_the_owner(opened_shop, page_maker, javascript):
    phone = page_maker("phone", javascript=javascript)
    sign_in(phone, opened_shop, "tech")
    phone.locator("main a[href*='/shop/jobs/']").first.click()
    phone.locator("a[href$='/post/']").click()
    phone.locator("[name=kind]").select_option("rotten_framing")
    phone.locator("[name=face]").select_option("front")
    for name, value in {"left": "4", "top": "0", "width": "6'", "height": "6", "moisture_pct": "12"}.items():
        phone.locator(f"[name={name}]").fill(value)
    phone.locator("[name=seen]").fill("Header is soft from end to end.")
    phone.locator("[name=probe_depth]").fill("1")
    phone.locator("[name=probe_depth]").blur()
    if not javascript:
        phone.get_by_role("button", name="See what fits").click()

    # What fits, and what leaving it means; one of them is taken off.
    fits = phone.locator("#fits")
    expect(fits).to_contain_text("Leave as is. The owner may always choose this. The rot goes on")
    expect(fits.locator("input:checked")).to_have_count(2)
    fits.get_by_label("Replace the whole member").uncheck()
    phone.get_by_role("button", name="Post this finding").click()
    [asked] = opened_shop.mail.wait_for(1)
    assert "Number 2" not in asked.get_body(("plain",)).get_content()

    # The manager offers something else, and says why.
    desk = page_maker("desktop", javascript=javascript)
    sign_in(desk, opened_shop, "boss")
    desk.goto(phone.url)
    desk.get_by_role("link", name="Change the remedies").click()
    desk.get_by_label("The one we recommend").select_option(label="Replace the whole member")
    desk.get_by_label("Why?").fill("The rot runs further than we saw")
    desk.get_by_role("button", name="Change it and tell the owner").click()
    expect(desk.locator("main")).to_contain_text("Replace the whole member (recommended)")

    changed = opened_shop.mail.wait_for(2)[1]
    assert changed["Subject"].startswith("Please answer: we changed our plan for the rotten framing")
    said = changed.get_body(("plain",)).get_content()
    assert "The rot runs further than we saw." in said
    owner = page_maker("phone", javascript=javascript)
    owner.goto(re.search(r"http://\S+/o/\S+", said).group())
    expect(owner.locator(".question")).to_contain_text("We changed our plan for this")
    expect(owner.locator(".question form")).to_have_count(1)
