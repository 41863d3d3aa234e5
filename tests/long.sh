#!/bin/sh
# The long forms of the tests, one at a time: sh tests/long.sh NAME [MINUTES [COUNT]]
#   asan    every test under address and undefined behaviour sanitizers (40 min)
#   tsan    every test that links no gRPC under the thread sanitizer (20 min)
#   tidy    clang-tidy over our own code, every finding an error (40 min)
#   fuzz    libFuzzer on every target in turn, keeping its corpus in build/fuzz/corpus (30 min)
#   kills   kill -9 of a process that appends to a ledger, and of a base and its five trucks, 1000 each (150 min)
#   flips   one bit of a resting ledger turned over, 100000 times (150 min)
#   restores trucks and bases put back and copied, 200 of each; 10000 reconnects (30 min)
#   simulated the protocol over a bad link, 10000 seeds of 1000 entries (120 min)
#   erasures  canaries of erased bodies searched for in every file, 1000 rounds (60 min)
#   disks   a 64 MiB file system filled and freed 100 times; a disk full at the n-th write (60 min)
#   vfs     power cuts on a disk that drops, tears and reorders, 10000; each sync failed once (90 min)
#   faults  system calls that fail or kill, by strace, 1000 rounds (90 min)
#   links   truck and base with the link cut and either side killed, 25 rounds of 20 and 20 (60 min)
#   verify  every bit of a bundle, every pair of tree sizes up to 512 (30 min)
#   clocks  a recorder whose wall clock steps, runs back and starts in 1970, 1000 times (10 min)
#   attacks every kind of lie a dishonest base can tell, 100 histories each (15 min)
#   oracle  the judge against the naive evaluator, 1000000 random cases (60 min a run, many runs)
#   roll    the roll estimator on simulated pulls, 2000 of each of 40 kinds (60 min)
#   mutations  one place of the judge changed at a time: 95 % must be caught, 10 in each of 27 files (60 min)
#   bytes   the judge built by gcc and clang at -O0 and -O3: the same bytes on every case (60 min)
#   misbehave plugins that crash, hang, lie, flood and leak at random beside two that do not, 1000 (60 min)
#   plugins each fault of a plugin against all groups of the kit; every plugin checked in full, COUNT s of soak (100 min)
#   promises each promise of the record broken once in the source: a test must fail for each (60 min)
#   soak    twelve plugins at 100 readings a second through a truck's daemon for 3600 s (65 min)
#   year    a year of the invented fleet, 20000 jobs: its summary is what was drawn, within 10 s (60 min)
#   bench   the benchmarks in full, 5 rounds, each beside its floor (15 min)
# Each stops at its limit and says where its log is. Run again, builds, fuzz, links, simulated, oracle, roll,
# mutations and the trucks of kills go on where they stopped (from the start if the programs changed); the others begin anew.
# asan, tsan, tidy and fuzz build with clang 19 into a folder of their own, the others into
# build/release; FAIRLEAD_BUILT=1 takes the programs that lie there and builds nothing.
set -eu
cd "$(dirname "$0")/.."
logs=build/logs
release=build/release

say() { printf '%s\n' "$*"; }
die() { say "$*" >&2; exit 1; }

# Runs a command under what is left of the time, its output also in the log.
within() {
    left=$((ends - $(date +%s)))
    [ $left -gt 0 ] || die "long.sh: $name: time is up${reached:-}; run it again. Log: $logs/$name.log"
    { timeout -k 10 $left "$@" 2>&1 && echo 0 >"$logs/$name.status" || echo $? >"$logs/$name.status"; } |
        tee -a "$logs/$name.log"
    status=$(cat "$logs/$name.status")
    [ "$status" != 124 ] || die "long.sh: $name: time is up${reached:-}; run it again. Log: $logs/$name.log"
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
    number=$(echo "$targets" | wc -l)
    each=$(((ends - $(date +%s) - 30) / number))
    [ $each -gt 0 ] || die "long.sh: fuzz: the build took all the time; run it again to go on"
    for target in $targets; do
        corpus=build/fuzz/corpus/$(basename "$target")
        [ -d "$corpus" ] || "${target}_replay" --write "$corpus"
        say "== $(basename "$target"), $each s"
        within "$target" -max_total_time=$each -print_final_stats=1 -artifact_prefix="$logs/" "$corpus"
    done
}

