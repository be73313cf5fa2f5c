"""Addresses: one include per page folder. A job page lives under /jobs/<number>/<page>/ and is named after its step."""

from django.urls import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = []
