#!/usr/bin/env bash
# A name for the butt of a boat rod by Otterhythe Rods, painted twice: through a stencil that holds itself together, and
# through an adhesive mask whose islands ride on carrier tape. Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
cd "${1:?the folder to write to}"
cutpaths stencil "SALLOW 908" --diameter 16 --diameter-end 15.4 --zone 140 \
  --out stencil.svg --report stencil.json --preview stencil.png --painted stencil-painted.png --force
cutpaths stencil "SALLOW 908" --method mask --diameter 16 --diameter-end 15.4 --zone 140 --cover 240 \
  --out mask.svg --report mask.json --key mask-key.png --painted mask-painted.png --force
cutpaths check stencil.svg --method stencil
