"""All addresses of the site."""

from django.contrib.auth.views import LogoutView
from django.urls import include, path

from groovewright.site.login import PasswordView

urlpatterns = [
    path("login/", PasswordView.as_view(), name="login"),
    path("logout/", LogoutView.as_view(), name="logout"),
    path("", include("groovewright.web.urls")),
]
