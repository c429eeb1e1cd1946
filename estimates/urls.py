from django.urls import path

from estimates.views import revisions, rules, terms

app_name = "estimates"
urlpatterns = [
    path("jobs/<int:job_id>/price/", terms.price_detail, name="price-detail"),
    path("jobs/<int:job_id>/price/terms/", terms.term_agree, name="term-agree"),
    path("asking/", rules.consent_rule_edit, name="consent-rule-edit"),
    path("terms/<int:term_id>/take-back/", terms.term_take_back, name="term-take-back"),
    path("revisions/<int:revision_id>/", revisions.revision_detail, name="revision-detail"),
    path("revisions/<int:revision_id>/agreed-work.pdf", revisions.revision_paper, name="revision-paper"),
]
