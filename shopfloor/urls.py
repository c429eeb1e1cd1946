"""Every address: one include an app, then the manager's pages."""

from django.contrib import admin
from django.urls import include, path

from shopfloor.views import (
    board,
    booking,
    day,
    equipment,
    first_date,
    health,
    jobs,
    mailbox,
    moves,
    odds_record,
    people,
    what_if,
)

pages = [
    path("manager/", board.board, name="board"),
    path("manager/jobs/", jobs.job_list, name="job-list"),
    path("manager/jobs/book/", booking.job_book, name="job-book"),
    path("manager/jobs/<int:job_id>/", jobs.job_detail, name="job-detail"),
    path("manager/jobs/<int:job_id>/turn/", jobs.priority_set, name="priority-set"),
    path("manager/today/", day.day, name="day"),
    path("manager/today/give-out/", day.day_give_out, name="day-give-out"),
    path("manager/moves/", moves.move_list, name="move-list"),
    path("manager/moves/look/", moves.order_look, name="order-look"),
    path("manager/moves/adopt/", moves.order_adopt, name="order-adopt"),
    path("manager/moves/drop/", moves.order_drop, name="order-drop"),
    path("manager/odds-record/", odds_record.odds_record, name="odds-record"),
    path("manager/people/", people.person_list, name="person-list"),
    path("manager/people/<int:person_id>/", people.person_detail, name="person-detail"),
    path("manager/people/<int:person_id>/hours/", people.person_hours, name="person-hours"),
    path("manager/people/<int:person_id>/away/", people.absence_add, name="absence-add"),
    path("manager/people/<int:person_id>/overtime/", people.overtime_add, name="overtime-add"),
    path("manager/absences/<int:absence_id>/remove/", people.absence_remove, name="absence-remove"),
    path("manager/overtime/<int:overtime_id>/remove/", people.overtime_remove, name="overtime-remove"),
    path("manager/equipment/", equipment.equipment_edit, name="equipment-edit"),
    path("manager/first-date/", first_date.first_date_find, name="first-date-find"),
    path("manager/what-if/", what_if.what_if, name="what-if"),
    path("manager/jobs/<int:job_id>/promise/", jobs.date_promise, name="date-promise"),
    path("manager/jobs/<int:job_id>/links/<int:owner_id>/withdraw/", jobs.links_withdraw, name="links-withdraw"),
    path("manager/questions/<int:request_id>/answer/", jobs.decision_record, name="decision-record"),
    path("manager/questions/<int:request_id>/withdraw/", board.request_withdraw, name="request-withdraw"),
    path("manager/reactions/<int:reaction_id>/retry/", board.reaction_retry, name="reaction-retry"),
    path("mailbox/", mailbox.mailbox, name="mailbox"),
]

urlpatterns = [
    path("", include("jobs.urls")),
    path("", include("updates.urls")),
    path("estimates/", include("estimates.urls")),
    path("", include((pages, "shopfloor"))),
    path("admin/", admin.site.urls),
    path("healthz", health.process_up, name="process-up"),
    path("readyz", health.process_ready, name="process-ready"),
]
