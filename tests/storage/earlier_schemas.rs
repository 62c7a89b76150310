//! Data of earlier schemas, as the program of its time wrote it (`schemas/make.py`), opens
//! here, is brought to the present schema, and says what it said.

use crate::{NOW, assert_sound, number};
use brickbook::evaluate::Method;
use brickbook::intake::check::check;
use brickbook::intake::rescore;
use brickbook::storage::{Db, backup};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, SqliteConnection};
use std::path::{Path, PathBuf};

/// Schemas of which data is stored.
const SCHEMAS: [i64; 5] = [2, 3, 4, 5, 6];

/// The first whose program judged as the present one does, as far as the method has not changed since.
const JUDGED_ALIKE: i64 = 6;

fn stored(schema: i64) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/storage/schemas/schema-{schema}.zip"))
}

async fn texts(connection: &mut SqliteConnection, sql: &'static str) -> Vec<String> {
    sqlx::query_scalar(sql).fetch_all(connection).await.unwrap()
}

/// What must come through byte for byte.
const KEPT: [&str; 5] = [
    "SELECT slug || ' ' || number || ' ' || author || ' ' || reason || ' ' || revision.created_at
            || char(10) || record
     FROM revision JOIN unit ON unit.id = unit_id ORDER BY revision.id",
    "SELECT id || ' ' || slug || ' ' || created_at FROM unit ORDER BY id",
    "SELECT engine || ' ' || score_version || ' ' || method_digest || ' ' || ifnull(score, '-')
            || ' ' || created_at || char(10) || document
     FROM evaluation ORDER BY id",
    "SELECT name || ' ' || password_hash || ' ' || created_at FROM operator ORDER BY id",
    "SELECT id || ' ' || operator_id || ' ' || version || ' ' || updated_at || ' ' || fields
     FROM draft ORDER BY id",
];

#[tokio::test]
async fn data_of_earlier_schemas_opens_is_renewed_and_found_whole() {
    let method = Method::standard();
    for schema in SCHEMAS {
        let folder = tempfile::tempdir().unwrap();
        let restored = backup::restore(&stored(schema), folder.path(), false, NOW)
            .await
            .unwrap();
        assert_eq!(restored.about.schema, schema);
        let path = folder.path().join("brickbook.db");
        let mut before = Vec::new();
        let mut old = SqliteConnectOptions::new()
            .filename(&path)
            .connect()
            .await
            .unwrap();
        for sql in KEPT {
            let rows = texts(&mut old, sql).await;
            assert!(!rows.is_empty(), "schema {schema}: {sql}");
            before.push(rows);
        }
        sqlx::Connection::close(old).await.unwrap();

        let db = Db::open(&path).await.unwrap();
        for (sql, rows) in KEPT.iter().zip(&before) {
            let after = texts(&mut db.read().await.unwrap(), sql).await;
            assert_eq!(&after, rows, "schema {schema}");
        }
        assert_sound(&db).await;
        let units = number(&db, "SELECT count(*) FROM unit")
            .await
            .unsigned_abs();
        let outdated = rescore::outdated(&db, &method).await.unwrap();
        assert!(
            outdated == units || (schema >= JUDGED_ALIKE && outdated == 0),
            "schema {schema}: all were evaluated by one method"
        );
        let found = check(&db, &method, |_, _| {}).await.unwrap();
        assert_eq!(found.faults, Vec::<String>::new(), "schema {schema}");
        let renewed = rescore::rescore(&db, &method, NOW, |_, _| true)
            .await
            .unwrap();
        assert_eq!((renewed.units, renewed.refused), (outdated, Vec::new()));
        let found = check(&db, &method, |_, _| {}).await.unwrap();
        assert_eq!(found.faults, Vec::<String>::new(), "schema {schema}");
        let evaluated = before[2].len() as u64;
        let of_earlier = if outdated == 0 { 0 } else { evaluated };
        assert_eq!(found.earlier_evaluations, of_earlier);
        assert_eq!(found.evaluations, evaluated + outdated - of_earlier);
        assert_eq!(found.logs > 0, schema >= 3);
        // The tables were there before anything could put a photo into them.
        assert_eq!(found.photos > 0, schema >= 5);
        let named = number(&db, "SELECT count(*) FROM revision_photo").await;
        assert_eq!(named > 0, schema >= 4);
        let after = texts(&mut db.read().await.unwrap(), KEPT[0]).await;
        assert_eq!(after, before[0], "schema {schema}");
        db.close().await;
    }
}

/// Whoever adds a migration keeps data of the schema before it.
#[test]
fn the_schema_before_the_present_one_is_among_the_stored_data() {
    let newest = brickbook::storage::db::newest_schema();
    assert!(
        SCHEMAS.contains(&(newest - 1)),
        "tests/storage/schemas/schema-{}.zip",
        newest - 1
    );
}
