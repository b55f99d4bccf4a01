#!/usr/bin/env bash
# One order at Otterhythe Rods: the model for the customer's yes, the yes with a serial number, the number itself, the
# register as a table, and everything once more from what the register kept, the same to the byte.
# Usage: make.sh FOLDER; the register is written there too, and taken away in the end.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
cd "${1:?the folder to write to}"
[ "$here" = "$PWD" ] || cp "$here/workshop.toml" .
rm -rf otterhythe.sqlite again
order="Marian Ostler, Quillan 9"
rod=(--diameter 13 --diameter-end 12.2 --zone 110 --order "$order" --force)
cutpaths label "Quillan 9" "${rod[@]}" --reads butt-to-tip --from 320 --out quillan.svg --proof proof.html
cutpaths orders "$order" --approve --serials 1 --customer "Marian Ostler"
cutpaths label "{serial}" "${rod[@]}" --method mask --span 60 --out number.svg
cutpaths orders --csv orders.csv --force
cutpaths again "marian ostler, quillan 9" --out again
for file in quillan.svg number.svg proof.html; do cmp "$file" "again/$file"; done
cutpaths orders "$order"
cutpaths orders --check
rm -rf again otterhythe.sqlite proof.html orders.csv
