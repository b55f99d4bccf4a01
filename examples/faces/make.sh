#!/usr/bin/env bash
# A word in every bundled face, before and after, for strokes of 0.6 and gaps of 0.4 mm: each face with capitals of
# 5 mm, or of the least size at which it can be made; and the map of one of them.
# Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
cd "${1:?the folder to write to}"
limits=(--min-stroke 0.6 --min-gap 0.4)
cutpaths advise "Marsh 7" --cap-height 5 "${limits[@]}" --faces faces.png --least --report faces.json --force
cutpaths label "Marshlight No. 7" --font "Source Serif 4" --cap-height 6 "${limits[@]}" --map map.png --force
