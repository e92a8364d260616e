#!/usr/bin/env bash
# Puts a backup in the place of what is there: restore.sh FOLDER/2026-03-02T091500Z
#
# Stop the web and alarm processes first; it refuses while the database is in use. What was there is kept beside the
# data, in before-restore-*, from where it can be put back in the same way. Afterwards each refit has a new epoch, so that
# phones offer again what came after the backup. Reads TACKWATCH_DATA_DIR and TACKWATCH_DATABASE_URL as the server does.
# Needs tackwatch, python3 and find; for PostgreSQL also psql, pg_dump and pg_restore.
set -euo pipefail
umask 077

if [ $# -ne 1 ] || [ ! -d "$1" ]; then
    echo "usage: restore.sh FOLDER/INSTANT (a folder that backup.sh made)" >&2
    exit 2
fi
backup=$(cd "$1" && pwd)
data=${TACKWATCH_DATA_DIR:-data}
url=${TACKWATCH_DATABASE_URL:-sqlite:///$data/tackwatch.sqlite3}
aside=$data/before-restore-$(date -u +%Y-%m-%dT%H%M%SZ)

stop() {
    echo "restore.sh: $1; nothing was changed" >&2
    exit 1
}

in_use() {
    # find fails over processes that end meanwhile; what counts is what it prints
    [ -n "$(find /proc/[0-9]*/fd -lname "$(realpath -m "$1")" -print -quit 2> /dev/null || true)" ]
}

copy_sqlite() {
    python3 -c 'import sqlite3, sys
source, target = map(sqlite3.connect, sys.argv[1:])
source.backup(target)' "$1" "$2"
}

restore_sqlite() {
    local file=${url#sqlite:///} copy=$backup/database.sqlite3
    [ -f "$copy" ] || stop "$backup holds no database.sqlite3"
    python3 -c 'import sqlite3, sys
found = sqlite3.connect(f"file:{sys.argv[1]}?mode=ro&immutable=1", uri=True).execute("PRAGMA integrity_check").fetchone()
sys.exit(found != ("ok",))' "$copy" || stop "$copy is not sound"
    ! in_use "$file" || stop "a process still has $file open"
    mkdir -p "$aside" "$(dirname "$file")"
    cp "$copy" "$file.part"
    if [ -e "$file" ]; then
        copy_sqlite "$file" "$aside/database.sqlite3"
        rm -f "$file-wal" "$file-shm"
    fi
    mv "$file.part" "$file"
}

restore_postgresql() {
    local address="postgresql://${url#*://}" dump=$backup/database.dump others
    [ -f "$dump" ] || stop "$backup holds no database.dump"
    pg_restore --list "$dump" > /dev/null || stop "$dump is not sound"
    others=$(psql "$address" -XAtc "SELECT count(*) FROM pg_stat_activity
        WHERE datname = current_database() AND pid <> pg_backend_pid() AND backend_type = 'client backend'")
    [ "$others" = 0 ] || stop "$others processes are still connected to the database"
    mkdir -p "$aside"
    pg_dump --format=custom --no-owner --no-privileges --file="$aside/database.dump" --dbname="$address"
    # one transaction: all of it, or what was there
    {
        echo 'DROP SCHEMA public CASCADE; CREATE SCHEMA public;'
        pg_restore --no-owner --no-privileges --file=- "$dump" | grep -v '^CREATE SCHEMA public;$'
    } | psql "$address" -Xq --single-transaction --set ON_ERROR_STOP=1 > /dev/null
}

restore_photos() {
    local pool photo
    pool=$(dirname "$backup")/photos
    [ -d "$pool" ] || return 0
    while IFS= read -r -d '' photo; do
        [ ! -e "$data/photos/$photo" ] || continue
        if [ "$(sha256sum < "$pool/$photo" | cut -d ' ' -f 1)" != "$(basename "$photo")" ]; then
            echo "restore.sh: left out, since its bytes do not fit its name: $pool/$photo" >&2
            continue
        fi
        mkdir -p "$data/photos/$(dirname "$photo")"
        cp -p "$pool/$photo" "$data/photos/.part-restored"
        mv "$data/photos/.part-restored" "$data/photos/$photo"
    done < <(cd "$pool" && find . -type f ! -name '.part*' -print0)
}

mkdir -p "$data"
case $url in
sqlite:///*) restore_sqlite ;;
postgres://* | postgresql://* | postgresql+psycopg://*) restore_postgresql ;;
*) stop "TACKWATCH_DATABASE_URL: use sqlite:///path or postgresql://..." ;;
esac
restore_photos
tackwatch migrate
tackwatch restored
echo "What was there before lies in $aside. Start the web and alarm processes again."
