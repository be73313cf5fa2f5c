"""The pages. Every page folder is a Django app, named once here and once in `urls`."""

PAGE_APPS = ("groovewright.web.frame",)
