"""Stations, rounds, equipment and limits as services: what they store, and what they refuse in words."""

import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from jobs import kinds
from jobs.calc.moisture.limits import LIMITS
from jobs.errors import JobError, NotNow
from jobs.models import JournalEntry, Placement, Reading, ReadingRound, ShopLimit, Station
from jobs.services.drying import limits_of
from jobs.services.moisture import (
    CLOCK_AHEAD,
    Air,
    NewReading,
    mark_station,
    place_equipment,
    retire_station,
    set_limits,
    take_equipment_away,
    take_round,
)
from tests.factories import (
    NOON,
    JobFactory,
    PersonFactory,
    PlacementFactory,
    ReadingRoundFactory,
    StationFactory,
)

pytestmark = pytest.mark.django_db

COACH_LONG_MM, COACH_WIDE_MM = 8000.0, 2500.0  # CoachFactory's; it is as high as wide


@pytest.fixture
def job():
    return JobFactory(arrived=True)


@pytest.fixture
def person(job):
    return PersonFactory(shop=job.shop, role="manager")


@pytest.fixture
def station(job):
    return StationFactory(job=job)


@pytest.fixture
def mark(job, person):
    def call(**changes):
        given = {
            "job_id": job.pk,
            "key": uuid.uuid4(),
            "face": "road_side",
            "left_mm": 100.0,
            "top_mm": 200.0,
            "layer": "framing",
            "material": "spruce_sitka",
            "note": "  by the door ",
            "by": person,
            "now": NOON,
        }
        return mark_station(**given | changes)

    return call


@pytest.fixture
def take(job, person, station):
    def call(**changes):
        given = {
            "job_id": job.pk,
            "key": uuid.uuid4(),
            "taken_at": NOON,
            "air": Air(21.0, 45.0),
            "cavity_air": None,
            "readings": [NewReading(station.pk, "value", 24.0)],
            "by": person,
            "now": NOON,
        }
        return take_round(**given | changes)

    return call


@pytest.fixture
def place(job, person):
    def call(**changes):
        given = {
            "job_id": job.pk,
            "key": uuid.uuid4(),
            "kind": "blower",
            "count": 3,
            "face": "floor",
            "note": " under the bunk ",
            "by": person,
            "now": NOON,
        }
        return place_equipment(**given | changes)

    return call


def leave(job):
    job.collected_at = NOON
    job.save()


class TestMarking:
    def test_the_note_is_trimmed_and_the_number_is_the_next(self, mark):
        first, second = mark(), mark()

        assert (first.number, second.number) == (1, 2)
        assert first.note == "by the door"

    @pytest.mark.parametrize(
        ("face", "left_mm", "top_mm"),
        [
            ("road_side", -1.0, 0.0),
            ("road_side", 0.0, -1.0),
            ("road_side", COACH_LONG_MM + 5, 0.0),
            ("road_side", 0.0, COACH_WIDE_MM + 5),
            ("rear", COACH_WIDE_MM + 5, 0.0),
        ],
    )
    def test_a_spot_off_its_face_is_refused(self, mark, face, left_mm, top_mm):
        with pytest.raises(JobError, match="off the coach"):
            mark(face=face, left_mm=left_mm, top_mm=top_mm)

        assert not Station.objects.exists()

    def test_the_corners_of_a_face_belong_to_it(self, mark):
        mark(left_mm=0.0, top_mm=0.0)
        mark(left_mm=COACH_LONG_MM, top_mm=COACH_WIDE_MM)

        assert Station.objects.count() == 2

    def test_under_the_same_key_the_stored_one_comes_back_even_when_the_coach_has_left(self, job, mark):
        key = uuid.uuid4()
        first = mark(key=key)
        leave(job)

        again = mark(key=key, left_mm=999.0)

        assert again == first
        assert again.left_mm == 100.0
        assert JournalEntry.objects.count() == 1

    def test_another_coachs_key_is_refused(self, mark):
        with pytest.raises(JobError, match="This station was already stored for another coach"):
            mark(key=StationFactory().key)

    def test_off_the_shop_it_is_refused(self, job, mark):
        leave(job)

        with pytest.raises(NotNow, match="while the coach is at the shop"):
            mark()
        with pytest.raises(NotNow, match="while the coach is at the shop"):
            mark(job_id=JobFactory(shop=job.shop).pk)

        assert not Station.objects.exists()


