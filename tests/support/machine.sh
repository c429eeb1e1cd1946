#!/bin/sh
# Install Chromium and Pango from Debian's packages where they are missing and the user may.
python=$1
wanted=""
command -v chromium-headless-shell >/dev/null || command -v chromium >/dev/null || wanted="chromium-headless-shell"
"$python" -W ignore -c "import weasyprint" 2>/dev/null || wanted="$wanted libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
[ -z "$wanted" ] && exit 0
if ! command -v apt-get >/dev/null; then
    echo "Missing on this machine: $wanted. Tests that need them will be reported as not run."
    exit 0
fi
if [ "$(id -u)" = 0 ]; then sudo=""; elif sudo -n true 2>/dev/null; then sudo="sudo"; else
    echo "Missing on this machine: $wanted. Install them as root, or those tests will be reported as not run."
    exit 0
fi
echo "Installing $wanted"
export DEBIAN_FRONTEND=noninteractive
$sudo apt-get update -qq && $sudo apt-get install -y -qq $wanted >/dev/null ||
    echo "Could not install $wanted. Tests that need them will be reported as not run."
