#!/usr/bin/env bash
# Rewrites .sqlx/, the description of every SQL query by which the program builds without a
# database. Needed after a query or a migration has changed. Uses cargo and python3 (or the sqlite3
# shell), nothing to install.
set -euo pipefail
cd "$(dirname "$0")/.."

folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
database=$folder/schema.db

if command -v python3 >/dev/null; then
    python3 - "$database" migrations/*.sql <<'PYTHON'
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1])
for name in sorted(sys.argv[2:]):
    with open(name, encoding="utf-8") as migration:
        connection.executescript(migration.read())
connection.commit()
PYTHON
elif command -v sqlite3 >/dev/null; then
    for migration in migrations/*.sql; do
        sqlite3 -bail "$database" <"$migration"
    done
else
    echo "prepare-queries.sh needs python3 or sqlite3 to make a database from migrations/" >&2
    exit 1
fi

mkdir -p .sqlx "$folder/queries"
# The macros write while the crate is checked; a crate that is up to date would not be.
touch src/lib.rs
SQLX_OFFLINE=false SQLX_OFFLINE_DIR=$folder/queries DATABASE_URL=sqlite://$database \
    cargo check --quiet --all-targets
rm -f .sqlx/query-*.json
cp "$folder"/queries/query-*.json .sqlx/
echo "$(find .sqlx -name 'query-*.json' | wc -l) queries described in .sqlx/"

# Proof that it is whole: the same check without a database.
touch src/lib.rs
env -u DATABASE_URL SQLX_OFFLINE=true cargo check --quiet --all-targets
