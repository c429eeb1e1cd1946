from django.urls import path

from estimates.views import revisions

app_name = "estimates"
urlpatterns = [
    path("revisions/<int:revision_id>/", revisions.revision_detail, name="revision-detail"),
    path("revisions/<int:revision_id>/agreed-work.pdf", revisions.revision_paper, name="revision-paper"),
]
