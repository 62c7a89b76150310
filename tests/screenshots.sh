#!/usr/bin/env bash
# Takes the pictures of the README again: bash tests/screenshots.sh
#
# Starts the program with its invented data, opens it in headless Chromium and writes PNG files to
# tests/screenshots/. Needs what `bash tests/all.sh` installs.
set -euo pipefail
cd "$(dirname "$0")/.."
export SQLX_OFFLINE=true
unset DATABASE_URL
command -v chromedriver >/dev/null || {
    echo "chromedriver is missing; bash tests/all.sh installs it" >&2
    exit 1
}
cargo test --locked --test browser -- --ignored --exact screenshots::take_the_pictures_of_the_readme
ls -l tests/screenshots/*.png
