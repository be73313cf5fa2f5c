"""The pages. Every page folder is a Django app, named once here and once in `urls`."""

PAGE_APPS = (
    "groovewright.web.frame",
    "groovewright.web.drawings",
    "groovewright.web.choose",
    "groovewright.web.plates_page",
    "groovewright.web.jobs",
    "groovewright.web.intake",
    "groovewright.web.bench",
    "groovewright.web.visits",
    "groovewright.web.captures",
    "groovewright.web.report_page",
    "groovewright.web.attachments",
    "groovewright.web.gauges_page",
    "groovewright.web.workshop",
)
