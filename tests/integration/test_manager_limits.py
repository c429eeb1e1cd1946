"""The shop's limits: each with its default and origin, set by the manager within its range."""

import re

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils.html import escape

from jobs import kinds
from jobs.calc.moisture.limits import LIMITS
from jobs.errors import JobError
from jobs.models import JournalEntry, Person, Shop, ShopLimit
from jobs.services.drying import limits_of
from jobs.services.moisture import set_altitude
from shopfloor.demo.telling import drain
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

LIMITS_PAGE = reverse("jobs:limits-edit")
SHOWN = {
    "us": {"soft_from_mm": '1/8"', "replace_beyond_mm": '3/8"'},
    "metric": {"soft_from_mm": "3.2 mm", "replace_beyond_mm": "9.5 mm"},
}


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def manager(client):
    person = PersonFactory(manager=True)
    client.force_login(person)
    return person


@pytest.fixture
def shop(manager):
    return manager.shop


@pytest.fixture
def post(client, shop):
    """Send the page as it is shown, with some fields changed."""

    def send(**changes):
        return client.post(LIMITS_PAGE, shown_on(client) | changes)

    return send


def shown_on(client):
    form = client.get(LIMITS_PAGE).context["form"]
    return {name: str(form[name].value()) for name in form.fields}


class TestPage:
    @pytest.mark.parametrize("units", ["us", "metric"])
    def test_it_shows_each_limit_at_its_default_with_its_origin(self, client, shop, units):
        shop.units = units
        shop.save()

        page = client.get(LIMITS_PAGE)

        assert (
            shown_on(client)
            == {
                "close_in_pct": "19",
                "panel_close_in_pct": "16",
                "meter_low_pct": "7",
                "meter_high_pct": "40",
            }
            | SHOWN[units]
        )
        for limit in LIMITS:
            assert escape(limit.name) in page.text
            assert escape(limit.origin) in page.text
        assert re.search(r"efault 19\b", page.text)
        assert escape(f"efault {SHOWN[units]['soft_from_mm']}.") in page.text

    def test_it_shows_the_shops_own_value_beside_the_default(self, client, shop):
        shop.limits.create(key="close_in_pct", value=16.5)

        page = client.get(LIMITS_PAGE)

        assert page.context["form"]["close_in_pct"].value() == "16.5"
        assert re.search(r"efault 19\b", page.text)

    def test_a_technician_may_neither_look_nor_set(self, client, shop):
        client.force_login(PersonFactory(shop=shop))

        assert client.get(LIMITS_PAGE).status_code == 403
        assert client.post(LIMITS_PAGE, {"close_in_pct": "12"}).status_code == 403
        assert not ShopLimit.objects.exists()

    def test_a_manager_without_a_shop_has_none(self, client):
        client.force_login(PersonFactory(manager=True, shop=None, is_superuser=True))

        assert client.get(LIMITS_PAGE).status_code == 404

    @pytest.mark.parametrize("method", ["put", "patch", "delete"])
    def test_other_methods_are_refused(self, client, manager, method):
        assert getattr(client, method)(LIMITS_PAGE).status_code == 405


