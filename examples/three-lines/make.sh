#!/usr/bin/env bash
# A label in three lines of two faces and three sizes, with one correction by hand.
# Usage: make.sh FOLDER; the run is written to FOLDER/marian.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
cd "${1:?the folder to write to}"
cutpaths run "$here/marian.toml" --out marian --force
cutpaths check marian/sheet-1.svg --method print