class TestTakingARound:
    def test_it_is_stored_to_the_minute_with_both_airs(self, take):
        taken = take(taken_at=NOON - timedelta(minutes=3, seconds=20), cavity_air=Air(18.0, 80.0))

        assert taken.taken_at == NOON - timedelta(minutes=4)
        assert (taken.air_temp_c, taken.rh_pct, taken.cavity_temp_c, taken.cavity_rh_pct) == (21.0, 45.0, 18.0, 80.0)
        assert taken.drying_air == (18.0, 80.0)

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"readings": []}, "Nothing was read"),
            ({"taken_at": NOON - timedelta(days=2, minutes=1)}, "before the coach came"),
            ({"taken_at": NOON + CLOCK_AHEAD + timedelta(minutes=1)}, "still to come"),
        ],
    )
    def test_what_cannot_be_is_refused(self, take, changes, words):
        with pytest.raises(JobError, match=words):
            take(**changes)

        assert not ReadingRound.objects.exists()
        assert not JournalEntry.objects.exists()

    def test_one_minute_holds_one_round_of_a_coach(self, take):
        take(taken_at=NOON - timedelta(minutes=1, seconds=50))

        with pytest.raises(JobError, match="at that very minute already"):
            take(taken_at=NOON - timedelta(minutes=1, seconds=10))

        assert ReadingRound.objects.count() == 1

    @pytest.mark.parametrize(
        "make_station",
        [lambda job: StationFactory(job=job, retired_at=NOON, retired_because="wrong"), lambda job: StationFactory()],
    )
    def test_a_station_that_is_not_read_here_refuses_the_whole_round(self, job, station, take, make_station):
        other = make_station(job)

        with pytest.raises(JobError, match="no longer read"):
            take(readings=[NewReading(station.pk, "value", 24.0), NewReading(other.pk, "value", 24.0)])

        assert not ReadingRound.objects.exists()

    def test_a_failure_halfway_stores_nothing(self, station, take):
        with pytest.raises(IntegrityError), transaction.atomic():
            take(readings=[NewReading(station.pk, "value", 24.0), NewReading(station.pk, "value", 25.0)])

        assert not ReadingRound.objects.exists()
        assert not Reading.objects.exists()

    def test_under_the_same_key_the_stored_one_comes_back(self, job, take):
        key = uuid.uuid4()
        first = take(key=key)
        leave(job)

        assert take(key=key, air=Air(5.0, 90.0)) == first
        assert ReadingRound.objects.get().air_temp_c == 21.0

    def test_another_coachs_key_is_refused(self, take):
        with pytest.raises(JobError, match="This round was already stored for another coach"):
            take(key=ReadingRoundFactory().key)

    def test_off_the_shop_it_is_refused(self, job, take):
        leave(job)

        with pytest.raises(NotNow, match="while the coach is at the shop"):
            take()


