#!/bin/sh
# What the tests need from the system: a browser, a database server and a reader of PDF, from Debian's packages when that is possible.
# Without them the tests that need them are skipped by name; with CI=true a missing one is a failure.
set -eu
missing=""
command -v chromium >/dev/null 2>&1 || missing="$missing chromium"
ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || missing="$missing postgresql"
command -v sqlite3 >/dev/null 2>&1 || missing="$missing sqlite3"
command -v pdftotext >/dev/null 2>&1 || missing="$missing poppler-utils"
if [ -n "$missing" ]; then
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
        echo "installing:$missing"
        apt-get update -qq
        # shellcheck disable=SC2086
        DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null
    else
        echo "not on this system:$missing; the tests that need them are skipped by name"
    fi
fi
# The accessibility checker of the browser tests, kept outside the repository.
axe=.tenthwise/axe.min.js
if [ ! -f "$axe" ] && command -v npm >/dev/null 2>&1; then
    mkdir -p .tenthwise
    (cd .tenthwise && npm pack --silent axe-core@4.14.1 >/dev/null && tar -xzf axe-core-4.14.1.tgz \
        && cp package/axe.min.js . && rm -rf package axe-core-4.14.1.tgz) || echo "the accessibility checker could not be had"
fi
