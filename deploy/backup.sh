#!/usr/bin/env bash
# Copies the database and the photos of a running Tackwatch: backup.sh FOLDER [KEEP]
#
#   FOLDER/2026-03-02T091500Z/   one copy of the database for each run, the last KEEP of them (14 unless given)
#   FOLDER/photos/               all photos; each is named by its hash and never changes
#
# The database goes first: each photo that it knows was on disk before. Reads TACKWATCH_DATA_DIR and
# TACKWATCH_DATABASE_URL as the server does. Needs python3; for PostgreSQL also pg_dump, of the server's version or later.
set -euo pipefail
umask 077

if [ $# -lt 1 ] || [ $# -gt 2 ] || [[ ! "${2:-14}" =~ ^[1-9][0-9]*$ ]]; then
    echo "usage: backup.sh FOLDER [KEEP]" >&2
    exit 2
fi
folder=$1
keep=${2:-14}
data=${TACKWATCH_DATA_DIR:-data}
url=${TACKWATCH_DATABASE_URL:-sqlite:///$data/tackwatch.sqlite3}
name=$(date -u +%Y-%m-%dT%H%M%SZ)

mkdir -p "$folder/photos"
part=$(mktemp -d "$folder/.part-XXXXXX")
trap 'rm -rf "$part"' EXIT

case $url in
sqlite:///*)
    python3 - "${url#sqlite:///}" "$part/database.sqlite3" << 'PYTHON'
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

source, target = map(Path, sys.argv[1:])
if not source.is_file():
    sys.exit(f"backup.sh: there is no database at {source}")
with closing(sqlite3.connect(source, timeout=60)) as live, closing(sqlite3.connect(target)) as copy:
    live.backup(copy, pages=1000, sleep=0.05)
    copy.execute("PRAGMA journal_mode=DELETE")
    found = copy.execute("PRAGMA integrity_check").fetchone()[0]
if found != "ok":
    sys.exit(f"backup.sh: the copy is not sound: {found}")
PYTHON
    ;;
postgres://* | postgresql://* | postgresql+psycopg://*)
    pg_dump --format=custom --no-owner --no-privileges --file="$part/database.dump" --dbname="postgresql://${url#*://}"
    ;;
*)
    echo "backup.sh: TACKWATCH_DATABASE_URL: use sqlite:///path or postgresql://..." >&2
    exit 2
    ;;
esac
mv "$part" "$folder/$name"

photos=0
if [ -d "$data/photos" ]; then
    while IFS= read -r -d '' photo; do
        [ ! -e "$folder/photos/$photo" ] || continue
        mkdir -p "$folder/photos/$(dirname "$photo")"
        cp -p "$data/photos/$photo" "$folder/photos/.part"
        mv "$folder/photos/.part" "$folder/photos/$photo"
        photos=$((photos + 1))
    done < <(cd "$data/photos" && find . -type f ! -name '.part-*' -print0)
fi

find "$folder" -mindepth 1 -maxdepth 1 -type d -name '20*Z' | sort | head -n "-$keep" | while IFS= read -r old; do
    rm -r "$old"
done
echo "$folder/$name: the database; $photos new photos"
