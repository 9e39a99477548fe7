"""Finding a person: what is typed stays in the body, and the address that follows holds numbers.

An address is kept by browsers, proxies and logs, and is sent to colleagues. So a name, a phone
number, a mail address, and a programme's number of a person or a request are sent in a form, and
what is found is shown by `Filters.person`: the record's own row numbers, which say nothing.
"""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views import View

from planner.web.access import Asks
from planner.web.filters import PEOPLE
from sites.access import requests_visible, subjects_visible
from sites.selectors.subjects import people_named

WHAT = "a whole family name, phone number, email address or programme's reference"


class FindForm(forms.Form):
    """What somebody says of themselves."""

    words = forms.CharField(max_length=120)


class FindPeople(Asks, View):
    """From what a person says of themselves to their requests, among those in view."""

    rule = "people.find"

    def get(self, request: HttpRequest) -> HttpResponse:
        """There is nothing to look at here, such as after a sign-in on the way."""
        return redirect("requests")

    def post(self, request: HttpRequest) -> HttpResponse:
        """Find, and lead to the list; nothing that was typed is repeated."""
        form = FindForm(request.POST)
        if not form.is_valid():
            messages.warning(request, f"Nobody was looked for: write {WHAT}.")
            return redirect("requests")
        people, total = people_named(
            words=form.cleaned_data["words"],
            subjects=subjects_visible(self.user),
            requests=requests_visible(self.user),
            most=PEOPLE,
        )
        if not people:
            messages.warning(
                request,
                f"Nobody with a request in your view was found. Write {WHAT}; parts of a name or "
                "number find nothing, since they are kept encrypted.",
            )
            return redirect("requests")
        if total > len(people):
            messages.warning(
                request,
                f"{total} people fit, and the list shows the requests of {len(people)}, whoever "
                "came last. A phone number or email address finds fewer.",
            )
        keys = ",".join(map(str, people))
        return redirect(f"{reverse('requests')}?standing=all&person={keys}")
