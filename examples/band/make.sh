#!/usr/bin/env bash
# A ring round the swell of a grip by Otterhythe Rods, 25 mm thinning to 15 mm over 60 mm: the words twice, bent for the
# cone, in a band whose ends meet. Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
cd "${1:?the folder to write to}"
cutpaths label "Oriel 9" --diameter 25 --diameter-end 15 --zone 60 --from 120 --span 140 \
  --lay around --tops tip --repeat 2 --side 0 --colour black --blank-colour tan \
  --out band.svg --report band.json --picture on-the-rod.svg --marking-out marking-out.pdf --proof proof.html --force
cutpaths check band.svg
