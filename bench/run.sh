#!/bin/sh
# bench/run.sh [CASE...]: builds in release, times the main job's parts, then solves the same cases with SciPy side by
# side: runs of model (a), then single equilibria (equilibrium_...). Exit status 1 where the two disagree, 2 where
# they cannot be run. BENCH_BUILD: the build folder, build/bench unless stated; BENCH_REPEAT: runs of the peer, 3
# unless stated; BENCH_ONLY_PEER=1 leaves the first table out.
set -eu
cd "$(dirname "$0")/.."
build=${BENCH_BUILD:-build/bench}
python=${BENCH_PYTHON:-/usr/bin/python3}
[ $# -gt 0 ] || set -- water acetonitrile two_classes manifold secondary ten_classes \
    equilibrium_binary equilibrium_ternary equilibrium_four equilibrium_gap
if ! "$python" -c 'import numpy, scipy.integrate, scipy.optimize' 2>/dev/null; then
    echo "bench: $python has no SciPy (Debian: python3-scipy)" >&2
    exit 2
fi
mkdir -p "$build"
build=$(cd "$build" && pwd)
generator=
command -v ninja >/dev/null && generator="-G Ninja"
# shellcheck disable=SC2086
if ! { cmake -S . -B "$build" $generator -DCMAKE_BUILD_TYPE=Release -DDRYFRONT_BENCH=ON -DDRYFRONT_TESTS=OFF &&
    cmake --build "$build" -j 2; } >"$build/bench.log" 2>&1; then
    cat "$build/bench.log" >&2
    exit 2
fi
export OMP_NUM_THREADS="${OMP_NUM_THREADS:-$(nproc)}"
if [ -z "${BENCH_ONLY_PEER:-}" ]; then
    DRYFRONT_PROGRAM="$build/dryfront" "$build/bench/bench" examples/island.yaml
    echo
fi
# One thread for NumPy, as for our run: the arrays are small and threads would only slow it down.
failed=0
for case in "$@"; do
    case $case in
    equilibrium_*) dump=dump_equilibrium peer=peer_equilibrium.py ;;
    *) dump=dump_case peer=peer_model_a.py ;;
    esac
    "$build/bench/$dump" "$case" >"$build/bench/$case.json"
    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 "$python" "bench/$peer" "$build/bench/$case.json" \
        --repeat "${BENCH_REPEAT:-3}" || failed=1
done
exit $failed
