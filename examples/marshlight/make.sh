#!/usr/bin/env bash
# A model name for the butt of a rod by Otterhythe Rods: 12 mm tapering to 11.4 mm over a free zone of 90 mm.
# Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
cd "${1:?the folder to write to}"
cutpaths label "Marshlight No. 7" --diameter 12 --diameter-end 11.4 --zone 90 \
  --out marshlight.svg --report marshlight.json --preview marshlight.png --force
cutpaths check marshlight.svg
