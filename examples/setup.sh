#!/usr/bin/env bash
# Installs the Debian packages that daywright needs and that are not there yet; does nothing when all are.
#
#   setup.sh run     what building and running the program needs
#   setup.sh tests   the same, and what the tests need
#
# Works on Debian 12 and 13. Uses sudo only when not root.
set -euo pipefail

build=(ca-certificates cmake g++ ninja-build openssh-client pkg-config
       libboost-program-options-dev libcmark-dev libexpat1-dev libfmt-dev libicu-dev libkainjow-mustache-dev libssl-dev
       libtomlplusplus-dev libutf8proc-dev libutfcpp-dev libxlsxwriter-dev libzip-dev nlohmann-json3-dev)
tests=(catch2 chromium clang-19 clang-format-19 clang-tidy-19 fonts-dejavu-core git
       libbenchmark-dev libclang-rt-19-dev libcsv-dev libreoffice-calc-nogui libudunits2-dev libvalijson-dev locales
       poppler-utils
       python3 python3-markdown-it python3-openpyxl strace)

# Node from elsewhere does as well, and would not have Debian's beside it.
command -v npm >/dev/null || tests+=(nodejs npm)

case "${1:-}" in
  run) wanted=("${build[@]}") ;;
  tests) wanted=("${build[@]}" "${tests[@]}") ;;
  *) echo "usage: setup.sh run|tests" >&2; exit 2 ;;
esac

missing=()
for package in "${wanted[@]}"; do
  state=$(dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null || true)
  [ "$state" = installed ] || missing+=("$package")
done
[ "${#missing[@]}" -gt 0 ] || exit 0

echo "setup: installing ${#missing[@]} Debian packages: ${missing[*]}" >&2
as_root=()
if [ "$(id -u)" -ne 0 ]; then
  command -v sudo >/dev/null || { echo "setup: not root and no sudo; please install the packages above" >&2; exit 3; }
  as_root=(sudo)
fi
log=$(mktemp)
trap 'rm -f "$log"' EXIT
install() {
  "${as_root[@]}" apt-get update &&
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "${missing[@]}"
}
install >"$log" 2>&1 || { tail -n 30 "$log" >&2; echo "setup: the packages could not be installed" >&2; exit 3; }
echo "setup: done" >&2
