#!/usr/bin/env bash
# Installs what the tests need from the machine and do not find there: a Chromium for the browser tests, and
# PostgreSQL's server programs, of which the tests run a cluster of their own. Debian and its kin.
set -euo pipefail

missing=()
[ -x /usr/bin/chromium ] || missing+=(chromium)
compgen -G '/usr/lib/postgresql/*/bin/initdb' > /dev/null || missing+=(postgresql)
compgen -G '/usr/share/fonts/*/*/*.ttf' > /dev/null || missing+=(fonts-dejavu-core)
[ ${#missing[@]} -gt 0 ] || exit 0

if ! command -v apt-get > /dev/null; then
    echo "The tests need these programs, which this machine lacks: ${missing[*]}" >&2
    exit 1
fi
as_root=()
[ "$(id -u)" = 0 ] || as_root=(sudo)
echo "installing: ${missing[*]}"
"${as_root[@]}" apt-get update -qq
"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
    apt-get install -qq --yes --no-install-recommends "${missing[@]}" > /dev/null
