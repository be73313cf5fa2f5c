"""What every answer carries, and what is said when the record cannot be written."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.template.loader import render_to_string

from groovewright.jobbook.not_written import NotWritten

# Charts set their style attributes as they draw, hence unsafe-inline for styles; scripts get no such leave.
CONTENT_SECURITY_POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'"
)


class ContentSecurityPolicy:
    """Lets a page load and send only to this site."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, with the policy in the headers."""
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        return response


class SayWhatWasNotWritten:
    """Answers 507 when the disk refused an entry: what to do, and the way to send the same entry again."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer as usual."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Answer for a view that could not write."""
        if not isinstance(exception, NotWritten):
            return None
        if request.headers.get("HX-Request"):
            # The page stays as it is, with all that was typed, and shows the sentence by itself.
            return HttpResponse(str(exception), status=507, content_type="text/plain; charset=utf-8")
        typed = [(name, text) for name, texts in request.POST.lists() for text in texts]
        context = {
            "sentence": str(exception),
            "address": request.get_full_path(),
            "typed": [(name, text) for name, text in typed if name != "csrfmiddlewaretoken"],
            "files": [file.name for file in request.FILES.values()],
            "csrf_token": get_token(request),
        }
        # Without the request: a page that needs the database, for whoever is logged in, could fail in its turn.
        return HttpResponse(render_to_string("507.html", context), status=507)
