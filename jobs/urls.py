from django.urls import path

from jobs.views import drying, findings, jobs, moisture, photos, signing, start, work

app_name = "jobs"
urlpatterns = [
    path("", start.start, name="start"),
    path("sign-in/", signing.sign_in, name="sign-in"),
    path("sign-out/", signing.sign_out, name="sign-out"),
    path("shop/jobs/<int:job_id>/", jobs.job_detail, name="job-detail"),
    path("shop/jobs/<int:job_id>/check-in/", jobs.check_in, name="check-in"),
    path("shop/jobs/<int:job_id>/move-to-bay/", jobs.move_to_bay, name="move-to-bay"),
    path("shop/jobs/<int:job_id>/leave-bay/", jobs.leave_bay, name="leave-bay"),
    path("shop/jobs/<int:job_id>/collect/", jobs.collect, name="collect"),
    path("shop/jobs/<int:job_id>/post/", findings.finding_post, name="finding-post"),
    path("shop/findings/<int:finding_id>/", findings.finding_detail, name="finding-detail"),
    path("shop/findings/<int:finding_id>/photos/", findings.finding_photos, name="finding-photos"),
    path("shop/findings/<int:finding_id>/evidence/", findings.evidence_note, name="evidence-note"),
    path("shop/findings/<int:finding_id>/verdict/", findings.verdict_overrule, name="verdict-overrule"),
    path("shop/jobs/<int:job_id>/drying/", drying.drying_detail, name="drying-detail"),
    path("shop/jobs/<int:job_id>/drying/plan/<str:layer>.<str:form>", drying.moisture_plan, name="moisture-plan"),
    path("shop/jobs/<int:job_id>/drying/record.pdf", drying.drying_record, name="drying-record"),
    path("shop/stations/<int:station_id>/chart.<str:form>", drying.station_chart, name="station-chart"),
    path("shop/jobs/<int:job_id>/stations/mark/", moisture.station_mark, name="station-mark"),
    path("shop/stations/<int:station_id>/retire/", moisture.station_retire, name="station-retire"),
    path("shop/stations/<int:station_id>/restore/", moisture.station_restore, name="station-restore"),
    path("shop/readings/<int:reading_id>/strike/", moisture.reading_strike, name="reading-strike"),
    path("shop/jobs/<int:job_id>/round/", moisture.round_take, name="round-take"),
    path("shop/jobs/<int:job_id>/equipment/", moisture.equipment_place, name="equipment-place"),
    path("shop/equipment/<int:placement_id>/take-away/", moisture.equipment_take_away, name="equipment-take-away"),
    path("shop/limits/", moisture.limits_edit, name="limits-edit"),
    path("shop/photos/<int:photo_id>/<str:size>/", photos.photo, name="photo"),
    path("shop/operations/<int:operation_id>/start/", work.operation_start, name="operation-start"),
    path("shop/operations/<int:operation_id>/finish/", work.operation_finish, name="operation-finish"),
    path("shop/hold-points/<int:hold_point_id>/pass/", work.hold_point_pass, name="hold-point-pass"),
    path("shop/hold-points/<int:hold_point_id>/fail/", work.hold_point_fail, name="hold-point-fail"),
]
