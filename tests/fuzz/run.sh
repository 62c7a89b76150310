#!/usr/bin/env bash
# Fuzzes the log parser and the readers of photos and of pasted capability lists:
# bash tests/fuzz/run.sh [SECONDS for each target, 150]
#
# Needs a nightly toolchain and cargo-fuzz (`cargo install cargo-fuzz`). Writes below target/fuzz;
# a crash is kept in target/fuzz/crashes/ and ends the run. Without the address sanitizer: the parser
# has no unsafe code, and what is looked for are panics, overflows, odd figures, time and memory.
set -euo pipefail
cd "$(dirname "$0")/../.."
seconds=${1:-150}
work=$PWD/target/fuzz
for target in log_guessed log_by_layout photo pd_capabilities; do
    # Pictures of a few kilobytes have to fit; a log shows its habits in a few lines.
    seeds=(tests/fuzz/seeds) longest=4096
    if [ "$target" = pd_capabilities ]; then seeds=(tests/fuzz/pd_seeds); fi
    if [ "$target" = photo ]; then seeds=(tests/fuzz/photo_seeds seed-data/photos) longest=65536; fi
    mkdir -p "$work/corpus/$target" "$work/crashes"
    cargo +nightly fuzz run --sanitizer none --fuzz-dir tests/fuzz --target-dir "$work/build" "$target" \
        "$work/corpus/$target" "${seeds[@]}" -- \
        -max_total_time="$seconds" -max_len=$longest -len_control=0 -timeout=10 -rss_limit_mb=1024 \
        -artifact_prefix="$work/crashes/" -print_final_stats=1
done
