"""The job book as a Django app."""

from django.apps import AppConfig


class JobBookConfig(AppConfig):
    """Name and key type of the app."""

    name = "groovewright.jobbook"
    label = "jobbook"
    verbose_name = "Job book"
    default_auto_field = "django.db.models.BigAutoField"
