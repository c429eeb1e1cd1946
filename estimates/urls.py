from django.urls import path

from estimates.views import actuals, catalogue, catalogue_rows, papers, revisions, rules, terms

app_name = "estimates"
urlpatterns = [
    path("catalogue/", catalogue.catalogue_list, name="catalogue-list"),
    path("catalogue/load/", catalogue.catalogue_load, name="catalogue-load"),
    path("catalogue/start/", catalogue.starting_load, name="starting-load"),
    path("catalogue/catalogue.zip", catalogue.catalogue_download, name="catalogue-download"),
    path("catalogue/<slug:table>.csv", catalogue.catalogue_file, name="catalogue-file"),
    path("catalogue/remedies/new/", catalogue_rows.remedy_add, name="remedy-add"),
    path("catalogue/remedies/<int:remedy_id>/", catalogue_rows.remedy_edit, name="remedy-edit"),
    path("catalogue/materials/new/", catalogue_rows.material_add, name="material-add"),
    path("catalogue/materials/<int:material_id>/", catalogue_rows.material_edit, name="material-edit"),
    path("catalogue/rates/", catalogue.rates_edit, name="rates-edit"),
    path("jobs/<int:job_id>/price/", terms.price_detail, name="price-detail"),
    path("jobs/<int:job_id>/price/terms/", terms.term_agree, name="term-agree"),
    path("asking/", rules.consent_rule_edit, name="consent-rule-edit"),
    path("terms/<int:term_id>/take-back/", terms.term_take_back, name="term-take-back"),
    path("jobs/<int:job_id>/price/payments/", terms.payment_take, name="payment-take"),
    path("jobs/<int:job_id>/price/given-back/", terms.money_give_back, name="money-give-back"),
    path("payments/<int:payment_id>/take-back/", terms.payment_take_back, name="payment-take-back"),
    path("actuals/", actuals.actuals, name="actuals"),
    path("actuals/<int:recipe_operation_id>/use/", actuals.hours_accept, name="hours-accept"),
    path("revisions/<int:revision_id>/", revisions.revision_detail, name="revision-detail"),
    path("revisions/<int:revision_id>/agreed-work.pdf", revisions.revision_paper, name="revision-paper"),
    path("jobs/<int:job_id>/papers/<str:paper>.pdf", papers.paper_show, name="paper"),
    path("jobs/<int:job_id>/changes/<int:request_id>.pdf", papers.change_show, name="change-paper"),
]
