"""The answers to a page that sends a recording in pieces."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_http_methods, require_POST

from groovewright.web.captures.uploads import PIECE_BYTES, UploadRefused, add_piece, begin_upload
from groovewright.web.frame.job_frame import job_of


@require_POST
def begin(request: HttpRequest, number: int) -> HttpResponse:
    """Begin an upload: name and size in, the word for its pieces out."""
    job_of(number)
    size = request.POST.get("size", "")
    if not is_size(size):
        return _sentence("The size of the file is missing; choose it again.", 422)
    try:
        upload = begin_upload(request.POST.get("name", "")[-150:] or "The file", int(size))
    except UploadRefused as refusal:
        return _sentence(str(refusal), 422)
    return JsonResponse({"upload": upload, "piece": PIECE_BYTES})


@require_http_methods(["PUT"])
def add(request: HttpRequest, number: int, upload: str) -> HttpResponse:
    """Add a piece that starts at ?start= and answer how long the upload is now."""
    job_of(number)
    start = request.GET.get("start", "")
    if not is_size(start):
        return _sentence("Where the piece starts is missing; choose the file again.", 422)
    try:
        size = add_piece(upload, int(start), iter(lambda: request.read(1024**2), b""))
    except UploadRefused as refusal:
        return _sentence(str(refusal), 422)
    return JsonResponse({"size": size})


def is_size(text: str) -> bool:
    """Return whether a text is a whole number of a file's size."""
    return text.isascii() and text.isdecimal() and len(text) < 16


def _sentence(text: str, status: int) -> HttpResponse:
    return HttpResponse(text, status=status, content_type="text/plain; charset=utf-8")
