#!/bin/sh
# Installs what is missing, builds the programs and plays the demo: a base, two trucks, three jobs
# of the invented fleet, two claims with their reports, a countersigned head, verified bundles, a
# summary.
#   sh clients/demo.sh [OUT]      OUT: where everything is written (build/demo)
set -eu
top=$(cd "$(dirname "$0")/.." && pwd)
cd "$top"
out=${1:-build/demo}

echo "== 1 of 3: packages"
sh cmake/install.sh build run
echo "== 2 of 3: build (the first time takes several minutes)"
mkdir -p build
cmake --preset release >build/configure.log 2>&1 || { cat build/configure.log; exit 1; }
cmake --build build/release --target demo_programs
echo "== 3 of 3: the demo (about a minute)"
exec /usr/bin/python3 -B clients/sim/demo/run.py build/release/bin "$out"
