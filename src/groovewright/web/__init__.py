"""The pages. Every page folder is a Django app, named once here and once in `urls`."""

PAGE_APPS = (
    "groovewright.web.frame",
    "groovewright.web.choose",
    "groovewright.web.plates_page",
)
