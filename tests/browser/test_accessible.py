"""Every main page against the accessibility rules of axe (WCAG 2.2 AA and best practice), on the demo's own data."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe

from shopfloor.demo import scenario
from tests.support.fixtures import PATIENCE_MS
from tests.support.loop import PASSWORD, sign_in

pytestmark = pytest.mark.one_database
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="module")
def demo(stack_maker):
    """The running product with the demo loaded, and the pages to look at by who opens them."""
    assert scenario.PASSWORD == PASSWORD
    with stack_maker() as stack:
        printed = stack.manage("load_demo")
        link = re.search(r"http://\S+/o/\S+", printed).group()
        ids = stack.python(
            "from jobs.models import Finding, Job; job = Job.objects.get(coach__make='Larkmoor Finch')\n"
            "drying = Job.objects.get(coach__make='Fenwarrick 30')\n"
            "judged = Finding.objects.filter(job=drying).exclude(verdict='').last()\n"
            "asked = Finding.objects.filter(requests__closed_at__isnull=True, requests__isnull=False).first()\n"
            "remedy, material = job.shop.standard_remedies.first(), job.shop.materials.first()\n"
            "print(job.pk, job.findings.last().pk, drying.pk, judged.pk, asked.pk, remedy.pk, material.pk)"
        ).split()
        yield stack, link, ids


def pages(link, ids):
    job, finding, drying, judged, asked, remedy, material = ids
    return {
        None: ["/sign-in/", link, "/mailbox/", "/o/nothing-here/"],
        "tobias": [
            "/",
            f"/shop/jobs/{job}/",
            f"/shop/jobs/{job}/post/",
            f"/shop/jobs/{job}/framing/",
            f"/shop/findings/{finding}/",
            f"/shop/findings/{judged}/",
            f"/shop/findings/{judged}/evidence/",
            f"/shop/jobs/{job}/drying/",
            f"/shop/jobs/{drying}/drying/",
            f"/shop/jobs/{drying}/stations/mark/",
            f"/shop/jobs/{drying}/round/",
        ],
        "wren": [
            "/manager/",
            "/manager/jobs/",
            f"/manager/jobs/{job}/",
            "/manager/jobs/book/",
            "/manager/today/",
            "/manager/moves/",
            "/manager/odds-record/",
            "/manager/people/",
            "/manager/equipment/",
            f"/manager/what-if/?move1={job}&to1=outside&ask=1",
            "/manager/first-date/?length=26&wait_hours=24&arrives_on=&ask=1",
            "/shop/limits/",
            "/estimates/actuals/",
            "/estimates/catalogue/",
            "/estimates/catalogue/load/",
            "/estimates/catalogue/rates/",
            "/estimates/catalogue/remedies/new/",
            f"/estimates/catalogue/remedies/{remedy}/",
            f"/estimates/catalogue/materials/{material}/",
            f"/estimates/jobs/{job}/price/",
            f"/shop/findings/{asked}/remedies/",
        ],
    }


def faults_of(page, profile):
    """What axe finds on the page as it stands, and whether it runs off a narrow screen."""
    found = Axe().run(page, options={"runOnly": TAGS, "resultTypes": ["violations"]}).response["violations"]
    faults = [(fault["id"], fault["nodes"][0]["html"][:200]) for fault in found]
    if profile == "phone":
        page.set_viewport_size({"width": 320, "height": 800})
        if page.evaluate("document.documentElement.scrollWidth > 320"):
            faults.append("runs off the side at 320 px")
        page.set_viewport_size({"width": 412, "height": 839})
    return faults


def views_of(page):
    """The page as it opens, then each further step of a form that is walked step by step, then with all folds open."""
    yield "as it opens"
    following = page.locator("[data-round-next]")
    while following.is_visible():
        following.click()
        yield page.locator("[data-round-step]:visible > legend").inner_text()
    if folds := page.locator("main details:not([open])").count():
        page.evaluate("document.querySelectorAll('main details').forEach((fold) => (fold.open = true))")
        yield f"{folds} folds opened"


@pytest.mark.parametrize("profile", ["phone", "desktop"])
@pytest.mark.parametrize("person", [None, "tobias", "wren"], ids=["nobody", "technician", "manager"])
def test_no_page_breaks_an_accessibility_rule_or_runs_off_a_narrow_screen(demo, browser, profile, person):
    stack, link, ids = demo
    context = browser.new_context(**browser.profiles[profile])
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    if person:
        sign_in(page, stack, person)
    faults = {}

    for address in pages(link, ids)[person]:
        page.goto(address if address.startswith("http") else stack.url + address)
        for view in views_of(page):
            if found := faults_of(page, profile):
                faults[f"{address} {view}"] = found

    context.close()
    assert faults == {}


def test_the_pages_that_are_looked_at_show_what_they_are_for(demo, browser):
    """A page without stations or verdict would pass for the wrong reason."""
    stack, _, ids = demo
    drying, judged = ids[2:4]
    context = browser.new_context()
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    sign_in(page, stack, "tobias")

    page.goto(f"{stack.url}/shop/jobs/{drying}/round/")
    steps = [view for view in views_of(page) if view.startswith("Station")]
    page.goto(f"{stack.url}/shop/jobs/{drying}/drying/")
    charts = page.locator(".station img").count()
    page.goto(f"{stack.url}/shop/findings/{judged}/")
    verdict = page.locator(".verdict .lead").inner_text()

    context.close()
    assert len(steps) == charts == 6
    assert verdict != ""
