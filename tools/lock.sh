#!/usr/bin/env bash
# Writes the locks in requirements/ anew from pyproject.toml and requirements/build.in (make lock).
#
# The newest versions that fit are taken; give --no-upgrade to keep those that the locks name already. The settings that
# pip has on this machine are left aside, so that no lock depends on where it was made.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

upgrade=--upgrade
[ "${1:-}" = "--no-upgrade" ] && upgrade=--no-upgrade

compile() {
    local out=$1
    shift
    env -u PIP_FIND_LINKS -u PIP_INDEX_URL -u PIP_EXTRA_INDEX_URL PIP_CONFIG_FILE=/dev/null \
        .venv/bin/pip-compile --quiet "$upgrade" --generate-hashes --strip-extras --allow-unsafe --no-header \
        --no-emit-index-url --no-emit-trusted-host --no-emit-find-links --annotation-style line \
        --output-file "requirements/$out" "$@"
    echo "requirements/$out: $(grep -c '==' "requirements/$out") packages"
}

compile run.txt pyproject.toml
compile build.txt --constraint requirements/run.txt requirements/build.in
compile test.txt --extra test --extra lint --constraint requirements/run.txt --constraint requirements/build.txt \
    pyproject.toml
