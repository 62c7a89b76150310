#!/usr/bin/env bash
# Fuzzes what strangers' bytes meet first: logs, photos, pasted capability lists, records, waveforms.
#
#   bash tests/fuzz/run.sh [SECONDS for each target, 60] [TARGET…, all of them]
#
# Needs nothing but the toolchain that builds the program and a C++ compiler: the coverage of
# libFuzzer is asked of the compiler by stable flags, those that cargo-fuzz would set. Writes below
# target/fuzz; a crash is kept in target/fuzz/crashes/ and ends the run; what was found to be new
# stays in target/fuzz/corpus/ for the next run. Without the address sanitizer: these rooms have no
# unsafe code, and what is looked for are panics, overflows, odd figures, time and memory.
set -euo pipefail
cd "$(dirname "$0")/../.."
seconds=${1:-60}
shift || true
targets=("$@")
[ ${#targets[@]} -gt 0 ] || targets=(log_guessed log_by_layout photo pd_capabilities record waveform)
work=$PWD/target/fuzz
coverage="-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
-Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
-Cllvm-args=-sanitizer-coverage-trace-compares -Cdebug-assertions -Ccodegen-units=1 --cfg fuzzing"
triple=$(rustc -vV | sed -n 's/^host: //p')
RUSTFLAGS=$coverage cargo build --release --manifest-path tests/fuzz/Cargo.toml \
    --config "build.build-dir='$work/build'" --target-dir "$work/build" --target "$triple" --bins
for target in "${targets[@]}"; do
    # Pictures of a few kilobytes have to fit; a log shows its habits in a few lines.
    seeds=(tests/fuzz/seeds) longest=4096
    case $target in
    pd_capabilities) seeds=(tests/fuzz/pd_seeds) ;;
    photo) seeds=(tests/fuzz/photo_seeds seed-data/photos) longest=65536 ;;
    record) seeds=(tests/fuzz/record_seeds) longest=16384 ;;
    waveform) seeds=(tests/fuzz/waveform_seeds) longest=512 ;;
    esac
    mkdir -p "$work/corpus/$target" "$work/crashes"
    printf '\n=== %s for %s s\n' "$target" "$seconds"
    "$work/build/$triple/release/$target" "$work/corpus/$target" "${seeds[@]}" \
        -max_total_time="$seconds" -max_len=$longest -len_control=0 -timeout=10 -rss_limit_mb=1024 \
        -artifact_prefix="$work/crashes/$target-" -print_final_stats=1 -verbosity=0
done
