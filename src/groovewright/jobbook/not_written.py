"""The one failure that is nobody's mistake: the disk or the database took no more."""


class NotWritten(Exception):  # noqa: N818 - says what happened to the entry
    """An entry did not reach the disk. All that was acknowledged before is still there."""
