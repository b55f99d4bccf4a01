#!/usr/bin/env bash
# Five designs in three inks on one A4 sheet of clear film: a PDF for the print shop and plain SVG, each re-measured.
# Usage: make.sh FOLDER; the run is written to FOLDER/decals.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
cd "${1:?the folder to write to}"
cutpaths run "$here/decals.toml" --out decals --force
cutpaths check decals/sheet-1.svg --method print
