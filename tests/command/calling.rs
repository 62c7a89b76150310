use crate::{Answer, Bench, sample};

#[test]
fn every_command_explains_itself_with_an_example() {
    let bench = Bench::new();
    let commands: [&[&str]; 8] = [
        &["serve"],
        &["evaluate"],
        &["add"],
        &["export"],
        &["rescore"],
        &["user", "add"],
        &["user", "password"],
        &["user", "list"],
    ];
    for command in commands {
        let answer = bench.call(&[command, &["--help"]].concat()).succeeds();
        assert!(
            answer.out.contains("Example"),
            "{command:?}: {}",
            answer.out
        );
        assert!(
            answer
                .out
                .contains(&format!("brickbook {}", command.join(" ")))
        );
    }
    let answer = bench.call(&["--help"]).succeeds();
    assert!(answer.out.contains("Exit codes"));
}

#[test]
fn a_wrong_call_is_told_on_standard_error_with_code_2() {
    let bench = Bench::new();
    for arguments in [
        &["frob"][..],
        &["add"],
        &["evaluate", "a", "b"],
        &["add", "--frob", "x"],
        &[],
    ] {
        let answer = bench.call(arguments).fails_with(2);
        assert_eq!(answer.out, "", "{arguments:?}");
        assert!(!answer.err.is_empty(), "{arguments:?}");
    }
}

#[test]
fn all_faults_of_the_settings_are_told_before_anything_is_done() {
    let bench = Bench::new();
    bench.write(
        "brickbook.toml",
        "sitename = \"x\"\nscore_line = \"5/60\"\n",
    );
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    let answer = bench
        .call(&["--listen", "nowhere", "add", "a.json"])
        .fails_with(2);
    for part in ["sitename", "\"5/60\"", "--listen", "\"nowhere\""] {
        assert!(answer.err.contains(part), "{part}: {}", answer.err);
    }
    assert!(!bench.path("brickbook-data").exists());
}

#[test]
fn a_flag_wins_over_the_environment_and_the_environment_over_the_file() {
    let bench = Bench::new();
    bench.write("brickbook.toml", "data_dir = \"from-file\"\n");
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    let add = |arguments: &[&str], variable: Option<&str>| {
        let mut command = bench.command(arguments);
        if let Some(value) = variable {
            command.env("BRICKBOOK_DATA_DIR", value);
        }
        assert!(command.status().unwrap().success());
    };
    add(&["add", "a.json"], None);
    assert!(bench.path("from-file/brickbook.db").exists());
    add(&["add", "a.json"], Some("from-environment"));
    assert!(bench.path("from-environment/brickbook.db").exists());
    add(&["add", "--data-dir", "from-flag", "a.json"], Some("other"));
    assert!(bench.path("from-flag/brickbook.db").exists() && !bench.path("other").exists());
}

#[test]
fn a_database_that_must_be_there_and_is_not_is_a_failure() {
    let bench = Bench::new();
    for command in ["export", "rescore"] {
        let answer = bench.call(&[command]).fails_with(1);
        assert!(answer.err.contains("no database at"), "{}", answer.err);
        assert!(!bench.path("brickbook-data").exists());
    }
}

#[test]
fn a_file_in_place_of_the_database_is_a_failure_that_says_so() {
    let bench = Bench::new();
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    std::fs::create_dir(bench.path("brickbook-data")).unwrap();
    bench.write("brickbook-data/brickbook.db", &"no database ".repeat(100));
    let answer = bench.call(&["add", "a.json"]).fails_with(1);
    assert!(
        answer.err.contains("not a SQLite database"),
        "{}",
        answer.err
    );
}

#[test]
fn the_readme_holds_the_reference_of_settings_as_the_program_prints_it() {
    let bench = Bench::new();
    let reference = bench.call(&["settings", "--reference"]).succeeds().out;
    assert!(reference.lines().count() > 15, "{reference}");
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md"));
    assert!(
        readme.unwrap().contains(&format!("\n\n{reference}\n")),
        "put this into README.md, section Settings:\n{reference}"
    );
}

#[test]
fn shown_settings_are_a_configuration_file_that_says_the_same() {
    let bench = Bench::new();
    bench.write(
        "brickbook.toml",
        "licence = '''Ada's \"terms\" \\ all'''\nlog_limit_mb = 50\n",
    );
    let shown = bench
        .command(&["settings", "--listen", "127.0.0.1:9"])
        .env("BRICKBOOK_SITE_NAME", "Ada # Co")
        .output()
        .unwrap();
    let shown = Answer::of(shown).succeeds().out;
    for part in [
        "listen = \"127.0.0.1:9\" # --listen\n",
        "# BRICKBOOK_SITE_NAME\n",
        "log_limit_mb = \"50\" # brickbook.toml\n",
        "# shared_cache_s = \"60\" (default)\n",
        "# public_url is not set\n",
    ] {
        assert!(shown.contains(part), "{part}{shown}");
    }
    bench.write("again.toml", &shown);
    let again = bench
        .call(&["settings", "--config", "again.toml"])
        .succeeds();
    let values = |text: &str| -> Vec<String> {
        let lines = text.lines();
        lines
            .map(|line| line.rsplit_once(" # ").map_or(line, |l| l.0).to_owned())
            .collect()
    };
    assert_eq!(values(&again.out), values(&shown));
    assert!(shown.contains("Ada's"), "{shown}");
}

#[test]
fn settings_at_fault_are_shown_all_the_same() {
    let bench = Bench::new();
    let answer = bench
        .call(&["settings", "--log-limit-mb", "0"])
        .fails_with(2);
    assert!(answer.out.contains("log_limit_mb = \"0\" # --log-limit-mb"));
    assert!(
        answer.err.contains("whole megabytes from 1 to 1000000"),
        "{}",
        answer.err
    );
}