class TestSetting:
    def test_a_limit_is_kept_for_this_shop_alone(self, client, shop, post):
        other = PersonFactory(manager=True).shop

        response = post(close_in_pct="16,5")

        assert response.url == LIMITS_PAGE
        assert [str(message) for message in client.get(response.url).context["messages"]] == [
            "The limits are set. Drying and verdicts are worked out anew."
        ]
        assert list(ShopLimit.objects.values_list("shop", "key", "value")) == [(shop.pk, "close_in_pct", 16.5)]
        assert limits_of(other).close_in_pct == 19.0

    def test_back_at_its_default_it_is_not_kept(self, post):
        post(close_in_pct="16.5")

        post(close_in_pct="19")

        assert not ShopLimit.objects.exists()

    @pytest.mark.parametrize("units", ["us", "metric"])
    def test_sent_as_it_is_shown_it_changes_nothing(self, shop, post, units):
        shop.units = units
        shop.save()

        assert post().status_code == 302
        assert not ShopLimit.objects.exists()

        shop.limits.create(key="soft_from_mm", value=2.54)
        post()
        assert [(each.key, each.value) for each in ShopLimit.objects.all()] == [("soft_from_mm", 2.54)]

    @pytest.mark.parametrize("units", ["us", "metric"])
    def test_a_depth_typed_as_the_default_is_shown_is_the_default(self, shop, post, units):
        shop.units = units
        shop.save()
        shop.limits.create(key="soft_from_mm", value=5.0)

        post(soft_from_mm=SHOWN[units]["soft_from_mm"])

        assert not ShopLimit.objects.exists()

    @pytest.mark.parametrize(("units", "typed", "stored_mm"), [("us", '3/16"', 4.7625), ("metric", "4 mm", 4.0)])
    def test_a_depth_is_read_in_the_shops_units(self, shop, post, units, typed, stored_mm):
        shop.units = units
        shop.save()

        post(soft_from_mm=typed)

        assert ShopLimit.objects.get().value == pytest.approx(stored_mm)

    @pytest.mark.parametrize("end", ["lowest", "highest"])
    @pytest.mark.parametrize("limit", [each for each in LIMITS if each.unit == "pct"], ids=lambda each: each.key)
    def test_both_ends_of_a_range_are_taken(self, shop, post, limit, end):
        post(**{limit.key: f"{getattr(limit, end):g}"})

        assert getattr(limits_of(shop), limit.key) == getattr(limit, end)

    def test_drying_and_verdicts_follow_once_the_worker_has_been_there(self, shop, manager, post):
        job = JobFactory(shop=shop, arrived=True)
        finding = FindingFactory(
            job=job, kind="other", moisture_pct=14.0, probe_depth_mm=1.0, tap_sound="solid", verdict="sound"
        )
        RemedyFactory(finding=finding, standard=StandardRemedyFactory(shop=shop))
        station = StationFactory(job=job, left_mm=6000.0)
        ReadingFactory(station=station, meter_pct=14.0)

        post(close_in_pct="12")
        drain(NOON)

        finding.refresh_from_db()
        station.refresh_from_db()
        assert finding.verdict == "wait_for_dry"
        assert station.forecast.limit_pct == 12.0
        assert station.forecast.outcome != "dry"
        entry = JournalEntry.objects.get(kind=kinds.LIMITS_CHANGED)
        assert (entry.job, entry.person, entry.data["limits"]["close_in_pct"]) == (job, manager, 12.0)


BAD_FIELDS = [
    ({"close_in_pct": "20.1"}, "close_in_pct", "At most 20"),
    ({"close_in_pct": "9.9"}, "close_in_pct", "At least 10"),
    ({"close_in_pct": ""}, "close_in_pct", "required"),
    ({"close_in_pct": "dry"}, "close_in_pct", "Enter a number"),
    ({"close_in_pct": "nan"}, "close_in_pct", "Enter a number"),
    ({"panel_close_in_pct": "19.1"}, "panel_close_in_pct", "At most 19"),
    ({"meter_low_pct": "0"}, "meter_low_pct", "At least 1"),
    ({"meter_high_pct": "121"}, "meter_high_pct", "At most 120"),
    ({"soft_from_mm": ""}, "soft_from_mm", "Measure it"),
    ({"soft_from_mm": "a bit"}, "soft_from_mm", "does not read as a length"),
    ({"soft_from_mm": '5/16"'}, "soft_from_mm", 'At most 1/4"'),
    ({"soft_from_mm": "0.4 mm"}, "soft_from_mm", "At least 0.5 mm"),
    ({"replace_beyond_mm": "2 in"}, "replace_beyond_mm", 'At most 1"'),
    ({"replace_beyond_mm": "0.9 mm", "soft_from_mm": "0.6 mm"}, "replace_beyond_mm", "At least 1 mm"),
]


