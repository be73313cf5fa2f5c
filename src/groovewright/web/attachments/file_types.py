"""What a file is, told from its first bytes and never from its name."""

from __future__ import annotations

LARGEST_BYTES = 64 * 1024**2
ALLOWED = "a photo (JPEG, PNG, WebP), a PDF, a recording (WAV, FLAC) or a plain text"

_BEGINNINGS: tuple[tuple[bytes, str], ...] = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"%PDF-", "application/pdf"),
    (b"fLaC", "audio/flac"),
)
_RIFF_FORMS = {b"WAVE": "audio/wav", b"WEBP": "image/webp"}


def media_type_of(content: bytes) -> str | None:
    """Return what the bytes are, or None for a kind of file that no job keeps.

    >>> media_type_of(b"%PDF-1.7 ..."), media_type_of(bytes(8))
    ('application/pdf', None)
    """
    for beginning, media_type in _BEGINNINGS:
        if content.startswith(beginning):
            return media_type
    if content[:4] in (b"RIFF", b"RF64"):
        return _RIFF_FORMS.get(content[8:12])
    return "text/plain" if _is_text(content) else None


def _is_text(content: bytes) -> bool:
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return all(character.isprintable() or character in "\r\n\t\ufeff" for character in text)
