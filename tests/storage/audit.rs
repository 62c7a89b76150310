//! The audit log only grows, the last owner stays, and accounts of before keep what they could do.

use brickbook::storage::{
    Db,
    audit::{self, Change, Wanted, Who},
    operators::{self, Role},
};
use time::{Duration, OffsetDateTime};

async fn database() -> (tempfile::TempDir, Db) {
    let folder = tempfile::tempdir().unwrap();
    let db = Db::open(&folder.path().join("test.db")).await.unwrap();
    (folder, db)
}

/// Runs SQL as somebody with the file at hand would.
fn by_hand(folder: &tempfile::TempDir, sql: &str) -> Result<(), String> {
    let script = "import sqlite3, sys\n\
        c = sqlite3.connect(sys.argv[1])\n\
        c.executescript(sys.argv[2])\n";
    let run = std::process::Command::new("python3")
        .args(["-c", script])
        .arg(folder.path().join("test.db"))
        .arg(sql)
        .output()
        .expect("python3 is there");
    if run.status.success() {
        Ok(())
    } else {
        Err(String::from_utf8_lossy(&run.stderr).into_owned())
    }
}

#[tokio::test]
async fn lines_are_neither_changed_nor_replaced_nor_deleted() {
    let (folder, db) = database().await;
    let mut tx = db.write().await.unwrap();
    let change = Change::new("draft.begun", "draft 1").after("{}");
    audit::write(&mut tx, &Who::command(), change, OffsetDateTime::now_utc())
        .await
        .unwrap();
    tx.commit().await.unwrap();
    for sql in [
        "UPDATE audit SET who = 'nobody'",
        "DELETE FROM audit",
        "REPLACE INTO audit (id, at, who, via, action, object, detail) \
         VALUES (1, '2020-01-01T00:00:00.000Z', 'x', 'desk', 'a', 'b', '')",
    ] {
        let refused = by_hand(&folder, sql).expect_err(sql);
        assert!(refused.contains("only grows"), "{refused}");
    }
    let lines = audit::list(&mut db.read().await.unwrap(), &Wanted::default(), 10)
        .await
        .unwrap();
    assert_eq!(lines.len(), 1);
    // SHA-256 of "{}", by sha256sum.
    assert_eq!(
        lines[0].after_sha256.as_deref(),
        Some("44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a")
    );
}

#[tokio::test]
async fn retention_takes_what_is_old_and_says_so() {
    let (_folder, db) = database().await;
    let now = OffsetDateTime::now_utc();
    let mut tx = db.write().await.unwrap();
    for days in [1000, 400, 200, 80, 0] {
        let change = Change::new("draft.begun", format!("draft {days}"));
        audit::write(&mut tx, &Who::command(), change, now - Duration::days(days))
            .await
            .unwrap();
    }
    assert_eq!(
        audit::prune(&mut tx, Duration::days(365), now)
            .await
            .unwrap(),
        2
    );
    // Asked for less than the least, it keeps 90 days all the same.
    assert_eq!(
        audit::prune(&mut tx, Duration::days(1), now).await.unwrap(),
        1
    );
    assert_eq!(
        audit::prune(&mut tx, Duration::days(1), now).await.unwrap(),
        0
    );
    tx.commit().await.unwrap();
    let wanted = Wanted::default();
    let left = audit::list(&mut db.read().await.unwrap(), &wanted, 10)
        .await
        .unwrap();
    let left: Vec<&str> = left.iter().map(|line| line.object.as_str()).collect();
    assert_eq!(left, ["audit", "audit", "draft 0", "draft 80"]);
}

#[tokio::test]
async fn the_database_itself_keeps_the_last_owner() {
    let (folder, db) = database().await;
    let now = OffsetDateTime::now_utc();
    let mut tx = db.write().await.unwrap();
    let ada = operators::insert_first(&mut tx, "Ada", "hash", now)
        .await
        .unwrap()
        .unwrap();
    let bea = operators::insert(&mut tx, "Bea", "hash", Role::Editor, now)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    for sql in [
        "UPDATE operator SET role = 'reader'",
        "UPDATE operator SET deactivated_at = '2026-01-01T00:00:00.000Z' WHERE name = 'Ada'",
        "DELETE FROM operator WHERE name = 'Ada'",
    ] {
        by_hand(&folder, sql).expect_err(sql);
    }
    let mut tx = db.write().await.unwrap();
    operators::set_role(&mut tx, ada, Role::Editor)
        .await
        .expect_err("the last one");
    operators::set_role(&mut tx, bea, Role::Owner)
        .await
        .unwrap();
    operators::set_role(&mut tx, ada, Role::Reader)
        .await
        .unwrap();
    operators::deactivate(&mut tx, bea, now)
        .await
        .expect_err("the last one now");
    tx.commit().await.unwrap();
}

#[tokio::test]
async fn of_accounts_from_before_the_first_becomes_owner_and_the_others_editors() {
    let folder = tempfile::tempdir().unwrap();
    let mut before = String::new();
    let migrations = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations");
    let mut files: Vec<_> = std::fs::read_dir(migrations)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    for file in &files[..5] {
        before.push_str(&std::fs::read_to_string(file).unwrap());
    }
    before.push_str(
        "INSERT INTO operator (name, password_hash, created_at) VALUES \
         ('Zoe', 'h', '2026-01-01T00:00:00.000Z'), ('Ada', 'h', '2026-02-01T00:00:00.000Z');\
         INSERT INTO api_token (token_hash, operator_id, label, created_at) \
         VALUES (zeroblob(32), 1, 'script', '2026-01-01T00:00:00.000Z');",
    );
    by_hand(&folder, &before).unwrap();
    by_hand(&folder, &std::fs::read_to_string(&files[5]).unwrap()).unwrap();
    let script = "import sqlite3, sys\n\
        c = sqlite3.connect(sys.argv[1])\n\
        print(c.execute('SELECT group_concat(name || role) FROM operator ORDER BY id').fetchone()[0],\n\
              c.execute('SELECT scopes, expires_at FROM api_token').fetchone())";
    let told = std::process::Command::new("python3")
        .args(["-c", script])
        .arg(folder.path().join("test.db"))
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&told.stdout).into_owned();
    assert_eq!(told.trim(), "Zoeowner,Adaeditor ('records evidence', None)");
}
