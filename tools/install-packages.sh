#!/bin/sh
# Installs the Debian packages that building and testing need; does nothing where all are there.
set -eu

packages="build-essential cmake ninja-build pkg-config libsundials-dev libjansson-dev libyaml-dev libcmocka-dev
libcairo2-dev libpango1.0-dev libmicrohttpd-dev fonts-dejavu-core
libopenmpi-dev openmpi-bin
python3 python3-scipy chromium"

# For the pages: only where there is no node of 18 or newer with its npm.
major=$(node --version 2>/dev/null | sed -n 's/^v\([0-9][0-9]*\)\..*/\1/p')
if [ "${major:-0}" -lt 18 ] || ! command -v npm >/dev/null 2>&1; then
    packages="$packages nodejs npm"
fi

# pkgconf stands in for pkg-config on newer systems.
present() {
    [ "$(dpkg-query -W -f='${db:Status-Abbrev}' "$1" 2>/dev/null | cut -c1-2)" = ii ]
}

if ! command -v dpkg-query >/dev/null 2>&1; then
    echo "This is no Debian system; needed are (under their Debian names): $(echo $packages)" >&2
    exit 0
fi

missing=
for package in $packages; do
    if ! present "$package"; then
        if [ "$package" = pkg-config ] && command -v pkg-config >/dev/null 2>&1; then
            continue
        fi
        missing="$missing $package"
    fi
done
[ -n "$missing" ] || exit 0

root=
if [ "$(id -u)" -ne 0 ]; then
    if ! command -v sudo >/dev/null 2>&1; then
        echo "Please install, as root:$missing" >&2
        exit 1
    fi
    root="sudo -n"
    if ! sudo -n true 2>/dev/null; then
        if [ -t 0 ]; then
            root=sudo
        else
            echo "Please install, as root:$missing" >&2
            exit 1
        fi
    fi
fi

echo "Installing:$missing"
$root apt-get update -q </dev/null
# shellcheck disable=SC2086 # the list is meant to be split
if [ "$root" = sudo ]; then
    sudo DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing
else
    $root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing </dev/null
fi
