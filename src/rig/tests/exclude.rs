use super::session::{AMBER, SLATE, and_amber, counter, read};

#[test]
fn excludes_are_checked() {
    let exclude = |clip: &str, trial: &str| {
        format!("[[exclude]]\nclip = \"{clip}\"\ntrial = {trial}\nreason = \"gust\"\n")
    };
    and_amber(
        &exclude("cobalt.mp4", "1"),
        6,
        "exclude[0].clip",
        "is a clip of no setup",
    );
    and_amber(
        &exclude("amber-1.mp4", "-1"),
        7,
        "exclude[0].trial",
        "from 0",
    );
    and_amber(
        &exclude("amber-1.mp4", "1.5"),
        7,
        "exclude[0].trial",
        "whole number",
    );
    let twice = exclude("amber-1.mp4", "1").repeat(2);
    and_amber(&twice, 11, "exclude[1].trial", "twice");
    and_amber(
        "[[exclude]]\ntrial = 1\nreason = 'x'",
        5,
        "exclude[0].clip",
        "is missing",
    );
    and_amber(
        "[[exclude]]\nclip = 'amber-1.mp4'\nreason = 'x'",
        5,
        "exclude[0].trial",
        "is missing",
    );
    and_amber(
        "[[exclude]]\nclip = 'amber-1.mp4'\ntrial = 1",
        5,
        "exclude[0].reason",
        "is missing",
    );
    let both = SLATE.replace(
        "\"slate-1.mp4\"",
        "\"more/slate-1.mp4\", \"slate-[12].mp4\"",
    );
    let session = read(
        &counter(),
        &format!("{AMBER}{both}{}", exclude("slate-1.mp4", "0")),
    )
    .unwrap();
    assert_eq!(
        session.excludes[0].clip, session.setups[1].clips[1],
        "the path goes first"
    );
}

#[test]
fn a_bare_name_of_two_clips_is_ambiguous() {
    let dir = counter();
    std::fs::create_dir(dir.path().join("day/other")).unwrap();
    std::fs::write(dir.path().join("day/other/slate-1.mp4"), "").unwrap();
    let clips = "\"more/slate-1.mp4\", \"other/slate-1.mp4\"";
    let text = format!(
        "{AMBER}{}[[exclude]]\nclip = \"slate-1.mp4\"\ntrial = 0\nreason = \"gust\"\n",
        SLATE.replace("\"slate-1.mp4\"", clips)
    );
    let said = read(&dir, &text).unwrap_err().to_string();
    assert!(
        said.contains("session.toml:9: exclude[0].clip: is the name of several clips"),
        "{said}"
    );
}
