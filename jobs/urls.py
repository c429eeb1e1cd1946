from django.urls import path

from jobs.views import findings, jobs, photos, signing, start, work

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
    path("shop/photos/<int:photo_id>/<str:size>/", photos.photo, name="photo"),
    path("shop/operations/<int:operation_id>/start/", work.operation_start, name="operation-start"),
    path("shop/operations/<int:operation_id>/finish/", work.operation_finish, name="operation-finish"),
    path("shop/hold-points/<int:hold_point_id>/pass/", work.hold_point_pass, name="hold-point-pass"),
    path("shop/hold-points/<int:hold_point_id>/fail/", work.hold_point_fail, name="hold-point-fail"),
]
