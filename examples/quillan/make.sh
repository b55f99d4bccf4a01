#!/usr/bin/env bash
# An owner's name written by pen on the 12 mm butt of a rod by Otterhythe Rods, and what a 0.6 mm broad nib makes of it.
# Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
cd "${1:?the folder to write to}"
cutpaths label "Quillan Reed" --font Geist --diameter 12 --zone 90 --span 75 --method pen --min-stroke 0.25 \
  --nib 0.6 --nib-angle 30 --nib-picture quillan-nib.png --out quillan.svg --report quillan.json --preview quillan.png --force
cutpaths check quillan.svg --method pen
