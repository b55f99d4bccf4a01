#!/usr/bin/env bash
# A real evening's work at Otterhythe Rods: six labels by three methods for three rods, ganged on as few sheets as will do.
# Usage: make.sh FOLDER; the run is written to FOLDER/evening.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
cd "${1:?the folder to write to}"
cutpaths run "$here/evening.toml" --out evening --force
for sheet in evening/sheet-*.svg; do
  cutpaths check "$sheet"
done
