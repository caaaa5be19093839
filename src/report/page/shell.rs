//! What stands around the sections.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::kit::Kit;
use super::names::{name, shown};

/// By this a page of ours is known again.
pub const PAGE_MARK: &str = "name=\"generator\" content=\"focuslag\"";

const STYLE: &str = include_str!("style.css");
/// Nothing may be fetched and nothing may run, whatever a name says.
const POLICY: &str = "default-src 'none'; img-src data:; style-src 'unsafe-inline'";

const SECTIONS: [(&str, &str); 9] = [
    ("setups", "Setups and sides"),
    ("latencies", "Latencies"),
    ("times", "Time to focus"),
    ("strip", "Every trial"),
    ("signals", "Blur after onset"),
    ("differences", "Differences"),
    ("cues", "What the camera claimed"),
    ("trials", "Evidence"),
    ("repeat", "To repeat it"),
];

/// Setups that the heading names.
const MOST_NAMES: usize = 4;

/// Whether a section is on the page.
fn there(body: &Markup, id: &str) -> bool {
    body.0.contains(&format!("id=\"{id}\""))
}

/// `result` leads, then what else there is, then all of that.
pub(super) fn whole(kits: &[Kit], result: &Markup, body: &Markup) -> String {
    let names: Vec<String> = kits.iter().map(|k| shown(k.label())).collect();
    let main = html! {
        (result)
        nav aria-label="Sections" {
            ul { @for (id, word) in SECTIONS.iter().filter(|s| there(body, s.0)) {
                li { a href={ "#" (id) } { (word) } }
            } }
        }
        (body)
    };
    framed(
        &names,
        "time to focus",
        "time to focus, as the rear screen shows it",
        "timing files",
        &main,
    )
}

/// A page about these setups: what it is about, in its title and above its heading,
/// and what it was made from.
pub(super) fn framed(
    names: &[String],
    title: &str,
    kicker: &str,
    from: &str,
    main: &Markup,
) -> String {
    let title = format!("{}: {}", capital(title), names.join(", "));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                // Written out, as it is looked for.
                (PreEscaped(format!("<meta {PAGE_MARK}>")))
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                a.skip href="#result" { "To the result" }
                header {
                    p.kicker { "focuslag · " (kicker) }
                    h1 {
                        @if names.len() > MOST_NAMES { (names.len()) " setups" }
                        @else { @for (k, one) in names.iter().enumerate() {
                            @if k > 0 { ", " }
                            (name(one))
                        } }
                    }
                }
                main { (main) }
                footer {
                    p { "Made by focuslag " (env!("CARGO_PKG_VERSION")) " from " (from) " alone; \
                        nothing here is fetched from elsewhere." }
                }
            }
        }
    };
    page.into_string()
}

fn capital(words: &str) -> String {
    let mut chars = words.chars();
    let first = chars.next().into_iter().flat_map(char::to_uppercase);
    first.chain(chars).collect()
}
