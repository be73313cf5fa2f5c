"""Django's settings. They read the environment and write nothing."""

from __future__ import annotations

import os

from groovewright.site.data_dir import data_dir, secret_key
from groovewright.site.database import postgresql_settings, sqlite_settings
from groovewright.site.static_files import static_hash
from groovewright.site.time_zone import bench_time_zone
from groovewright.web import PAGE_APPS

DATA_DIR = data_dir()
# Attached files, plates and reports by content hash. Served by views alone, never as static files.
CONTENT_DIR = DATA_DIR / "content"
SECRET_KEY = secret_key(DATA_DIR)
DEBUG = False

# Set by the server when it listens beyond this machine.
LISTENS_WIDER = os.environ.get("GROOVEWRIGHT_LISTENS_WIDER") == "1"
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]"]
if LISTENS_WIDER:
    ALLOWED_HOSTS += os.environ.get("GROOVEWRIGHT_HOST_NAMES", "").split()

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "django_htmx",
    "groovewright.jobbook",
    *PAGE_APPS,
    "groovewright.site",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "groovewright.site.protection.ContentSecurityPolicy",
    "groovewright.site.static_files.HashedStaticFiles",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    *(["django.contrib.auth.middleware.LoginRequiredMiddleware"] if LISTENS_WIDER else []),
    "django_htmx.middleware.HtmxMiddleware",
    "groovewright.site.protection.SayWhatWasNotWritten",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]
ROOT_URLCONF = "groovewright.site.urls"
WSGI_APPLICATION = "groovewright.site.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "groovewright.site.context.program",
            ]
        },
    }
]

_database_url = os.environ.get("GROOVEWRIGHT_DATABASE_URL", "")
DATABASES = {"default": postgresql_settings(_database_url) if _database_url else sqlite_settings(DATA_DIR)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

USE_TZ = True
TIME_ZONE = bench_time_zone()
LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_THOUSAND_SEPARATOR = False

STATIC_URL = f"/static/{static_hash()}/"
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "groovewright.site.finders.PackageFilesFinder",
]
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
# No other site has a use for these files.
WHITENOISE_ALLOW_ALL_ORIGINS = False

# Cookies are shared by all ports of one host name, so these carry our own names.
SESSION_COOKIE_NAME = "groovewright_session"
CSRF_COOKIE_NAME = "groovewright_csrf"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "login"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.ScryptPasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

# The largest page of typed fields is a scale check of some 60 fields and a few kB; files go to the disk beyond 2 MB.
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024**2
DATA_UPLOAD_MAX_NUMBER_FIELDS = 500
DATA_UPLOAD_MAX_NUMBER_FILES = 20
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024**2
FILE_UPLOAD_PERMISSIONS = 0o600
# A recording comes in pieces that are added to a file on the disk, so its size costs no memory.
LARGEST_RECORDING_BYTES = int(os.environ.get("GROOVEWRIGHT_LARGEST_RECORDING_MB", "4096")) * 1024**2

# Pages say themselves what was not found; a failure inside the program goes to the terminal with its trace.
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "loggers": {
        "django": {"handlers": ["console"], "level": "WARNING", "propagate": False},
        "django.request": {"level": "ERROR"},
        "django.security": {"level": "CRITICAL"},
    },
}
