from django.urls import path

from updates import views

app_name = "updates"
urlpatterns = [
    path("o/<str:token>/", views.link_open, name="link-open"),
    path("coach/<uuid:public_id>/", views.job_story, name="job-story"),
    path("coach/<uuid:public_id>/answer/<int:request_id>/", views.decision_record, name="decision-record"),
    path("coach/<uuid:public_id>/thanks/<int:decision_id>/", views.decision_thanks, name="decision-thanks"),
    path("coach/<uuid:public_id>/photo/<int:photo_id>/<str:size>/", views.photo_show, name="photo-show"),
    path("coach/<uuid:public_id>/agreed/<int:number>.pdf", views.revision_paper, name="revision-paper"),
    path("coach/<uuid:public_id>/papers/<str:paper>.pdf", views.paper_show, name="paper"),
    path("coach/<uuid:public_id>/changes/<int:request_id>.pdf", views.change_paper, name="change-paper"),
]
