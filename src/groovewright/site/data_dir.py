"""Where a workshop keeps its book and files."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

DATA_DIR_VARIABLE = "GROOVEWRIGHT_DATA_DIR"


def data_dir() -> Path:
    """Return the folder named by GROOVEWRIGHT_DATA_DIR, or the usual place for a user's data."""
    named = os.environ.get(DATA_DIR_VARIABLE)
    if named:
        return Path(named).expanduser().resolve()
    home = os.environ.get("XDG_DATA_HOME") or "~/.local/share"
    return Path(home).expanduser() / "groovewright"


def prepare_data_dir(folder: Path) -> None:
    """Make the folder, readable by its user alone, and the secret key in it, if they are not there yet."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    key_file = folder / "secret-key"
    if key_file.exists():
        return
    # Written whole under another name first: two programs starting at once must agree on one key.
    draft = folder / f"secret-key.{os.getpid()}"
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w") as stream:
        stream.write(secrets.token_urlsafe(48))
        stream.flush()
        os.fsync(stream.fileno())
    try:
        os.link(draft, key_file)
    except FileExistsError:
        pass
    finally:
        draft.unlink()


def secret_key(folder: Path) -> str:
    """Return the key made at first start; without one, a key that lasts as long as this process."""
    key_file = folder / "secret-key"
    return key_file.read_text() if key_file.exists() else secrets.token_urlsafe(48)
