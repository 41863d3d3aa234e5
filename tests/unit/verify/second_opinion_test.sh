#!/bin/sh
# The verifier and the independent script must agree: on good bundles by the exit code, on altered ones
# that both refuse. Usage: second_opinion_test.sh VERIFY MAKE_BUNDLE SCRIPT [ALTERED]
set -eu
verify=$1
make=$2
script=$3
altered=${4:-40}
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
cd "$dir"
"$make" "$dir"
"$verify" pin --roster roster.note --log "$(cat log.vkey)" \
  --countersigner "$(cat countersigner.vkey)" -o policy >/dev/null

code_of() { code=0; "$@" >>out.txt 2>&1 || code=$?; echo "$code"; }

for bundle in plain cosigned; do
  a=$(code_of "$verify" check $bundle.flb --policy policy)
  b=$(code_of /usr/bin/python3 "$script" $bundle.flb policy)
  [ "$a" = "$b" ] && [ "$a" -le 1 ] || { echo "FAILED: $bundle: $a and $b"; cat out.txt; exit 1; }
done
# A second generation of the log, with bodies that were lost with a disk; then without the truck's word.
for bundle in later later_withheld; do
  a=$(code_of "$verify" check $bundle.flb --policy later.policy)
  b=$(code_of /usr/bin/python3 "$script" $bundle.flb later.policy)
  [ "$a" = "$b" ] || { echo "FAILED: $bundle: $a and $b"; cat out.txt; exit 1; }
  [ "$a" = "$([ $bundle = later ] && echo 1 || echo 2)" ] || { echo "FAILED: $bundle: $a"; cat out.txt; exit 1; }
done
# reseal_N.flb: altered inside and sealed again by the base's own key.
for bundle in reseal_*.flb; do
  a=$(code_of "$verify" check "$bundle" --policy policy)
  b=$(code_of /usr/bin/python3 "$script" "$bundle" policy)
  [ "$a" -ge 2 ] && [ "$b" -ge 2 ] || { echo "FAILED: $bundle: $a and $b"; exit 1; }
done
# Every kind of lie of a dishonest base: the same exit code, or one refuses as the other does. Step 12 is
# the program's alone, and report files beside the bundle are not the script's to compare.
mkdir attacks
"$make" attacks attacks
kinds=0
tab=$(printf '\t')
while IFS=$tab read -r name step what; do
  [ "$step" != 12 ] || continue
  a=$(code_of "$verify" check "attacks/$name.flb" --policy "attacks/$name.policy")
  b=$(code_of /usr/bin/python3 "$script" "attacks/$name.flb" "attacks/$name.policy")
  [ "$a" = "$b" ] || { [ "$a" -ge 2 ] && [ "$b" -ge 2 ]; } ||
    { [ "$a" -le 1 ] && [ "$b" -le 1 ]; } || { echo "FAILED: $what: $a and $b"; exit 1; }
  kinds=$((kinds + 1))
done <attacks/attacks.tsv
size=$(stat -c %s cosigned.flb)
i=0
while [ "$i" -lt "$altered" ]; do
  at=$(( (i * 7919 + 13) % size ))
  cp cosigned.flb bad.flb
  byte=$(od -An -tu1 -j "$at" -N 1 cosigned.flb | tr -d ' ')
  printf "\\$(printf %o $(( byte ^ 1 )))" | dd of=bad.flb bs=1 seek="$at" conv=notrunc 2>/dev/null
  a=$(code_of "$verify" check bad.flb --policy policy)
  b=$(code_of /usr/bin/python3 "$script" bad.flb policy)
  [ "$a" -ge 2 ] && [ "$b" -ge 2 ] || { echo "FAILED: byte $at: $a and $b"; exit 1; }
  i=$((i + 1))
done
echo "second opinion: 2 good, 2 of a later generation, $(ls reseal_*.flb | wc -l) re-sealed and $altered altered bundles, $kinds lies agree"
