"""The register of the shop, for superusers: who works here, when, in which bays, with which remedies.

Jobs and what happens to them are not edited here: only services change them. The journal can be read.
"""

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest

from jobs.forms import AdminSignIn
from jobs.models import Absence, Bay, Closure, JournalEntry, Person, Reaction, Shop, ShopHours, Skill, StandardRemedy

admin.site.site_header = "Coachwright, register of the shop"
admin.site.site_title = "Coachwright"
admin.site.index_title = "Register"
admin.site.login_form = AdminSignIn  # the second door has the same lock


PASSWORD_FIELDS = ["usable_password", "password1", "password2"]


class ShopHoursInline(admin.TabularInline):
    model = ShopHours
    extra = 0


class ClosureInline(admin.TabularInline):
    model = Closure
    extra = 0


class BayInline(admin.TabularInline):
    model = Bay
    extra = 0


class SkillInline(admin.TabularInline):
    model = Skill
    extra = 0


@admin.register(Shop)
class ShopAdmin(admin.ModelAdmin):
    list_display = ["name", "time_zone", "units", "phone"]
    inlines = [ShopHoursInline, ClosureInline, BayInline, SkillInline]


class AbsenceInline(admin.TabularInline):
    model = Absence
    extra = 0


@admin.register(Person)
class PersonAdmin(UserAdmin):
    list_display = ["username", "first_name", "last_name", "shop", "role", "is_active"]
    list_filter = ["shop", "role", "is_active"]
    fieldsets = [
        (None, {"fields": ["username", "password"]}),
        ("Person", {"fields": ["first_name", "last_name", "email"]}),
        ("Shop", {"fields": ["shop", "role", "skills"]}),
        ("Access", {"fields": ["is_active", "is_staff", "is_superuser"]}),
    ]
    add_fieldsets = [
        (
            None,
            {
                "classes": ["wide"],
                "fields": [
                    "username",
                    "first_name",
                    "last_name",
                    "shop",
                    "role",
                    "usable_password",
                    "password1",
                    "password2",
                ],
            },
        ),
    ]
    filter_horizontal = ["skills"]
    inlines = [AbsenceInline]


@admin.register(StandardRemedy)
class StandardRemedyAdmin(admin.ModelAdmin):
    list_display = ["name", "shop", "is_active"]
    list_filter = ["shop", "is_active"]
    search_fields = ["name", "words"]


class ReadOnly:
    """Nothing here is added, changed or deleted by hand."""

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class ReactionInline(ReadOnly, admin.TabularInline):
    model = Reaction
    fields = ["name", "state", "attempts", "due_at", "done_at", "last_error"]


@admin.register(JournalEntry)
class JournalEntryAdmin(ReadOnly, admin.ModelAdmin):
    list_display = ["job", "number", "kind", "actor", "at"]
    list_filter = ["kind"]
    list_select_related = ["job__coach"]
    search_fields = ["=job__number", "actor"]
    ordering = ["-at", "-number"]
    inlines = [ReactionInline]
