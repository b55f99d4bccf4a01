#!/usr/bin/env bash
# A name to be written on a tip of 6 mm, and a model to be written on a butt of 14 mm with a pointed pen: sheets to
# practise on, for a plotter (SVG) and a printer (PDF).
# Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
cd "${1:?the folder to write to}"
cutpaths practice "Åse Lindqvår" --diameter 6 --line 0.35 --rows 20 --out tip.svg --pdf tip.pdf --preview tip.png --force
cutpaths practice "Marshlight No. 7" --diameter 14 --diameter-end 13.2 --zone 160 --font "Pinyon Script" \
  --hand pointed --pdf butt.pdf --preview butt.png --force
