use crate::{assert_sound, new_db, number, publish};
use brickbook::storage::{Db, Error};

#[tokio::test]
async fn a_new_file_gets_the_schema_and_safe_settings() {
    let (_folder, db) = new_db().await;
    assert_eq!(number(&db, "SELECT count(*) FROM unit").await, 0);
    let mut write = db.write().await.unwrap();
    let pragma = |name: &'static str| sqlx::query_scalar::<_, String>(name);
    let mode = pragma("SELECT journal_mode FROM pragma_journal_mode")
        .fetch_one(&mut *write)
        .await
        .unwrap();
    assert_eq!(mode, "wal");
    let synchronous: i64 = sqlx::query_scalar("PRAGMA synchronous")
        .fetch_one(&mut *write)
        .await
        .unwrap();
    assert_eq!(synchronous, 2, "FULL");
    let foreign_keys: i64 = sqlx::query_scalar("PRAGMA foreign_keys")
        .fetch_one(&mut *write)
        .await
        .unwrap();
    assert_eq!(foreign_keys, 1);
}

#[tokio::test]
async fn a_reader_cannot_write() {
    let (_folder, db) = new_db().await;
    let attempt = sqlx::query("INSERT INTO setting (key, value) VALUES ('a', 'b')")
        .execute(&mut *db.read().await.unwrap())
        .await;
    assert!(attempt.unwrap_err().to_string().contains("readonly"));
}

#[tokio::test]
async fn a_closed_database_opens_again_with_its_data_and_leaves_one_file() {
    let (folder, db) = new_db().await;
    publish(&db, "LF-30").await;
    let path = db.path().to_path_buf();
    db.close().await;
    let files = std::fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(files, 1, "the write-ahead log is folded in");
    let db = Db::open(&path).await.unwrap();
    assert_eq!(number(&db, "SELECT count(*) FROM unit").await, 1);
    assert_sound(&db).await;
}

#[tokio::test]
async fn a_database_of_a_newer_version_is_refused_and_not_touched() {
    let (_folder, db) = new_db().await;
    let path = db.path().to_path_buf();
    let mut write = db.write().await.unwrap();
    sqlx::query(
        "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time)
         VALUES (9999, 'from the future', 1, x'00', 0)",
    )
    .execute(&mut *write)
    .await
    .unwrap();
    write.commit().await.unwrap();
    db.close().await;
    let before = std::fs::read(&path).unwrap();

    let error = Db::open(&path).await.unwrap_err();
    assert!(matches!(error, Error::Unusable { .. }));
    let message = error.to_string();
    assert!(
        message.contains("newer version") && message.contains("9999"),
        "{message}"
    );
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[tokio::test]
async fn a_schema_that_was_changed_afterwards_is_refused() {
    let (_folder, db) = new_db().await;
    let path = db.path().to_path_buf();
    let mut write = db.write().await.unwrap();
    sqlx::query("UPDATE _sqlx_migrations SET checksum = x'00'")
        .execute(&mut *write)
        .await
        .unwrap();
    write.commit().await.unwrap();
    db.close().await;
    let message = Db::open(&path).await.unwrap_err().to_string();
    assert!(message.contains("development version"), "{message}");
}

#[tokio::test]
async fn a_database_of_another_program_is_refused_and_not_touched() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other.db");
    let options = sqlx::sqlite::SqliteConnectOptions::new()
        .filename(&path)
        .create_if_missing(true);
    let other = sqlx::SqlitePool::connect_with(options).await.unwrap();
    sqlx::query("CREATE TABLE recipe (name TEXT)")
        .execute(&other)
        .await
        .unwrap();
    other.close().await;
    let before = std::fs::read(&path).unwrap();

    let message = Db::open(&path).await.unwrap_err().to_string();
    assert!(message.contains("another program"), "{message}");
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[tokio::test]
async fn a_file_that_is_no_database_is_refused_and_not_touched() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notes.txt");
    let notes = "my bench notes ".repeat(300);
    std::fs::write(&path, &notes).unwrap();
    let message = Db::open(&path).await.unwrap_err().to_string();
    assert!(message.contains("not a SQLite database"), "{message}");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), notes);
}

#[tokio::test(flavor = "multi_thread")]
async fn two_that_open_an_empty_file_at_once_both_succeed() {
    for _ in 0..5 {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("test.db");
        let (first, second) = tokio::join!(Db::open(&path), Db::open(&path));
        let (first, second) = (first.unwrap(), second.unwrap());
        publish(&first, "LF-30").await;
        publish(&second, "LF-31").await;
        assert_sound(&first).await;
    }
}