released() { # targets
    [ -z "${FAIRLEAD_BUILT:-}" ] || return 0
    within cmake --preset release
    within cmake --build --preset release --target "$@"
}

# How far links, simulated, oracle or kills have come with just these programs, into $next.
recall() { # programs
    state=build/long/$name
    mkdir -p build/long
    now=$(cat "$@" | sha256sum | cut -d' ' -f1)
    next=1
    [ ! -f "$state" ] || read -r next was <"$state"
    [ "${was:-$now}" = "$now" ] || { say "The programs changed: from the start." && next=1; }
    [ "$next" -le "$count" ] || { say "All $count were done with these programs: from the start." && next=1; }
    reached=" before number $next of $count"
}

remember() { # next
    next=$1
    echo "$next $now" >"$state"
    reached=" before number $next of $count"
    say "== $((next - 1)) of $count done"
}

link_rounds() {
    released fairlead fairleadd
    recall $release/bin/fairlead $release/bin/fairleadd
    while [ "$next" -le "$count" ]; do
        for way in cuts kills; do
            within env FAIRLEAD_SEED="$next" /usr/bin/python3 -B tests/fault/link_test.py $release $way
        done
        remember $((next + 1))
    done
}

fleet_cycles() { # slices of 20 kills, each with processes of its own
    recall $release/bin/fairlead $release/bin/fairleadd
    while [ "$next" -le "$count" ]; do
        slice=$((count - next + 1))
        [ $slice -le 20 ] || slice=20
        within env FAIRLEAD_SEED="$next" /usr/bin/python3 -B tests/fault/fleet_kill_test.py $release $slice
        remember $((next + slice))
    done
}

simulations() {
    released link_simulation_test
    recall $release/tests/unit/uplink/link_simulation_test
    memory=/dev/shm # It is about the protocol, not the disk.
    [ -d $memory ] || memory=${TMPDIR:-/tmp}
    while [ "$next" -le "$count" ]; do
        slice=$((count - next + 1))
        [ $slice -le 100 ] || slice=100
        within env TMPDIR="$memory" FAIRLEAD_FIRST_SEED="$next" FAIRLEAD_SEEDS=$slice \
            FAIRLEAD_ENTRIES=1000 $release/tests/unit/uplink/link_simulation_test
        remember $((next + slice))
    done
}

oracle_slices() { # one slice a processor at a time
    released fairlead judge_many
    recall $release/bin/fairlead $release/tests/oracle/judge_many
    width=$(nproc)
    while [ "$next" -le "$count" ]; do
        slice=2500
        rest=$((count - next + 1))
        [ $rest -ge $((slice * width)) ] || slice=$(((rest + width - 1) / width))
        within /usr/bin/python3 -B tests/oracle/compare.py $release/bin/fairlead \
            --batch $release/tests/oracle/judge_many --first "$next" --random $((slice * width)) --jobs "$width"
        remember $((next + slice * width))
    done
}