class TestEquipment:
    def test_it_is_logged_once_with_its_entry(self, job, person, place):
        key = uuid.uuid4()

        first, again = place(key=key), place(key=key, count=9)

        assert first == again
        assert (again.count, again.note, again.placed_at, again.words) == (3, "under the bunk", NOON, "3 blowers")
        entry = JournalEntry.objects.get()
        assert (entry.kind, entry.person) == (kinds.EQUIPMENT_PLACED, person)
        assert entry.data == {
            "placement": first.pk,
            "words": "3 blowers",
            "face": "floor",
            "note": "under the bunk",
        }

    def test_one_is_not_many(self, place):
        assert place(kind="dehumidifier", count=1).words == "1 dehumidifier"

    def test_it_is_taken_away_once(self, person, place):
        placed = place()

        for hours in (5, 6):
            take_equipment_away(placement_id=placed.pk, by=person, now=NOON + timedelta(hours=hours))

        placed.refresh_from_db()
        assert placed.taken_away_at == NOON + timedelta(hours=5)
        assert [entry.kind for entry in JournalEntry.objects.order_by("number")] == [
            kinds.EQUIPMENT_PLACED,
            kinds.EQUIPMENT_TAKEN_AWAY,
        ]

    def test_it_ran_from_when_it_was_placed_until_it_was_taken_away(self, place):
        running = place()
        over = PlacementFactory(placed_at=NOON, taken_away_at=NOON + timedelta(hours=5))

        hours = [-0.1, 0, 4.9, 5, 500]
        assert [running.ran_at(NOON + timedelta(hours=each)) for each in hours] == [False, True, True, True, True]
        assert [over.ran_at(NOON + timedelta(hours=each)) for each in hours] == [False, True, True, False, False]
        assert list(Placement.objects.running()) == [running]

    def test_another_coachs_key_is_refused(self, place):
        with pytest.raises(JobError, match="This entry was already stored for another coach"):
            place(key=PlacementFactory().key)

    def test_off_the_shop_it_is_refused(self, job, place):
        leave(job)

        with pytest.raises(NotNow, match="while the coach is at the shop"):
            place()

    @pytest.mark.parametrize(
        "wrong", [{"count": 0}, {"count": 41}, {"kind": "kettle"}, {"taken_away_at": NOON - timedelta(days=1)}]
    )
    def test_the_database_refuses_what_cannot_be(self, job, wrong):
        with pytest.raises(IntegrityError), transaction.atomic():
            PlacementFactory(job=job, **wrong)

        assert not Placement.objects.exists()


class TestLimits:
    @pytest.fixture
    def put(self, job, person):
        def call(**changes):
            set_limits(shop=job.shop, values=vars(limits_of(job.shop)) | changes, by=person, now=NOON)

        return call

    def test_only_what_differs_from_its_default_is_kept(self, job, put):
        put(close_in_pct=16.5)

        assert list(ShopLimit.objects.values_list("shop", "key", "value")) == [(job.shop.pk, "close_in_pct", 16.5)]
        assert limits_of(job.shop).close_in_pct == 16.5
        assert limits_of(job.shop).panel_close_in_pct == 16.0

    def test_back_to_the_default_removes_it(self, job, put):
        put(close_in_pct=16.5)
        put(close_in_pct=19.0)

        assert not ShopLimit.objects.exists()
        assert limits_of(job.shop).close_in_pct == 19.0

    def test_each_coach_at_the_shop_gets_an_entry_with_all_limits(self, job, person, put):
        put(close_in_pct=16.5)

        entry = JournalEntry.objects.get()
        assert (entry.job, entry.kind, entry.person) == (job, kinds.LIMITS_CHANGED, person)
        assert entry.data["limits"].keys() == {limit.key for limit in LIMITS}
        assert entry.data["limits"]["close_in_pct"] == 16.5

    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.key)
    def test_each_is_kept_within_its_range_and_all_or_nothing_is_stored(self, job, put, limit):
        good = {"close_in_pct": 16.5} if limit.key != "close_in_pct" else {"panel_close_in_pct": 12.0}
        for value in (limit.lowest - 0.01, limit.highest + 0.01):
            with pytest.raises(JobError, match="must"):
                put(**good | {limit.key: value})

        assert not ShopLimit.objects.exists()
        assert not JournalEntry.objects.exists()

    @pytest.mark.parametrize("soft_mm", [4.0, 4.5])
    def test_sound_wood_lets_the_awl_in_less_than_what_is_cut_out(self, put, soft_mm):
        with pytest.raises(JobError, match="must be less than what is cut out"):
            put(soft_from_mm=soft_mm, replace_beyond_mm=4.0)

        assert not ShopLimit.objects.exists()

    def test_the_database_keeps_one_value_a_limit(self, job):
        ShopLimit.objects.create(shop=job.shop, key="close_in_pct", value=16.0)

        with pytest.raises(IntegrityError), transaction.atomic():
            ShopLimit.objects.create(shop=job.shop, key="close_in_pct", value=17.0)


def test_a_station_is_given_up_once(station, person):
    for hours in (0, 1):
        retire_station(station_id=station.pk, because="wrong", by=person, now=NOON + timedelta(hours=hours))

    station.refresh_from_db()
    assert station.retired_at == NOON
    assert JournalEntry.objects.get().kind == kinds.STATION_RETIRED
