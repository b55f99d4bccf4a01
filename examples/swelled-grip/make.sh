#!/usr/bin/env bash
# A mark on the swell of a grip by Otterhythe Rods, 25 mm thinning to 15 mm over 60 mm; the strip to wrap is a piece of
# a cone. Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
cd "${1:?the folder to write to}"
cutpaths label "Otter" --diameter 25 --diameter-end 15 --zone 60 --span 60 --from 120 \
  --reads butt-to-tip --side 0 --colour black --blank-colour tan \
  --out swelled-grip.svg --marking-out marking-out.pdf --proof proof.html --picture on-the-rod.svg --force
cutpaths check swelled-grip.svg
