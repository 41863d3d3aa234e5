#!/bin/sh
# Installs what Fairlead needs: sh cmake/install.sh NEED... (needs and packages: packages.txt).
# On Debian 12 it asks apt-get for what is missing and is done at once where nothing is. Anywhere
# else it installs nothing, says what is missing, and fails if anything is.
set -eu
here=$(cd "$(dirname "$0")" && pwd)

wanted() { # rows "package kind probe" of the needs asked for
    for need in "$@"; do
        awk -v need="$need" '$1 == need { print $2, $3, $4; n++ }
            END { if (!n) { print "install.sh: no package has the need " need > "/dev/stderr"; exit 1 } }' \
            "$here/packages.txt"
    done
}

on_debian_12() {
    [ -r /etc/os-release ] || return 1
    (. /etc/os-release && [ "${ID:-}" = debian ] && [ "${VERSION_ID:-}" = 12 ])
}

system_name() {
    if [ -r /etc/os-release ]; then (. /etc/os-release && echo "${PRETTY_NAME:-$ID}"); else uname -s; fi
}

missing_on_debian() {
    names=$(echo "$rows" | cut -d' ' -f1)
    have=$(dpkg-query -W -f='${db:Status-Status} ${Package}\n' $names 2>/dev/null |
        sed -n 's/^installed //p')
    for name in $names; do
        case "
$have
" in *"
$name
"*) ;; *) echo "$name" ;; esac
    done
}

missing_elsewhere() {
    echo "$rows" | while read -r name kind probe; do
        case $kind in
        command) command -v "$probe" >/dev/null 2>&1 || echo "$name (command $probe)" ;;
        file) [ -e "$probe" ] || echo "$name (file $probe)" ;;
        header)
            echo "#include <$probe>" | g++ -std=c++23 -E -x c++ -o /dev/null - 2>/dev/null ||
                echo "$name (header $probe)"
            ;;
        esac
    done
}

as_root() {
    if [ "$(id -u)" = 0 ]; then
        "$@"
    elif command -v sudo >/dev/null 2>&1; then
        sudo "$@"
    else
        echo "Packages are missing and neither root nor sudo is at hand. As root, run:" >&2
        echo "  apt-get install --no-install-recommends $(echo $missing)" >&2
        exit 1
    fi
}

rows=$(wanted "$@")
if ! on_debian_12; then
    missing=$(missing_elsewhere)
    [ -n "$missing" ] || exit 0
    {
        echo "This is $(system_name), not Debian 12, so nothing is installed for you. Missing, by"
        echo "its Debian name:"
        echo "$missing" | sed 's/^/  /'
        echo "Install these your system's way (GCC 12 or later) and run the command again, or use"
        echo "Debian 12."
    } >&2
    exit 1
fi

missing=$(missing_on_debian)
[ -n "$missing" ] || exit 0
echo "Installing $(echo "$missing" | wc -l) packages: $(echo $missing)"
apt="env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=300 -q"
as_root $apt update
# --no-remove: nothing that stands on this machine goes; apt-get then names the conflict and stops.
as_root $apt install -y --no-install-recommends --no-remove $missing || {
    echo "apt-get could not install these (its message is above). If it names packages it would" >&2
    echo "have to remove, remove them yourself if you can do without them, and run this again." >&2
    exit 1
}
