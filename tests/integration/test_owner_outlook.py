"""What an owner is shown of their answers and the date: each day's cost, and all answers together."""

import re
from datetime import date, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db.models import F
from django.test import Client
from django.urls import reverse

from estimates.models import JobAnswers, Offer, OptionDate, QuestionOdds, QuestionOutlook, Revision, ShopPlan
from jobs.calc.faces import Face, Place
from jobs.models import ApprovalRequest, Decision, StationForecast
from jobs.services.approvals import Answer, record_decision
from jobs.services.verdicts import Evidence
from shopfloor.demo.telling import drain
from tests.factories import NOON, JobFactory, ReadingRoundFactory, StationFactory
from tests.scenes import answer_by_link, find_rot, opened_coach
from updates.links import make_link

pytestmark = pytest.mark.django_db


def two_questions():
    """A coach with two open questions, each with two ways to put it right."""
    scene = opened_coach(NOON)
    find_rot(scene)
    find_rot(
        scene,
        kind="exposed_wire",
        place=Place(Face.FRONT, 300, 200, 600, 300),
        seen="Bare over an edge.",
        evidence=Evidence(is_wet=False),
        remedy=scene.shop.standard_remedies.get(name="Protect wires"),
    )
    drain(NOON)
    return scene


@pytest.fixture(scope="module")
def kept(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(two_questions)


@pytest.fixture
def scene(kept):
    with time_machine.travel(NOON, tick=False):
        yield kept()


@pytest.fixture
def owner(scene):
    browser = Client()
    browser.get("/o/" + make_link(job=scene.job, owner=scene.owner, now=scene.now).split("/o/")[1])
    return browser


def story(scene):
    return reverse("updates:job-story", args=[scene.job.public_id])


def questions():
    return list(ApprovalRequest.objects.open().order_by("pk"))


def tries(*answers):
    return {f"try-{asked.finding_id}": str(answer) for asked, answer in zip(questions(), answers, strict=True)}


class TestEachDay:
    def test_the_page_names_the_last_day_that_moves_nothing_and_what_each_later_day_costs(self, owner, scene):
        outlook = QuestionOutlook.objects.get(request=questions()[0])

        page = owner.get(story(scene)).text

        assert outlook.later, "a rotten header holds the coach up sooner or later"
        for each in outlook.later:
            assert f"ready {each.ready_on:%A, %B} {each.ready_on.day}, {each.days} day" in page
        free_at = outlook.free_at.astimezone(ZoneInfo(scene.shop.time_zone))
        assert f"up to {free_at:%a, %b} {free_at.day}, " in page

    def test_an_answer_on_each_day_brings_the_date_that_was_foretold(self, scene):
        """The plan made after an answer that came late is the one that the page had named."""
        asked, other = questions()
        outlook = QuestionOutlook.objects.get(request=asked)
        late = outlook.later[-1]
        answer_by_link(scene, other, other.remedy, now=NOON)
        outlook = QuestionOutlook.objects.get(request=asked)
        late = outlook.later[-1]
        closing = scene.shop.calendar().day_shifts(late.day)[-1][1]

        with time_machine.travel(closing, tick=False):
            answer_by_link(scene, asked, asked.remedy, now=closing)

        scene.job.forecast.refresh_from_db()
        assert scene.job.forecast.expected_on >= late.ready_on
        assert scene.job.forecast.expected_on - late.ready_on <= timedelta(days=4), "nobody worked on it meanwhile"

    @pytest.mark.parametrize(("days", "is_said"), [(0, True), (1, False)])
    def test_where_no_day_looked_at_moves_a_date_the_pages_say_how_far_was_looked(
        self, client, owner, scene, days, is_said
    ):
        asked = questions()[0]
        outlook = QuestionOutlook.objects.get(request=asked)
        last = [each | {"days": days, "others": []} for each in outlook.days[-1:]]
        later = outlook.answer_at + timedelta(days=21)
        QuestionOutlook.objects.filter(pk=outlook.pk).update(days=last, free_at=later, free_for_all_at=later)
        client.force_login(scene.manager)

        owners = owner.get(story(scene)).text
        managers = client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).text

        assert ("; we have looked no further" in owners) == is_said
        assert ("; the plan was looked at no further" in managers) == is_said

    def test_the_manager_sees_it_too_with_the_other_coaches_by_name(self, client, owner, scene):
        client.force_login(scene.manager)
        other = JobFactory(shop=scene.shop, number=108, coach__make="Brindlewick")
        outlook = QuestionOutlook.objects.get(request=questions()[0])
        days = [each | {"others": [[other.pk, 2]]} for each in outlook.days]
        QuestionOutlook.objects.filter(pk=outlook.pk).update(days=days)

        page = client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).text

        assert "Latest answer that moves nothing" in page
        assert f"it moves {other.number} {other.coach} (+2 days)" in page
        assert "Brindlewick" not in owner.get(story(scene)).text


