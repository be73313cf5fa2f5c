"""The way back: a page that is opened on the way, such as that of a new scale, leads back to where it was asked for.

A link to such a page carries the address that it stands on (`{% way_back_here %}`), the page sends it along with its
form, and what was added is chosen where the way leads back to: ``?scale=3``.
"""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import parse_qsl, urlencode, urlsplit, urlunsplit

from django.http import HttpRequest
from django.urls import Resolver404, resolve
from django.utils.http import url_has_allowed_host_and_scheme

NEXT = "next"


def way_back(request: HttpRequest) -> str:
    """Return where a request asks to go back to; empty unless that is a page of this site."""
    asked = request.POST.get(NEXT) or request.GET.get(NEXT, "")
    if not asked.startswith("/") or not url_has_allowed_host_and_scheme(asked, allowed_hosts=None):
        return ""
    try:
        resolve(urlsplit(asked).path)
    except Resolver404:
        return ""
    return asked


def back_with(address: str, **chosen: int) -> str:
    """Return an address with what was added chosen in its query.

    >>> back_with("/jobs/7/bench/scale-check/?when=after&scale=1", scale=3)
    '/jobs/7/bench/scale-check/?when=after&scale=3'
    """
    parts = urlsplit(address)
    kept = [(name, value) for name, value in parse_qsl(parts.query) if name not in chosen]
    return urlunsplit(parts._replace(query=urlencode([*kept, *chosen.items()])))


def chosen_in(query: Mapping[str, str], *names: str) -> dict[str, str]:
    """Return of the named fields those that a query chooses, as the initial values of a form.

    >>> chosen_in({"scale": "3", "gauge": "any"}, "scale", "gauge")
    {'scale': '3'}
    """
    return {name: query[name] for name in names if query.get(name, "").isdecimal()}
