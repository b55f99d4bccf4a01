#!/usr/bin/env bash
# An owner's name on the tip section of a rod by Otterhythe Rods, 6 mm thick, to be painted through a mask.
# Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
cd "${1:?the folder to write to}"
cutpaths label "IDA & ROWAN" --font "Barlow Condensed Bold" --letter-space 17% --method mask \
  --diameter 6 --diameter-end 5.6 --zone 60 --from 1210 --reads tip-to-butt --side=-90 \
  --colour white --blank-colour "#2b2a28" \
  --out tip-section.svg --marking-out marking-out.pdf --proof proof.html --picture on-the-rod.svg --force
cutpaths check tip-section.svg --method mask
