# Sourced by ./workshop and ./check: makes .venv from a hash lock, once for each version of the lock.
# shellcheck shell=sh

say() { printf '%s\n' "$*" >&2; }
stop() { say "$*"; exit 1; }

as_root() {
  if [ "$(id -u)" = 0 ]; then "$@"; else sudo -n "$@"; fi
}

may_install() {
  command -v apt-get >/dev/null 2>&1 || return 1
  [ "$(id -u)" = 0 ] || { command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; }
}

# Install Debian packages where this user may; otherwise fail, and let the caller say what to type.
debian_install() {
  may_install || return 1
  say "Installing from Debian: $*"
  as_root env DEBIAN_FRONTEND=noninteractive apt-get update -qq >&2 &&
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "$@" >&2
}

find_python() {
  for name in ${GROOVEWRIGHT_PYTHON:-} python3 python3.13 python3.12 python3.11; do
    if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      command -v "$name"
      return 0
    fi
  done
  return 1
}

make_environment() {
  rm -rf .venv
  words=$("$1" -m venv .venv 2>&1) && return 0
  rm -rf .venv
  case $words in
    *"ensurepip is not"* | *"No module named venv"*)
      debian_install python3-venv || stop "Python's venv module is missing. On Debian: apt-get install python3-venv"
      words=$("$1" -m venv .venv 2>&1) && return 0
      rm -rf .venv
      ;;
  esac
  stop "Python could not make the environment .venv: $words"
}

# prepare LOCK: leave in .venv exactly what LOCK names, and this package on top.
prepare() {
  unset PYTHONPATH PYTHONHOME PYTHONDONTWRITEBYTECODE
  lock=requirements/$1.lock
  mark=.venv/installed-$1
  stamp="$(cat "$lock" pyproject.toml | cksum) $(pwd -P)"
  if [ "$(cat "$mark" 2>/dev/null)" = "$stamp" ] && .venv/bin/python -c '' 2>/dev/null; then return 0; fi

  [ -w . ] && { [ ! -e .venv ] || [ -w .venv ]; } ||
    stop "You may not write into $(pwd), where .venv has to be made. Copy the folder to where you may, and start it there."
  # An environment knows the folder it was made in: after a move its commands would still call the old one.
  if ! grep -qsF " $(pwd -P)/.venv" .venv/pyvenv.cfg || ! .venv/bin/python -m pip --version >/dev/null 2>&1; then
    python=$(find_python) || { debian_install python3 && python=$(find_python); } ||
      stop "Groovewright needs Python 3.11 or newer. On Debian: apt-get install python3 python3-venv"
    make_environment "$python"
  fi
  say "Installing what $lock names (once; about a minute) ..."
  .venv/bin/python -m pip install --quiet --disable-pip-version-check \
    --require-hashes --only-binary :all: -r "$lock" >&2 || stop "The installation from $lock failed."
  .venv/bin/python -m pip install --quiet --disable-pip-version-check \
    --no-deps --no-build-isolation --editable . >&2 || stop "Groovewright itself could not be installed."
  printf '%s\n' "$stamp" >"$mark"
}
