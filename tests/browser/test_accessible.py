"""Every main page against the accessibility rules of axe (WCAG 2.2 AA and best practice), on the demo's own data."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe

from shopfloor.demo.scenario import PASSWORD

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="module")
def demo(stack_maker):
    """The running product with the demo loaded, and the pages to look at by who opens them."""
    with stack_maker() as stack:
        printed = stack.manage("load_demo")
        link = re.search(r"http://\S+/o/\S+", printed).group()
        ids = stack.python(
            "from jobs.models import Job; job = Job.objects.get(coach__make='Larkmoor Finch')\n"
            "print(job.pk, job.findings.last().pk)"
        ).split()
        yield stack, link, ids


def pages(link, ids):
    job, finding = ids
    return {
        None: ["/sign-in/", link, "/mailbox/", "/o/nothing-here/"],
        "tobias": ["/", f"/shop/jobs/{job}/", f"/shop/jobs/{job}/post/", f"/shop/findings/{finding}/"],
        "wren": ["/manager/", "/manager/jobs/", f"/manager/jobs/{job}/", "/manager/jobs/book/"],
    }


@pytest.mark.parametrize("profile", ["phone", "desktop"])
@pytest.mark.parametrize("person", [None, "tobias", "wren"], ids=["nobody", "technician", "manager"])
def test_no_page_breaks_an_accessibility_rule_or_runs_off_a_narrow_screen(demo, browser, profile, person):
    stack, link, ids = demo
    context = browser.new_context(**browser.profiles[profile])
    page = context.new_page()
    if person:
        page.goto(f"{stack.url}/sign-in/")
        page.locator("[name=username]").fill(person)
        page.locator("[name=password]").fill(PASSWORD)
        page.locator("main button[type=submit]").click()
        page.wait_for_load_state()
    faults = {}

    for address in pages(link, ids)[person]:
        page.goto(address if address.startswith("http") else stack.url + address)
        found = Axe().run(page, options={"runOnly": TAGS}).response["violations"]
        if found:
            faults[address] = [(fault["id"], fault["nodes"][0]["html"][:200]) for fault in found]
        if profile == "phone":
            page.set_viewport_size({"width": 320, "height": 800})
            if page.evaluate("document.documentElement.scrollWidth > 320"):
                faults[f"{address} at 320 px"] = "runs off the side"
            page.set_viewport_size({"width": 412, "height": 839})

    context.close()
    assert faults == {}