class TestWhichDateIsWhich:
    """Days are differences of the plan's dates, odds are dates of their own; no label stands for both."""

    def facts(self, owner, scene):
        """What stands beside each label of the first question."""
        page = owner.get(story(scene)).text
        first = page.split('<article class="ticket question"')[1]
        return [
            (label, " ".join(re.sub("<[^>]+>", " ", text).split()))
            for label, text in re.findall("<dt>(.*?)</dt><dd[^>]*>(.*?)</dd>", first, re.DOTALL)
        ]

    def keep_odds(self, scene, *, days_past_promise):
        safe_on = scene.job.promise.ready_on + timedelta(days=days_past_promise)
        odds = {"even_with_on": safe_on, "safe_with_on": safe_on}
        ShopPlan.objects.update(odds_at=F("made_at"))
        QuestionOdds.objects.create(
            request=questions()[0],
            even_without_on=safe_on - timedelta(days=3),
            safe_without_on=safe_on - timedelta(days=3),
            **odds,
        )
        return safe_on

    def test_without_odds_every_date_is_said_to_be_the_plans(self, owner, scene):
        said = self.facts(owner, scene)

        dated = [label for label, text in said if text.startswith("ready ")]
        assert dated.count("By our plan, if you say yes") == 2
        assert dated.count("By our plan, if you say no") == 1
        assert not [label for label, _ in said if label.startswith("Wise")]
        assert not [label for label, _ in said if label.startswith("Ready date")]

    def test_a_yes_is_counted_in_days_beside_a_no_and_against_the_promise(self, owner, scene):
        promised_on = scene.job.promise.ready_on
        rows = OptionDate.objects.filter(request=questions()[0], job=scene.job)
        rows.update(ready_on=promised_on + timedelta(days=3))
        rows.filter(remedy=None).update(ready_on=promised_on - timedelta(days=1))

        said = self.facts(owner, scene)

        yes = [text for label, text in said if label == "By our plan, if you say yes"]
        [no] = [text for label, text in said if label == "By our plan, if you say no"]
        assert all("4 days later than with a no; 3 days after the date we gave you" in text for text in yes)
        assert "; in time for the date we gave you" in no

    def test_nothing_is_in_time_while_a_spot_has_no_drying_date(self, owner, scene):
        assert any("the date we gave you" in text for _, text in self.facts(owner, scene))
        station = StationFactory(job=scene.job)
        StationForecast.objects.create(
            station=station,
            round=ReadingRoundFactory(job=scene.job),
            worked_out_at=NOON,
            outcome="rising",
            limit_pct=19.0,
            equilibrium_pct=9.0,
            rate_low_per_h=0.01,
            rate_per_h=0.02,
            rate_high_per_h=0.03,
            curve=[],
        )

        said = self.facts(owner, scene)

        assert not [text for _, text in said if "the date we gave you" in text]

    def test_odds_past_the_promise_stand_beside_the_plans_dates_under_their_own_name(self, owner, scene):
        safe_on = self.keep_odds(scene, days_past_promise=5)

        said = dict(self.facts(owner, scene))

        without_on = safe_on - timedelta(days=3)
        assert said["Wise to count on, if you say yes"] == f"{safe_on:%A, %B} {safe_on.day}"
        assert said["Wise to count on, if you say no"] == f"{without_on:%A, %B} {without_on.day}"
        assert "four times in five we are ready by then" in owner.get(story(scene)).text

    def test_odds_within_the_promise_are_no_help_and_are_not_told(self, owner, scene):
        self.keep_odds(scene, days_past_promise=0)

        assert not [label for label, _ in self.facts(owner, scene) if label.startswith("Wise")]

    def test_the_managers_page_says_which_dates_were_told_and_which_stand_now(self, client, scene):
        self.keep_odds(scene, days_past_promise=5)
        client.force_login(scene.manager)

        page = client.get(reverse("shopfloor:job-detail", args=[scene.job.pk])).text

        assert "The plan’s date with it, as told when asked" in page
        assert "With and without, by the plan as it stands now, if all goes well" in page
        assert "does to the odds" in page


