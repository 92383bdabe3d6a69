#!/bin/sh
# A day's cards in a shell pipeline. Usage: day.sh CARDS REPORTS
#
# Checks everything under CARDS, keeps the findings for machines and for people in REPORTS, converts the takes that have
# no errors, and says in one line how it went. Exit status: that of the check (0 clean, 1 findings, 2 it could not be done).
set -u
cards=$1
reports=$2
: "${RINGMARK:=ringmark}"
mkdir -p "$reports" || exit 2

status=0
"$RINGMARK" check "$cards" --report "jsonl=$reports/findings.jsonl" --report "text=$reports/findings.txt" \
    --force --quiet > /dev/null || status=$?

for take in "$cards"/*.csv; do
    # One take at a time: a broken one must not keep the others from being converted.
    if "$RINGMARK" check "$take" --quiet --report concise > /dev/null 2>&1; then
        name=$(basename "$take" .csv)
        case $(head -n 1 "$take") in
        "# document: take"*) "$RINGMARK" convert "$take" -o "$reports/$name.take.jsonl" --force --quiet ;;
        *) "$RINGMARK" convert "$take" -o "$reports/$name.lens.json" --force --quiet ;;
        esac
    fi
done

case $status in
0) echo "$cards: no errors" ;;
1) echo "$cards: errors, see $reports/findings.txt" ;;
*) echo "$cards: not all of it could be checked, see $reports/findings.txt" ;;
esac
exit $status
