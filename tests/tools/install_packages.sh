#!/bin/sh
# Installs the Debian packages that are missing; asks for root only when it must.
# Usage: install_packages.sh PACKAGE...
set -eu
missing=
for package in "$@"; do
    # A tool that is on the PATH from elsewhere serves as well as its package.
    case $package in
    *-dev | pkg-config) ;;
    *) if command -v "$package" > /dev/null 2>&1; then continue; fi ;;
    esac
    if command -v dpkg-query > /dev/null 2>&1 &&
        dpkg-query -W -f '${Status}' "$package" 2> /dev/null | grep -q 'ok installed'; then
        continue
    fi
    missing="$missing $package"
done
[ -n "$missing" ] || exit 0

if ! command -v apt-get > /dev/null 2>&1; then
    echo "afterset needs these packages (Debian's names); install them with your system's tool:" >&2
    echo " $missing" >&2
    exit 1
fi
as_root=
if [ "$(id -u)" -ne 0 ]; then
    echo "installing with sudo:$missing"
    as_root=sudo
else
    echo "installing:$missing"
fi
install()
{
    # shellcheck disable=SC2086 # a list of words on purpose
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends \
        $missing > /dev/null
}
$as_root apt-get update -q > /dev/null || true
install
