"""Addresses."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [path("admin/", admin.site.urls), path("", include("planner.web.urls"))]

handler400 = "planner.web.other.bad"
handler403 = "planner.web.other.refused"
handler404 = "planner.web.other.missing"
handler500 = "planner.web.other.failed"
