"""When the owner must be asked: the manager chooses the rule to start from."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from estimates.forms import ConsentRuleForm
from estimates.services.rules import choose_consent_rule
from jobs.views.access import manager_required, person_of


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def consent_rule_edit(request: HttpRequest) -> HttpResponse:
    shop = person_of(request).shop
    if shop is None:
        raise Http404
    form = ConsentRuleForm(request.POST if request.method == "POST" else None, initial={"rule": shop.consent_rule})
    if request.method == "POST" and form.is_valid():
        choose_consent_rule(shop=shop, key=form.cleaned_data["rule"])
        messages.success(request, "This rule holds for what is found from now on.")
        return redirect("estimates:consent-rule-edit")
    return render(request, "estimates/consent_rule_edit.html", {"form": form}, status=422 if form.errors else 200)
