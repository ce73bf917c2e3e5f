#!/usr/bin/env bash
# The one test command. It sets up everything it needs in .venv of this checkout, and a browser where none is found,
# and then runs every check and test. It stops at the first step that fails and names it.
#
#   bash tests/run.sh [arguments of pytest]
#
# PYTHON               the Python to use (3.11 or newer); the default is the newest on PATH
# DASH_TEST_CHROMEPATH the Chromium or Chrome to use; the default is the one on PATH
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

# Compiled modules are kept for the processes that come after: the tests start many.
unset PYTHONDONTWRITEBYTECODE

say() { printf '==> %s\n' "$*"; }
fail() { printf 'tests/run.sh: %s\n' "$*" >&2; exit 1; }

# Each step runs in a process group of its own, so that nothing outlives it, however the step ends.
group=
end_group() { [ -z "$group" ] || kill -TERM -- "-$group" 2>/dev/null || true; group=; }
trap end_group EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP

step() {
    local name=$1 began=$SECONDS status=0
    shift
    say "$name"
    set -m
    "$@" </dev/null &
    group=$!
    set +m
    wait "$group" || status=$?
    end_group
    [ "$status" -eq 0 ] || fail "failed at: $name (exit code $status)"
    printf '    %s: passed in %d s\n' "$name" $((SECONDS - began))
}

apt_install() { # packages...
    command -v apt-get >/dev/null || return 1
    local root=()
    if [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null || return 1
        root=(sudo)
    fi
    say "Installing $* (apt-get)"
    "${root[@]}" apt-get update -qq >/dev/null &&
        "${root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null
}

is_recent() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; }

find_python() {
    local name
    for name in ${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11 python}; do
        if command -v "$name" >/dev/null && is_recent "$name"; then
            printf '%s' "$name"
            return
        fi
    done
    fail "expected Python 3.11 or newer as ${PYTHON:-python3}, found $(python3 --version 2>&1 || true)." \
        "Install it, or name it with PYTHON=..."
}

installed_package() { .venv/bin/python -I -c 'import dashboard; print(dashboard.__file__)' 2>/dev/null || true; }

prepare_environment() {
    local python stamp wanted
    python=$(find_python)
    stamp=.venv/installed-from
    wanted=$("$python" --version; cat pyproject.toml dashboard/__init__.py)
    if [ "$(cat "$stamp" 2>/dev/null)" = "$wanted" ] && [ "$(installed_package)" = "$PWD/dashboard/__init__.py" ]; then
        say "The environment .venv is current"
        return
    fi
    if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
        local package
        package=$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')
        apt_install "$package" || fail "expected Python's venv module, found none. Install the package $package."
    fi
    say "Making the environment .venv with $("$python" --version)"
    "$python" -m venv --clear .venv
    say "Installing Tetherline and its test tools into .venv (a minute or two)"
    .venv/bin/python -m pip install -qq --disable-pip-version-check --editable '.[dev]' ||
        fail "failed at: installing into .venv (see above; does pip reach its package index?)"
    printf '%s' "$wanted" >"$stamp"
}

browser_found() {
    command -v chromedriver >/dev/null || return 1
    if [ -n "${DASH_TEST_CHROMEPATH:-}" ]; then
        [ -x "$DASH_TEST_CHROMEPATH" ]
        return
    fi
    local name
    for name in chromium chromium-browser google-chrome; do
        if command -v "$name" >/dev/null; then
            DASH_TEST_CHROMEPATH=$(command -v "$name")
            export DASH_TEST_CHROMEPATH
            return 0
        fi
    done
    return 1
}

prepare_browser() {
    if [ -n "${DASH_TEST_CHROMEPATH:-}" ] && [ ! -x "$DASH_TEST_CHROMEPATH" ]; then
        fail "expected a browser at DASH_TEST_CHROMEPATH, found none at $DASH_TEST_CHROMEPATH."
    fi
    # Debian's names, then Ubuntu's.
    browser_found || apt_install chromium chromium-driver || apt_install chromium-browser chromium-chromedriver || true
    browser_found || fail "expected chromium and chromedriver on PATH, found not both. Install the packages chromium" \
        "and chromium-driver; or put a chromedriver on PATH and name its browser with DASH_TEST_CHROMEPATH=..."
    say "Browser tests use $DASH_TEST_CHROMEPATH and $(command -v chromedriver)"
}

broker_found() { PATH=$PATH:/usr/sbin:/usr/local/sbin command -v mosquitto >/dev/null; }

prepare_broker() {
    # The tests start a broker of their own; the programs are all that they need.
    broker_found || apt_install mosquitto || true
    broker_found || fail "expected the program mosquitto (an MQTT broker), found none. Install the package mosquitto."
}

postgres_found() { compgen -G '/usr/lib/postgresql/*/bin/initdb' >/dev/null || command -v initdb >/dev/null; }

prepare_postgres() {
    # The tests start a server of their own; the programs are all that they need.
    postgres_found || apt_install postgresql || true
    postgres_found || fail "expected the programs of a PostgreSQL server (initdb, postgres), found none." \
        "Install the package postgresql."
}

types_and_tests() {
    # In a fresh checkout, collecting compiles every test once, and not once for each of the four processes that run them.
    [ -d tests/__pycache__ ] || .venv/bin/python -m pytest -q --collect-only >/dev/null &
    .venv/bin/python -m mypy
    wait $!
}

prepare_browser
prepare_broker
prepare_postgres
prepare_environment
step "ruff (style)" .venv/bin/ruff check --output-format concise .
step "mypy (types), while the tests are compiled beside it" types_and_tests
step "lint-imports (layers)" .venv/bin/lint-imports --no-logo
if [ $# -gt 0 ]; then
    step "pytest (what was asked for)" .venv/bin/python -m pytest "$@"
else
    # A file stays in one process, with its browser page and its server. The browser waits much, so four share two processors.
    step "pytest (four files at a time)" .venv/bin/python -m pytest -q -n 4 --dist loadfile --no-loadscope-reorder
fi
say "Everything passed in $SECONDS s"
