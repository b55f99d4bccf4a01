#!/usr/bin/env bash
# A club's order: 24 names of one list at one cap height, the largest at which all of them fit, with what it costs.
# Usage: make.sh FOLDER; the run is written to FOLDER/club.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
cd "${1:?the folder to write to}"
cutpaths run "$here/club.toml" --out club --force
cutpaths check club/sheet-1.svg
