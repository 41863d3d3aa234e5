#!/bin/sh
# Installs what is missing, builds everything and runs all tests:
#   sh tests/run.sh                 every part
#   sh tests/run.sh --part unit     one part (repeatable): see the list below
# Ends with one line "N passed, N failed"; exit 0 only if none failed. Quick when run again.
#
# FAIRLEAD_VECTORS, FAIRLEAD_GPSLOGS  folders of published known answers and of receiver captures
#                                     (without them: ../shared/vectors and ../shared/gpslogs)
# FAIRLEAD_SLOW=3                     multiplies every time limit, for a slow machine
set -eu
top=$(cd "$(dirname "$0")/.." && pwd)
cd "$top"
build=build/release
logs=$build/logs
slow=${FAIRLEAD_SLOW:-1}

# Part, limit in minutes. A part is the tests whose ctest label is its name; unit is all the rest.
parts="unit 8
fault 15
opinion 8
fuzz 1
plugins 8
browser 5
pdf 3
bench 3"
build_minutes=35

say() { printf '%s\n' "$*"; }
die() { say "$*" >&2; exit 1; }

usage() {
    sed -n '2,11s/^# \{0,1\}//p' "$0"
    say "Parts and their limits in minutes:"
    echo "$parts" | sed 's/^/  /'
}

chosen=
while [ $# -gt 0 ]; do
    case $1 in
    --part)
        [ $# -gt 1 ] || die "run.sh: --part wants a name: $(echo "$parts" | cut -d' ' -f1 | tr '\n' ' ')"
        echo "$parts" | grep -q "^$2 " ||
            die "run.sh: no part '$2'; there are: $(echo "$parts" | cut -d' ' -f1 | tr '\n' ' ')"
        chosen="$chosen $2"
        shift 2
        ;;
    -h | --help) usage; exit 0 ;;
    *) die "run.sh: unknown argument '$1' (try --help)" ;;
    esac
done

seconds() { echo $(($1 * 60 * slow)); }

# Data published elsewhere that some tests check against.
find_data() { # variable, folder beside the checkout
    eval "now=\${$1:-}"
    if [ -z "$now" ] && [ -d "$top/../shared/$2" ]; then
        now=$(cd "$top/../shared/$2" && pwd)
        export "$1=$now"
    fi
    [ -n "$now" ] && [ -d "$now" ] && return 0
    [ "${CI:-}" != true ] || die "run.sh: $1: no folder of test data (${now:-none set}); CI must have it"
    absent="$absent $1"
    say "ATTENTION: $1: no such folder (${now:-none set}): the checks against it do not run."
}

build_all() {
    say "== Configuring ($build)"
    mkdir -p "$logs"
    cmake --preset release >"$logs/configure.log" 2>&1 || {
        cat "$logs/configure.log" >&2
        die "run.sh: cmake failed; log: $logs/configure.log"
    }
    say "== Building (limit $((build_minutes * slow)) min)"
    status=0
    timeout -k 10 "$(seconds $build_minutes)" ninja -C "$build" || status=$?
    [ $status != 124 ] || die "run.sh: the build overran its $((build_minutes * slow)) minutes; run again to go on"
    [ $status = 0 ] || die "run.sh: the build failed"
}

select_part() { # ctest arguments that pick one part
    if [ "$1" = unit ]; then
        echo "-LE ^($(echo "$parts" | cut -d' ' -f1 | grep -v '^unit$' | paste -sd'|' -))\$"
    else
        echo "-L ^$1\$"
    fi
}

run_part() { # name, minutes
    select=$(select_part "$1")
    count=$(ctest --test-dir "$build" -N $select | sed -n 's/^Total Tests: //p')
    if [ "${count:-0}" = 0 ]; then
        [ -z "$chosen" ] || die "run.sh: part $1 has no tests yet"
        return 0
    fi
    say "== Part $1: $count tests (limit $(($2 * slow)) min)"
    rm -f "$logs/$1.log" "$logs/$1.xml"
    status=0
    timeout -k 10 "$(seconds "$2")" ctest --test-dir "$build" -j2 --output-on-failure $select \
        --output-log "$logs/$1.log" --output-junit "$top/$logs/$1.xml" || status=$?
    summary=$(grep -E '^[0-9]+% tests passed, [0-9]+ tests failed out of [0-9]+' "$logs/$1.log" 2>/dev/null || true)
    bad=$(echo "$summary" | sed -n 's/.*passed, \([0-9]*\) tests failed.*/\1/p')
    all=$(echo "$summary" | sed -n 's/.*out of \([0-9]*\).*/\1/p')
    if [ -z "$summary" ]; then
        bad=$count all=$count
        say "Part $1 overran its $(($2 * slow)) minutes or broke off (status $status): all of it counts as failed."
    elif [ $status != 0 ] && [ "$bad" = 0 ]; then
        bad=1
        say "Part $1: ctest ended with status $status though no test failed."
    fi
    passed=$((passed + all - bad))
    failed=$((failed + bad))
}

sh cmake/install.sh build run test
absent="" passed=0 failed=0
find_data FAIRLEAD_VECTORS vectors
find_data FAIRLEAD_GPSLOGS gpslogs
started=$(date +%s)
build_all
built=$(date +%s)
while read -r name minutes; do
    case " ${chosen:-$name} " in *" $name "*) run_part "$name" "$minutes" </dev/null ;; esac
done <<EOF
$parts
EOF

say
[ -z "$absent" ] || say "Without test data, so not checked against it:$absent"
say "Build $((built - started)) s, tests $(($(date +%s) - built)) s. Logs: $logs/"
[ $((passed + failed)) -gt 0 ] || die "run.sh: no test ran"
say "$passed passed, $failed failed"
[ "$failed" = 0 ]
