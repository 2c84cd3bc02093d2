#!/usr/bin/env bash
# Build the image with buildah alone: no engine runs, no daemon is asked. Where one does run, `docker build` takes the
# same Dockerfile (docker/README.md). As root, or inside `buildah unshare`.
set -euo pipefail
cd "$(dirname "$0")/.."
name=localhost/headbench
base=${BASE:-debian:trixie-slim}
stand_in=localhost/debian-stand-in:trixie

need() { command -v "$1" >/dev/null || { echo "There is no $1 here. On Debian: apt install $1" >&2; exit 1; }; }
need buildah
[ "$(id -u)" = 0 ] || { echo "Building takes root, or: buildah unshare docker/image.sh" >&2; exit 1; }
# needs nothing that a container would not be given, so that it builds inside one, too
export BUILDAH_ISOLATION=chroot
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

if ! buildah inspect --type image "$base" >/dev/null 2>&1 && ! buildah pull -q "$base" >/dev/null 2>&1; then
  echo "WARNING: $base is not here and cannot be fetched; what is built stands on a Debian made by debootstrap instead:" >&2
  echo "WARNING: the same release and packages, but not the published image. Do not ship it." >&2
  base=$stand_in
  if ! buildah inspect --type image "$base" >/dev/null 2>&1; then
    need debootstrap
    root=$scratch/debian
    debootstrap --variant=minbase trixie "$root" >"$scratch/log" || { tail "$scratch/log" >&2; exit 1; }
    rm -rf "$root"/var/lib/apt/lists/* "$root"/var/cache/apt/*
    container=$(buildah from scratch)
    buildah add -q "$container" "$root" / >/dev/null
    buildah commit -q "$container" "$base" >/dev/null
    buildah rm "$container" >/dev/null
  fi
fi

version=$(sed -n 's/^version = "\(.*\)"/\1/p' pyproject.toml)
arguments=(
  --build-arg "BASE=$base" --build-arg "VERSION=$version" --build-arg "CREATED=$(date -u +%FT%TZ)"
  --build-arg "REVISION=$(git rev-parse HEAD 2>/dev/null || echo unknown)"
)
# a machine whose way out has a certificate of its own says where it is, as for every other program
if [ -n "${SSL_CERT_FILE:-}" ]; then
  printf '[global]\ncert = /run/certificates.pem\n' >"$scratch/pip.conf"
  arguments+=(--secret "id=certificates,src=$SSL_CERT_FILE" --secret "id=pip,src=$scratch/pip.conf")
fi
buildah build --pull=never --format docker "${arguments[@]}" -f docker/Dockerfile -t "$name:$version" -t "$name:latest" .
size() { buildah inspect --type image "$1" >/dev/null && buildah images --format '{{.Size}}' "$1" | head -1; }
echo "$name:$version: $(size "$name:$version"), of which the base is $(size "$base")"
