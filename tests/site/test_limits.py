"""What the pages promise to take fits through the server."""

from groovewright.jobbook.entries import LARGEST_ATTACHMENT_BYTES
from groovewright.site.server import LARGEST_REQUEST_BYTES
from groovewright.web.jobs.forms import LARGEST_ARCHIVE_BYTES

FORM_BYTES = 1024**2


def test_the_largest_file_that_a_page_takes_fits_into_a_request():
    assert max(LARGEST_ARCHIVE_BYTES, LARGEST_ATTACHMENT_BYTES) + FORM_BYTES <= LARGEST_REQUEST_BYTES