class TestTogether:
    def test_every_way_to_answer_is_looked_at(self, scene):
        asked, other = questions()
        ways = JobAnswers.objects.get().ways

        picks = {tuple(way["picks"].values()) for way in ways}

        remedies = [[*each.choices.values_list("pk", flat=True), None] for each in (asked, other)]
        assert picks == {(one, two) for one in remedies[0] for two in remedies[1]}
        assert all(date.fromisoformat(way["ready_on"]) for way in ways)

    @pytest.mark.parametrize("answers", [("yes", "yes"), ("yes", "no"), ("no", "no")])
    def test_date_and_total_are_those_that_come_out_when_the_answers_are_given(self, owner, scene, answers):
        asked = questions()
        taken = [each.remedy if answer == "yes" else None for each, answer in zip(asked, answers, strict=True)]
        tried = tries(*(remedy.pk if remedy else "decline" for remedy in taken))
        told = next(
            way for way in JobAnswers.objects.get().ways if list(way["picks"].values()) == [t and t.pk for t in taken]
        )

        page = owner.get(story(scene), tried).text
        for each, remedy in zip(asked, taken, strict=True):
            answer_by_link(scene, each, remedy, now=NOON)

        total = Revision.objects.filter(job=scene.job).order_by("number").last().total_usd
        ready_on = date.fromisoformat(told["ready_on"])
        assert f"${total:,.2f}" in page
        assert f"{ready_on:%A, %B} {ready_on.day}" in page
        scene.job.forecast.refresh_from_db()
        # The page counts on answers at the time asked for; these came at once.
        assert scene.job.forecast.expected_on <= ready_on

    def test_trying_decides_nothing(self, owner, scene):
        asked, _ = questions()

        owner.get(story(scene), tries(asked.remedy_id, "decline"))

        assert not Decision.objects.exists()
        assert Revision.objects.filter(job=scene.job).count() == 1

    def test_nothing_is_picked_beforehand_and_no_result_shown(self, owner, scene):
        page = owner.get(story(scene)).text

        assert "Your answers together" in page
        assert "What you pay in all" not in page
        assert "selected" not in page.replace('<option value="" selected>', "")

    @pytest.mark.parametrize("answer", ["", "999999", "perhaps"])
    def test_a_try_that_is_none_of_them_is_refused_in_words_and_keeps_the_other(self, owner, scene, answer):
        asked, _ = questions()

        page = owner.get(story(scene), tries(asked.remedy_id, answer)).text

        assert "Please pick one." in page
        assert f'<option value="{asked.remedy_id}" selected>' in page
        assert "What you pay in all" not in page

    def test_for_one_question_alone_there_is_no_together(self, owner, scene):
        _, other = questions()
        answer_by_link(scene, other, None, now=NOON)

        page = owner.get(story(scene)).text

        assert "Your answers together" not in page
        assert not JobAnswers.objects.exists()

    def test_while_the_plan_knows_other_questions_nothing_is_told(self, owner, scene):
        asked, other = questions()
        record_decision(
            request_id=other.pk,
            seen_sha256=other.offer_sha256,
            answer=Answer(None, scene.owner.name, scene.owner, Decision.Channel.LINK, "192.0.2.1", "Test"),
            by=None,
            now=NOON,
        )

        page = owner.get(story(scene), tries(asked.remedy_id)).text

        assert "Your answers together" not in page

    def test_discounts_count_in_the_total(self, owner, scene, client):
        client.force_login(scene.manager)
        client.post(
            reverse("estimates:term-agree", args=[scene.job.pk]), {"words": "Agreed", "kind": "discount", "pct": "50"}
        )
        drain(NOON)
        agreed = Revision.objects.filter(job=scene.job).order_by("number").last().total_usd

        page = owner.get(story(scene), tries("decline", "decline")).text

        assert agreed > Decimal(0)
        assert f"${agreed:,.2f}" in page


class TestDatesOfToday:
    def test_a_card_gives_the_date_of_todays_plan_and_what_was_told_before_where_it_differs(self, owner, scene):
        asked, _ = questions()
        OptionDate.objects.filter(request=asked, remedy=asked.remedy, job=scene.job).update(ready_on="2026-04-01")
        offer = Offer.objects.get(sha256=asked.offer_sha256)

        page = owner.get(story(scene)).text

        assert "Wednesday, April 1" in page
        assert f"it was {offer.ready_with_on:%A, %B} {offer.ready_with_on.day} when we asked" in page

    def test_a_time_to_answer_that_is_past_is_called_so(self, owner, scene):
        asked, _ = questions()

        before = owner.get(story(scene)).text
        with time_machine.travel(asked.answer_by_at + timedelta(minutes=1), tick=False):
            after = owner.get(story(scene)).text

        assert "That is past." not in before
        assert "That is past. Please answer as soon as you can." in after
