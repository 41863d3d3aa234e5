#!/bin/sh
# The long forms of the tests, one at a time: sh tests/long.sh NAME [MINUTES]
#   asan   every test under address and undefined behaviour sanitizers (40 min)
#   tsan   every test that links no gRPC under the thread sanitizer (20 min)
#   tidy   clang-tidy over our own code, every finding an error (40 min)
#   fuzz   libFuzzer on every target in turn, keeping its corpus in build/fuzz/corpus (30 min)
# Each stops at its limit, goes on where it stopped when run again, and says where its log is.
# They build with clang 19 into build/asan-ubsan, build/tsan-core, build/tidy and build/fuzz.
set -eu
cd "$(dirname "$0")/.."
logs=build/logs

say() { printf '%s\n' "$*"; }
die() { say "$*" >&2; exit 1; }

# Runs a command under what is left of the time, its output also in the log.
within() {
    left=$((ends - $(date +%s)))
    [ $left -gt 0 ] || die "long.sh: $name: time is up; run it again to go on"
    { timeout -k 10 $left "$@" 2>&1 && echo 0 >"$logs/status" || echo $? >"$logs/status"; } |
        tee -a "$logs/$name.log"
    status=$(cat "$logs/status")
    [ "$status" != 124 ] || die "long.sh: $name: time is up; run it again to go on. Log: $logs/$name.log"
    [ "$status" = 0 ] || die "long.sh: $name: failed ($status). Log: $logs/$name.log"
}

sanitized() { # preset
    within cmake --preset "$1"
    within cmake --build --preset "$1"
    within ctest --preset "$1"
}

fuzz_all() {
    within cmake --preset fuzz
    within cmake --build --preset fuzz
    targets=$(find build/fuzz/tests -type f -name 'fuzz_*' ! -name '*_replay' -perm -u+x | sort)
    [ -n "$targets" ] || die "long.sh: fuzz: no fuzz target was built"
    count=$(echo "$targets" | wc -l)
    each=$(((ends - $(date +%s) - 30) / count))
    [ $each -gt 0 ] || die "long.sh: fuzz: the build took all the time; run it again to go on"
    for target in $targets; do
        corpus=build/fuzz/corpus/$(basename "$target")
        [ -d "$corpus" ] || "${target}_replay" --write "$corpus"
        say "== $(basename "$target"), $each s"
        within "$target" -max_total_time=$each -print_final_stats=1 -artifact_prefix="$logs/" "$corpus"
    done
}

name=${1:-}
case $name in
asan) minutes=40 ;;
tsan) minutes=20 ;;
tidy) minutes=40 ;;
fuzz) minutes=30 ;;
'' | -h | --help) sed -n '2,8s/^# \{0,1\}//p' "$0"; exit 0 ;;
*) die "long.sh: no long form '$name' (sh tests/long.sh lists them)" ;;
esac
minutes=${2:-$minutes}
sh cmake/install.sh build run test clang
mkdir -p "$logs"
: >"$logs/$name.log"
ends=$(($(date +%s) + minutes * 60))
case $name in
asan) sanitized asan-ubsan ;;
tsan) sanitized tsan-core ;;
tidy) within cmake --preset tidy && within cmake --build --preset tidy ;;
fuzz) fuzz_all ;;
esac
say "long.sh: $name: passed within $minutes min. Log: $logs/$name.log"
