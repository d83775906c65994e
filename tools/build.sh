#!/bin/sh
# build.sh PRESET [TARGET...]: configures and builds quietly; shows the log only where something fails.
set -eu
cd "$(dirname "$0")/.."
preset=$1
shift
mkdir -p build
log=build/$preset.log
jobs=${DRYFRONT_JOBS:-$(nproc 2>/dev/null || echo 2)}
echo "Building $preset" >&2
if ! { cmake --preset "$preset" && cmake --build "build/$preset" -j "$jobs" ${1+--target "$@"}; } >"$log" 2>&1 \
    </dev/null; then
    cat "$log" >&2
    echo "The build of $preset failed." >&2
    exit 1
fi
