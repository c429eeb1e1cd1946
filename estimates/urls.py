from django.urls import path

from estimates import views

app_name = "estimates"
urlpatterns = [
    path("revisions/<int:revision_id>/", views.revision_detail, name="revision-detail"),
    path("revisions/<int:revision_id>/agreed-work.pdf", views.revision_paper, name="revision-paper"),
]
