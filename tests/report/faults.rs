//! What can be wrong with a page in a browser.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::devtools::{Browser, Look, say};

/// The JavaScript file of the accessibility checker, where there is one.
const CHECKER: &str = "FOCUSLAG_CHECKER";
/// Rules of WCAG 2.2 at level AA, and what is good practice beyond them.
const RULES: [&str; 6] = [
    "wcag2a",
    "wcag2aa",
    "wcag21a",
    "wcag21aa",
    "wcag22aa",
    "best-practice",
];

/// Whatever a reader would stumble over, for a look that is given its width.
const LOOK_AROUND: &str = r"(width => {
    const out = [];
    for (const d of document.querySelectorAll('details')) d.open = true;
    for (const image of document.images)
        if (!image.alt.trim()) out.push('no alternative: ' + image.outerHTML.slice(0, 80));
    for (const plot of document.querySelectorAll('svg:not([aria-hidden=true])')) {
        const title = plot.querySelector(':scope > title');
        if (plot.getAttribute('role') !== 'img' || !title || !title.textContent.trim())
            out.push('no alternative: ' + plot.outerHTML.slice(0, 80));
    }
    const need = document.documentElement.scrollWidth;
    if (need > width) out.push(`wider than ${width}: ${need}`);
    for (const name of document.querySelectorAll('td bdi, th bdi'))
        if (name.textContent.length <= 12 && name.getClientRects().length > 2)
            out.push('torn: ' + name.textContent);
    return out;
})";

const PAPER: &str = "getComputedStyle(document.body).backgroundColor.match(/\\d+/g).map(Number)";

/// Everything that is wrong with a page under a look.
pub fn faults(browser: &mut Browser, page: &Path, look: Look) -> Vec<String> {
    browser.open(page, look);
    let mut faults = browser.noise();
    let seen = browser.evaluate(&format!("{LOOK_AROUND}({})", look.width));
    faults.extend(texts(&seen));
    let paper = browser.evaluate(PAPER);
    let light = (0..3).map(|k| paper[k].as_f64().unwrap()).sum::<f64>() / 3.0;
    if look.dark && !look.print && light > 60.0 {
        faults.push(format!("not dark: {paper}"));
    } else if !look.dark && light < 200.0 {
        faults.push(format!("not light: {paper}"));
    }
    // What is for fingers and eyes on a screen does not hold for paper.
    if let Some(checker) = checker().filter(|_| !look.print) {
        faults.extend(inaccessible(browser, &checker));
    }
    faults
}

/// Where the checker is, if it was brought.
pub fn checker() -> Option<PathBuf> {
    let named = std::env::var_os(CHECKER).filter(|n| !n.is_empty());
    if named.is_none() {
        say("SKIPPED: FOCUSLAG_CHECKER names no accessibility checker (.ci/run brings one)");
    }
    named.map(PathBuf::from)
}

fn inaccessible(browser: &mut Browser, checker: &Path) -> Vec<String> {
    let script = std::fs::read_to_string(checker).unwrap();
    browser.evaluate(&format!("{script}; 0"));
    let ask = format!(
        "axe.run(document, {{ runOnly: {} }}).then(r => r.passes.length < 20 ? ['few rules ran'] : \
         r.violations.map(v => `accessibility: ${{v.id}}, ${{v.nodes.length}} times, first ` + \
         v.nodes[0].html.slice(0, 160)))",
        json!(RULES)
    );
    texts(&browser.evaluate(&ask))
}

fn texts(list: &Value) -> Vec<String> {
    let list = list.as_array().unwrap();
    list.iter()
        .map(|v| v.as_str().unwrap().to_owned())
        .collect()
}
