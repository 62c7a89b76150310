use crate::Bench;

#[test]
fn an_account_is_added_with_a_password_from_standard_input() {
    let bench = Bench::new();
    let answer = bench
        .call_with(
            &["user", "add", "Ada", "--password-stdin"],
            "correct horse battery\nnot this\n",
        )
        .succeeds();
    assert!(answer.out.contains("Ada may sign in"), "{}", answer.out);
    let hashes = bench.texts("brickbook-data", "SELECT password_hash FROM operator");
    assert_eq!(hashes.len(), 1);
    assert!(hashes[0].starts_with("$argon2id$"), "{}", hashes[0]);
    assert!(!hashes[0].contains("correct"));
    let list = bench.call(&["user", "list"]).succeeds();
    assert!(list.out.starts_with("Ada (owner, since "), "{}", list.out);
}

#[test]
fn a_name_that_is_taken_or_a_poor_password_is_refused() {
    let bench = Bench::new();
    let add = ["user", "add", "ada", "--password-stdin"];
    bench.call_with(&add, "correct horse battery\n").succeeds();
    let taken = bench
        .call_with(
            &["user", "add", "ADA", "--password-stdin"],
            "correct horse battery\n",
        )
        .fails_with(2);
    assert!(taken.err.contains("exists already"), "{}", taken.err);
    let short = bench
        .call_with(&["user", "add", "eve", "--password-stdin"], "secret\n")
        .fails_with(2);
    assert!(short.err.contains("at least"), "{}", short.err);
    let unasked = bench.call(&["user", "add", "eve"]).fails_with(2);
    assert!(unasked.err.contains("--password-stdin"), "{}", unasked.err);
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM operator"),
        1
    );
}

#[test]
fn another_password_replaces_the_first() {
    let bench = Bench::new();
    let add = ["user", "add", "ada", "--password-stdin"];
    bench.call_with(&add, "correct horse battery\n").succeeds();
    let hash = || bench.texts("brickbook-data", "SELECT password_hash FROM operator");
    let before = hash();
    let change = ["user", "password", "Ada", "--password-stdin"];
    bench
        .call_with(&change, "another long password\n")
        .succeeds();
    assert_ne!(hash(), before);
    let nobody = bench
        .call_with(
            &["user", "password", "eve", "--password-stdin"],
            "another long password\n",
        )
        .fails_with(2);
    assert!(nobody.err.contains("no account eve"), "{}", nobody.err);
}

#[test]
fn codes_and_passkeys_are_taken_away_where_they_are_lost() {
    let bench = Bench::new();
    bench
        .call_with(
            &["user", "add", "ada", "--password-stdin"],
            "correct horse battery\n",
        )
        .succeeds();
    let remove = || bench.call(&["user", "second-factor-remove", "ADA"]);
    let none = remove().fails_with(2);
    assert!(
        none.err.contains("neither a second factor nor passkeys"),
        "{}",
        none.err
    );
    for made in [
        "INSERT INTO totp (operator_id, secret, confirmed_at)
         VALUES (1, randomblob(20), '2026-09-01T08:00:00Z')",
        "INSERT INTO passkey (operator_id, credential_id, credential, name, created_at)
         VALUES (1, x'01', '{}', 'phone', '2026-09-01T08:00:00Z')",
    ] {
        bench.texts("brickbook-data", made);
        remove().succeeds();
        for table in ["totp", "recovery_code", "passkey"] {
            let left = bench.number("brickbook-data", &format!("SELECT count(*) FROM {table}"));
            assert_eq!(left, 0, "{table}");
        }
    }
    let log = bench
        .call(&["audit", "--action", "second-factor"])
        .succeeds()
        .out;
    assert_eq!(log.matches("second-factor.removed").count(), 2, "{log}");
}

#[test]
fn roles_are_given_and_taken_and_the_last_owner_stays() {
    let bench = Bench::new();
    let add = |name: &str, more: &[&str]| {
        let mut call = vec!["user", "add", name, "--password-stdin"];
        call.extend(more);
        bench.call_with(&call, "correct horse battery\n")
    };
    let first = add("ada", &["--role", "reader"]).fails_with(2);
    assert!(first.err.contains("must be an owner"), "{}", first.err);
    add("ada", &[]).succeeds();
    add("bea", &[]).succeeds();
    add("cleo", &["--role", "reader"]).succeeds();
    let roles = || bench.texts("brickbook-data", "SELECT role FROM operator ORDER BY name");
    assert_eq!(roles(), ["owner", "editor", "reader"]);
    for call in [
        &["user", "role", "ada", "editor"] as &[_],
        &["user", "deactivate", "Ada"],
    ] {
        let refused = bench.call(call).fails_with(2);
        assert!(refused.err.contains("last owner"), "{}", refused.err);
    }
    bench.call(&["user", "role", "cleo", "owner"]).succeeds();
    bench.call(&["user", "deactivate", "ada"]).succeeds();
    let list = bench.call(&["user", "list"]).succeeds().out;
    assert!(list.contains("deactivated"), "{list}");
    bench.call(&["user", "reactivate", "ada"]).succeeds();
    let log = bench.call(&["audit", "--action", "account"]).succeeds().out;
    let actions: Vec<&str> = log
        .lines()
        .map(|line| line.split("  ").nth(2).unwrap())
        .collect();
    assert_eq!(
        actions,
        [
            "account.reactivated",
            "account.deactivated",
            "account.role-set",
            "account.added",
            "account.added",
            "account.added"
        ]
    );
    let json = bench
        .call(&["audit", "--json", "--lines", "1"])
        .succeeds()
        .out;
    let line: serde_json::Value = serde_json::from_str(json.trim()).unwrap();
    assert_eq!(
        (&line["who"], &line["via"]),
        (&"command line".into(), &"command".into())
    );
}
