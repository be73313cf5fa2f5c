"""Sending a kept file: checked against its hash, and never run or shown by the browser as a page."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.http import content_disposition_header

from groovewright.jobbook import content_store


def kept_file(request: HttpRequest, *, sha256: str, media_type: str, name: str) -> HttpResponse:
    """Answer with a kept file as a download, or say in a sentence that it is damaged."""
    try:
        content = content_store.read(sha256)
    except content_store.ContentDamaged as damage:
        return render(request, "attachments/damaged.html", {"name": name, "sentence": str(damage)}, status=410)
    answer = HttpResponse(content, content_type=media_type)
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name)
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return answer