roll_strata() { # one row of the table at a time, nproc at once
    released fairlead-bench-roll
    program=$release/tests/bench/fairlead-bench-roll
    runs=$count
    strata=$($program --list)
    count=$(echo "$strata" | wc -l)
    recall $program
    rows=build/long/roll.rows
    [ "$next" -gt 1 ] || mkdir -p $rows
    [ "$next" -gt 1 ] || rm -f $rows/*
    while [ "$next" -le "$count" ]; do
        last=$((next + $(nproc) - 1))
        [ $last -le "$count" ] || last=$count
        within sh -c 'echo "$1" | sed -n "$2,$3p" | xargs -P "$(nproc)" -I{} sh -c \
            "$4 --runs $5 --stratum {} >$6/{}"' rows "$strata" "$next" $last $program "$runs" $rows
        remember $((last + 1))
    done
    { $program --head && for stratum in $strata; do cat "$rows/$stratum"; done; } >$rows.way
    within cat $rows.way
    within sh -c '{ $1 --speed --head && $1 --speed --runs $2; } >$3' speed $program "$runs" $rows.speed
    within cat $rows.speed
    [ -z "${FAIRLEAD_WRITE_PAGES:-}" ] ||
        within /usr/bin/python3 -B tests/bench/roll_page.py docs/roll.md $rows.way $rows.speed
}

mutate() {
    released judge_many judge_test judge_gear_test
    within /usr/bin/python3 -B tests/oracle/mutations.py $release --each "$count"
}

same_bytes() { # judge_many by two compilers, without and with optimising, beside the release build
    released judge_many
    cached=$(command -v ccache || true)
    for compiler in g++ clang++-19; do
        for level in 0 3; do
            within /usr/bin/python3 -B tests/oracle/other_build.py $release "build/long/bytes/$compiler-$level" \
                "$cached $compiler" "-O$level"
        done
    done
    within /usr/bin/python3 -B tests/oracle/same_bytes.py "$count" $release/tests/oracle/judge_many \
        build/long/bytes/*/judge_many
}

check_plugins() {
    released all
    within /usr/bin/python3 -B tests/conformance/each_fault_test.py \
        $release/bin/fairlead-plugin-check $release/bin/fairlead-plugin-misbehave --all
    within env FAIRLEAD_PLUGIN_CHECK_SOAK="$count" ctest --test-dir $release -R '^conformance_' -j 2 \
        --timeout $((count + 600)) --output-on-failure
}

break_promises() {
    within cmake --preset release
    within /usr/bin/python3 -B tests/fault/promises.py $release
}

# The year is made once and kept; remove build/long/year for another.
year_at_size() {
    released fairlead fairleadd fairlead-sim-year
    mkdir -p build/long
    [ -f build/long/year/year/truth.json ] || rm -rf build/long/year
    within env FAIRLEAD_KEEP=build/long/year /usr/bin/python3 -B tests/year/year_test.py $release "$count" 10
}

benches() {
    released fairlead-bench-ingest fairlead-bench-judge fairlead-bench-watch
    for bench in ingest judge; do
        say "== $bench"
        within $release/tests/bench/fairlead-bench-$bench --rounds "$count" --source .
    done
    say "== judge, while the job runs"
    within $release/tests/bench/fairlead-bench-judge --live 1 --procedure load --source .
    within $release/tests/bench/fairlead-bench-judge --long --live 20 --procedure load --source .
    say "== watch"
    within $release/tests/bench/fairlead-bench-watch --source .
}

name=${1:-} count=''
case $name in
asan) minutes=40 ;;
tsan) minutes=20 ;;
tidy) minutes=40 ;;
fuzz) minutes=30 ;;
kills) minutes=150 count=1000 ;;
restores) minutes=30 count=200 ;;
simulated) minutes=120 count=10000 ;;
flips) minutes=150 count=100000 ;;
erasures) minutes=60 count=1000 ;;
disks) minutes=60 count=100 ;;
vfs) minutes=90 count=10000 ;;
faults) minutes=90 count=1000 ;;
links) minutes=60 count=25 ;;
verify) minutes=30 ;;
clocks) minutes=10 count=1000 ;;
attacks) minutes=15 count=100 ;;
oracle) minutes=60 count=1000000 ;;
roll) minutes=60 count=2000 ;;
mutations) minutes=60 count=10 ;;
bytes) minutes=60 count=500 ;;
promises) minutes=60 ;;
misbehave) minutes=60 count=1000 ;;
plugins) minutes=100 count=3600 ;;
soak) minutes=65 count=3600 ;;
year) minutes=60 count=20000 ;;
bench) minutes=15 count=5 ;;
'' | -h | --help) sed -n '2,31s/^# \{0,1\}//p' "$0"; exit 0 ;;
*) die "long.sh: no long form '$name' (sh tests/long.sh lists them)" ;;
esac
minutes=${2:-$minutes}
[ -z "${3:-}" ] || [ -n "$count" ] || die "long.sh: $name takes no count"
count=${3:-$count}
for number in "$minutes" "${count:-1}"; do
    case $number in *[!0-9]* | 0*) die "long.sh: '$number': give a whole number from 1" ;; esac
