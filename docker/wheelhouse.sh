#!/usr/bin/env bash
# Put all that a PC without a network is installed from into one folder: docker/shop-pc.md. The Python that is named here
# must be of the PC's version (3.13 on Debian 13) and machine, as wheels are made for one of each.
set -euo pipefail
cd "$(dirname "$0")/.."
python=${1:-python3}
folder=dist/wheelhouse
rm -rf "$folder"
mkdir -p "$folder"
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
"$python" -m venv "$scratch/env"
pip() { "$scratch/env/bin/pip" --disable-pip-version-check "$@"; }
pip install -q --require-hashes -r docker/build.lock
pip wheel -q --no-deps --no-build-isolation --wheel-dir "$folder" .
pip download -q --require-hashes --only-binary :all: --dest "$folder" -r docker/pc.lock
cp docker/pc.lock docker/headbench.service docker/shop-pc.md "$folder"
(cd "$folder" && sha256sum -- * >SHA256SUMS)
echo "$folder: $(find "$folder" -name '*.whl' | wc -l) wheels for $("$python" -V) on $(uname -m), $(du -sh "$folder" | cut -f1)"
