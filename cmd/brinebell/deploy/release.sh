#!/usr/bin/env bash
# Makes what is published for a version: a static binary for each platform with
# the files to run it as a service, packed, with checksums. The same source and
# Go give the same bytes.
#
#   bash cmd/brinebell/deploy/release.sh VERSION [DIR]     # DIR is out/ by default
set -euo pipefail
version=${1:?which version, as in 1.2.0}
out=$(realpath -m "${2:-out}")
cd "$(dirname "$0")/../../.."
mkdir -p "$out"

epoch=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct)}
files=cmd/brinebell/deploy
for platform in linux/amd64 linux/arm64; do
  name=brinebell-$version-${platform/\//-}
  dir=$out/$name
  rm -rf "$dir"
  mkdir -p "$dir"
  echo "building $name"
  CGO_ENABLED=0 GOFLAGS= GOOS=${platform%/*} GOARCH=${platform#*/} go build -trimpath -buildvcs=false \
    -ldflags "-s -w -buildid= -X main.version=$version" -o "$dir/brinebell" ./cmd/brinebell
  cp "$files/brinebell.service" "$files/brinebell.yaml" "$files/mosquitto.conf" LICENSE README.md "$dir/"
  cp testdata/examples/homes.yaml "$dir/homes.yaml"
  tar --sort=name --mtime="@$epoch" --owner=0 --group=0 --numeric-owner --format=gnu \
    -C "$out" -cf - "$name" | gzip -n9 >"$out/$name.tar.gz"
  rm -rf "$dir"
done
cd "$out"
sha256sum "brinebell-$version"-*.tar.gz >"brinebell-$version-SHA256SUMS"
cat "brinebell-$version-SHA256SUMS"
