#!/bin/sh
# Puts the unpacked folder into the desktop's menu, for this user: entry, icon, and the type of studies.
# `./install.sh --remove` takes them out again. The folder stays where it is; nothing else is touched.
set -eu
here=$(CDPATH= cd -- "$(dirname -- "$0")" && pwd)
share=${XDG_DATA_HOME:-$HOME/.local/share}
bin=$HOME/.local/bin
entry=$share/applications/plumbfall.desktop
icon=$share/icons/hicolor/scalable/apps/plumbfall.svg
type=$share/mime/packages/plumbfall.xml
if [ "${1:-}" = "--remove" ]; then
    rm -f "$entry" "$icon" "$type" "$bin/plumbfall"
else
    mkdir -p "$(dirname "$entry")" "$(dirname "$icon")" "$(dirname "$type")" "$bin"
    sed "s|^Exec=plumbfall|Exec=\"$here/plumbfall\"|" "$here/share/plumbfall.desktop" >"$entry"
    cp "$here/share/plumbfall.svg" "$icon"
    cp "$here/share/plumbfall.xml" "$type"
    ln -sf "$here/plumbfall" "$bin/plumbfall"
fi
# Desktops notice by themselves where these are not installed.
if command -v update-mime-database >/dev/null 2>&1; then update-mime-database "$share/mime" || true; fi
if command -v update-desktop-database >/dev/null 2>&1; then update-desktop-database "$share/applications" || true; fi
