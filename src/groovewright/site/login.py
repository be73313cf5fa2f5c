"""One workshop, one password: asked for as soon as the site listens beyond its own machine."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import authenticate, get_user_model
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse

# Django's accounts have names; a workshop has one account.
ACCOUNT = "workshop"


class PasswordForm(forms.Form):
    """The workshop's password."""

    password = forms.CharField(
        strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "current-password", "autofocus": True})
    )

    def __init__(self, request: HttpRequest | None = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request

    def clean_password(self) -> str:
        """Refuse any password but the workshop's."""
        password: str = self.cleaned_data["password"]
        self.user = authenticate(self.request, username=ACCOUNT, password=password)
        if self.user is None:
            raise forms.ValidationError(
                "This is not the workshop's password. It was set when the server was first started for other machines."
            )
        return password

    def get_user(self) -> Any:
        """Return the account to log in."""
        return self.user


class PasswordView(LoginView):
    """Asks for the password and lets in."""

    template_name = "site/login.html"
    authentication_form = PasswordForm

    def form_invalid(self, form: PasswordForm) -> HttpResponse:
        """Show the form again, with what was wrong."""
        return self.render_to_response(self.get_context_data(form=form), status=422)


def password_is_set() -> bool:
    """Return whether the workshop has a password already."""
    return bool(get_user_model().objects.filter(username=ACCOUNT).exists())


def set_password(password: str) -> None:
    """Set the workshop's password; ValidationError if it is too easy to guess."""
    validate_password(password)
    account, _ = get_user_model().objects.get_or_create(username=ACCOUNT)
    account.set_password(password)
    account.save()