class TestRefusals:
    @pytest.mark.parametrize(("changes", "field", "words"), BAD_FIELDS)
    def test_a_bad_limit_is_refused_beside_it_with_all_that_was_typed(self, client, post, changes, field, words):
        typed = shown_on(client) | {"meter_high_pct": "60"} | changes

        response = post(**typed)

        form = response.context["form"]
        assert response.status_code == 422
        assert list(form.errors) == [field]
        assert words in form.errors[field][0]
        assert response.text.count(escape(form.errors[field][0])) == 2  # beside the field, and at the head
        assert {name: str(form[name].value()) for name in typed} == typed
        assert not ShopLimit.objects.exists()
        assert not JournalEntry.objects.exists()

    @pytest.mark.parametrize("soft", ['3/16"', '1/4"'])
    def test_sound_wood_lets_the_awl_in_less_than_what_is_cut_out(self, post, soft):
        response = post(soft_from_mm=soft, replace_beyond_mm='3/16"', close_in_pct="15")

        assert response.status_code == 422
        assert "must be less than what is cut out" in response.text
        assert response.context["form"]["close_in_pct"].value() == "15"
        assert not ShopLimit.objects.exists()


class TestAltitude:
    @pytest.fixture
    def send(self, client):
        return lambda typed: client.post(reverse("jobs:altitude-set"), {"altitude_m": typed})

    def test_the_sea_is_where_a_shop_begins(self, client, shop):
        page = client.get(LIMITS_PAGE)

        assert page.context["altitude_form"]["altitude_m"].value() == "0"
        assert "Altitude above the sea, ft" in page.text

    @pytest.mark.parametrize(
        ("units", "typed", "stored_m", "shown"),
        [
            ("us", "5280", 1609.344, "5,280 ft"),
            ("us", "5,280", 1609.344, "5,280 ft"),
            ("us", "-282", -85.9536, "-282 ft"),
            ("us", "14763", 4499.7624, "14,763 ft"),
            ("metric", "1.609", 1609.0, "1,609 m"),
            ("metric", "\N{MINUS SIGN}450", -450.0, "-450 m"),
            ("metric", "4500", 4500.0, "4,500 m"),
        ],
    )
    def test_it_is_kept_and_shown_in_the_shops_units(self, client, shop, send, units, typed, stored_m, shown):
        shop.units = units
        shop.save()

        response = send(typed)

        shop.refresh_from_db()
        assert response.url == LIMITS_PAGE
        assert shop.altitude_m == pytest.approx(stored_m)
        assert shop.altitude_words == shown
        page = client.get(LIMITS_PAGE)
        assert page.context["altitude_form"]["altitude_m"].value() == shown.split()[0].replace(",", "")
        assert [str(message) for message in page.context["messages"]] == ["The altitude is set."]

    @pytest.mark.parametrize(
        ("typed", "words"),
        [
            ("", "by the sea it is 0"),
            ("high", "Write it in whole ft, such as 5280."),
            ("12.5", "Write it in whole ft"),
            ("1,2,3", "Write it in whole ft"),
            ("\u0661\u0662", "Write it in whole ft"),
            ("14764", "between -1,476 and 14,763 ft"),
            ("-1477", "between -1,476 and 14,763 ft"),
            ("99999999999999999999", "between -1,476 and 14,763 ft"),
        ],
    )
    def test_what_is_none_is_refused_beside_it_and_kept(self, shop, send, typed, words):
        response = send(typed)

        form = response.context["altitude_form"]
        shop.refresh_from_db()
        assert response.status_code == 422
        assert words in form.errors["altitude_m"][0]
        assert response.text.count(escape(form.errors["altitude_m"][0])) == 2
        assert form["altitude_m"].value() == typed
        assert shop.altitude_m == 0

    def test_a_technician_may_not_set_it(self, client, shop, send):
        client.force_login(PersonFactory(shop=shop))

        assert send("500").status_code == 403

    def test_a_manager_without_a_shop_has_none(self, client, send):
        client.force_login(PersonFactory(manager=True, shop=None, is_superuser=True))

        assert send("500").status_code == 404

    def test_a_look_does_not_set_it(self, client, shop):
        assert client.get(reverse("jobs:altitude-set")).status_code == 405

    @pytest.mark.parametrize("altitude_m", [-450.1, 4500.1])
    def test_service_and_database_refuse_it_too(self, shop, altitude_m):
        with pytest.raises(JobError, match="between -450 and 4500 m"):
            set_altitude(shop=shop, altitude_m=altitude_m)

        with pytest.raises(IntegrityError, match="shop_altitude_real"), transaction.atomic():
            Shop.objects.filter(pk=shop.pk).update(altitude_m=altitude_m)


def test_only_a_manager_has_the_role_for_it():
    assert [role for role in Person.Role.values if Person(role=role).is_manager] == ["manager"]
