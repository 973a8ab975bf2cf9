#!/bin/bash
# Installs what is missing, builds everything with warnings as errors, runs all tests but
# benchmarks. Extra arguments go to ctest: tests/run.sh -L quick
set -euo pipefail
cd "$(dirname "$(readlink -f "$0")")/.."

.ci/install build demo test
cmake --preset release
cmake --build --preset release
ctest --preset release -j "$(nproc)" -LE bench "$@"
