#!/bin/sh
# The program itself: exit codes, both outputs, and that it is one static file of at most 10 MiB.
# Usage: program_test.sh VERIFY MAKE_BUNDLE
set -eu
verify=$1
make=$2
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
cd "$dir"

expect() {  # expect CODE WORDS COMMAND...
  want=$1; words=$2; shift 2
  code=0
  "$@" >out.txt 2>&1 || code=$?
  if [ "$code" -ne "$want" ] || ! grep -q -- "$words" out.txt; then
    echo "FAILED: $* gave exit $code, expected $want with \"$words\":"
    cat out.txt
    exit 1
  fi
}

size=$(stat -c %s "$verify")
[ "$size" -le 10485760 ] || { echo "FAILED: $size bytes, more than 10 MiB"; exit 1; }
if ldd "$verify" >ldd.txt 2>&1; then echo "FAILED: not static"; cat ldd.txt; exit 1; fi

printf '%%PDF-1.7\n' >empty.pdf
"$make" "$dir"  # Writes roster.note, log.vkey, countersigner.vkey, plain.flb, cosigned.flb.
expect 0 'Compare the roster' "$verify" pin --roster roster.note --log "$(cat log.vkey)" \
  --countersigner "$(cat countersigner.vkey)" -o policy
expect 0 'PROVEN and countersigned' "$verify" check cosigned.flb --policy policy
expect 0 '"exit":0' "$verify" check cosigned.flb --policy policy --json
expect 1 'not yet countersigned' "$verify" check plain.flb --policy policy
expect 0 'PROVEN and countersigned' "$verify" check report.pdf --policy policy
expect 0 'finding *identity_before_touch' "$verify" check report.pdf --policy policy
expect 0 'fingerprint \([0-9a-f]\{8\} \)\{7\}' "$verify" check cosigned.flb --policy policy
expect 1 'names no issued report' "$verify" check cosigned.flb --policy policy --pages log.vkey
expect 3 'carries no bundle' "$verify" check empty.pdf --policy policy
cp cosigned.flb bad.flb
printf 'x' | dd of=bad.flb bs=1 seek=9000 conv=notrunc 2>/dev/null
code=0; "$verify" check bad.flb --policy policy >out.txt || code=$?
[ "$code" -ge 2 ] && [ "$code" -le 4 ] || { echo "FAILED: altered bundle gave $code"; exit 1; }
head -c 5000 cosigned.flb >short.flb
expect 3 'MALFORMED' "$verify" check short.flb --policy policy
expect 3 'does not begin with' "$verify" check roster.note --policy policy
expect 3 'No such file' "$verify" check missing.flb --policy policy
expect 4 'NOT DECIDED' "$verify" check cosigned.flb --policy roster.note
expect 4 'another log key' "$verify" pin --roster roster.note --log "$(cat other.vkey)" -o policy2
expect 64 'see fairlead-verify --help' "$verify" check cosigned.flb
expect 0 '0 proven and countersigned' "$verify" --help
echo "program_test: $size bytes, static; all exit codes as written"
