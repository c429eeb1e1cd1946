#!/bin/sh
# Install Chromium and Pango from Debian's packages where they are missing and the user may.
python=$1

say_missing() {
    echo "Missing on this machine: $*. $reason Tests that need it will be reported as not run."
}

install() {
    if [ -n "$reason" ]; then
        say_missing "$@"
        return
    fi
    echo "Installing $*"
    $sudo apt-get install -y -qq --no-install-recommends "$@" >/dev/null </dev/null || {
        reason="It could not be installed."
        say_missing "$@"
        reason=""
    }
}

has_chromium=$("$python" -c "from tests.support.services import chromium; print(chromium() or '')")
has_pango=$("$python" -W ignore -c "import weasyprint; print('yes')" 2>/dev/null)
[ -n "$has_chromium" ] && [ -n "$has_pango" ] && exit 0

reason=""
sudo=""
if ! command -v apt-get >/dev/null; then
    reason="There is no apt-get here."
elif [ "$(id -u)" != 0 ]; then
    if sudo -n true 2>/dev/null; then sudo="sudo"; else reason="Install it as root."; fi
fi
export DEBIAN_FRONTEND=noninteractive
[ -n "$reason" ] || $sudo apt-get update -qq </dev/null || reason="The package lists could not be read."
[ -n "$has_pango" ] || install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fontconfig
[ -n "$has_chromium" ] || install chromium-headless-shell
exit 0
