#!/usr/bin/env bash
# A mark painted through a mask on a grip by Otterhythe Rods that swells from 20 to 24 mm and thins again, as measured
# with callipers in grip.csv. Film that stays would wrinkle there and is refused; paint does not mind.
# Usage: make.sh FOLDER; the files are written there.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
cd "${1:?the folder to write to}"
cutpaths label "Otter" --blank "$here/grip.csv" --from 120 --to 180 --span 60 --method mask \
  --reads butt-to-tip --side 0 --colour black --blank-colour tan \
  --out swelled-grip.svg --marking-out marking-out.pdf --proof proof.html --picture on-the-rod.svg --force
cutpaths check swelled-grip.svg --method mask
