#!/usr/bin/env bash
# build_deb.sh FOLDER VERSION OUT.deb: a Debian package of the built folder (needs dpkg-deb, file and binutils).
set -euo pipefail
folder=$1 version=$2 out=$3
here=$(cd "$(dirname "$0")" && pwd)
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT

mkdir -p "$root"/DEBIAN "$root"/usr/lib "$root"/usr/bin "$root"/usr/share/{applications,mime/packages,doc/musclewood,icons/hicolor/scalable/apps}
cp -r "$folder" "$root/usr/lib/musclewood"
# Python's own parts only: stripping OpenBLAS breaks it.
strip --strip-unneeded "$root"/usr/lib/musclewood/_internal/libpython3*.so* \
    "$root"/usr/lib/musclewood/_internal/python3*/lib-dynload/*.so
ln -s ../lib/musclewood/musclewood "$root/usr/bin/musclewood"
cp "$here/musclewood.desktop" "$root/usr/share/applications/"
cp "$here/musclewood-mime.xml" "$root/usr/share/mime/packages/musclewood.xml"
cp "$here/../../assets/art/icon.svg" "$root/usr/share/icons/hicolor/scalable/apps/musclewood.svg"
cp "$here/../../LICENSE" "$root/usr/share/doc/musclewood/copyright"
chmod -R u=rwX,go=rX "$root"

cat > "$root/DEBIAN/control" <<CONTROL
Package: musclewood
Version: $version
Architecture: $(dpkg --print-architecture)
Maintainer: Musclewood <musclewood@localhost>
Installed-Size: $(du -sk "$root/usr" | cut -f1)
Depends: libc6 (>= 2.36), libx11-6, libxext6, libxcursor1, libxi6, libxrandr2, libxkbcommon0
Recommends: bluez, pipewire-alsa | pulseaudio, xdg-utils, shared-mime-info, desktop-file-utils
Section: misc
Priority: optional
Description: exercises at home, played as games with one's own muscle
 Prescribed by a therapist, steered by surface EMG. Not a medical device.
CONTROL
dpkg-deb --root-owner-group -Zxz --build "$root" "$out"