done
case $name in
asan | tsan | tidy | fuzz | bytes) needs="build run test clang" ;;
*) needs="build run test" ;;
esac
sh cmake/install.sh $needs
mkdir -p "$logs"
: >"$logs/$name.log"
ends=$(($(date +%s) + minutes * 60))
case $name in
asan) sanitized asan-ubsan ;;
tsan) sanitized tsan-core ;;
tidy) within cmake --preset tidy && within cmake --build --preset tidy ;;
fuzz) fuzz_all ;;
kills)
    released ledger_kill_test fairlead fairleadd
    within env FAIRLEAD_KILLS="$count" $release/tests/fault/ledger_kill_test
    fleet_cycles
    ;;
flips)
    released ledger_flip_test
    within env FAIRLEAD_FLIPS="$count" $release/tests/fault/ledger_flip_test
    ;;
erasures)
    released ledger_canary_test
    within env FAIRLEAD_ERASURES="$count" $release/tests/fault/ledger_canary_test
    ;;
disks)
    released fairlead fairleadd ledger_vfs_test
    within /usr/bin/python3 -B tests/fault/disk_test.py $release "$count"
    within env FAIRLEAD_FULL=$((count * 5)) $release/tests/fault/ledger_vfs_test --gtest_filter='*Full*'
    ;;
vfs)
    released ledger_vfs_test
    within env FAIRLEAD_VFS="$count" $release/tests/fault/ledger_vfs_test
    ;;
faults)
    released ledger_writer
    within /usr/bin/python3 -B tests/fault/strace_test.py $release/tests/fault/ledger_writer "$count"
    ;;
links) link_rounds ;;
restores)
    released restore_test
    within env FAIRLEAD_RESTORES="$count" FAIRLEAD_RECONNECTS=$((count * 50)) \
        $release/tests/unit/uplink/restore_test
    ;;
simulated) simulations ;;
verify)
    released merkle_test verify_check_test
    within env FAIRLEAD_LONG=1 $release/tests/unit/record/merkle_test
    within env FAIRLEAD_LONG=1 $release/tests/unit/verify/verify_check_test
    ;;
clocks)
    released clock_test
    within env FAIRLEAD_CLOCKS="$count" $release/tests/unit/watch/clock_test
    ;;
attacks)
    released verify_attacks_test
    within env FAIRLEAD_SEEDS="$count" $release/tests/unit/verify/verify_attacks_test
    ;;
oracle) oracle_slices ;;
roll) roll_strata ;;
mutations) mutate ;;
bytes) same_bytes ;;
promises) break_promises ;;
misbehave)
    released sensors_misbehave_test
    within env FAIRLEAD_MISBEHAVIOURS="$count" $release/tests/sensors/sensors_misbehave_test
    ;;
plugins) check_plugins ;;
soak)
    released sensors_soak_test
    within env FAIRLEAD_SOAK_SECONDS="$count" $release/tests/sensors/sensors_soak_test
    ;;
year) year_at_size ;;
bench) benches ;;
esac
say "long.sh: $name: passed within $minutes min. Log: $logs/$name.log"
