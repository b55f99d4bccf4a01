#!/usr/bin/env bash
# A model name on the butt of a rod by Otterhythe Rods, 14 mm thick, cut from gold film.
# Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
cd "${1:?the folder to write to}"
cutpaths label "Marshlight No. 7" --diameter 14 --diameter-end 13.4 --zone 110 --from 365 \
  --reads butt-to-tip --side 90 --colour gold --blank-colour "#1c2a22" --revision 2 \
  --out butt.svg --marking-out marking-out.pdf --proof proof.pdf --picture on-the-rod.svg --force
cutpaths check butt.svg
