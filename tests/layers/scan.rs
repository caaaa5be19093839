//! Finds the paths a source file writes, with `super` and `self` resolved.

use std::iter::Peekable;

use proc_macro2::{Delimiter, TokenStream, TokenTree, token_stream};

/// One file under `src/`.
pub struct Source {
    /// Path from `src/`, with `/`.
    pub file: String,
    /// Its text.
    pub text: String,
}

/// Every path of two names or more, and every bare name after `use` or
/// `extern crate`. Paths into this crate start with `crate`.
pub fn paths(source: &Source) -> Vec<Vec<String>> {
    let tokens: TokenStream = source
        .text
        .parse()
        .expect("the source can be split into tokens");
    let mut out = Vec::new();
    walk(tokens, &module_of(&source.file), &mut out);
    out
}

/// `clip/frame.rs` is the module `clip::frame`, `clip/mod.rs` is `clip`.
fn module_of(file: &str) -> Vec<String> {
    let stem = file.trim_end_matches(".rs");
    let parts = stem.split('/').map(str::to_owned);
    parts
        .filter(|p| !["mod", "lib", "main"].contains(&p.as_str()))
        .collect()
}

/// Keywords that stand before a path and are no part of it, even before `::`.
const OPENERS: &[&str] = &[
    "use", "as", "in", "return", "mut", "dyn", "impl", "for", "where", "match", "if", "while",
    "else", "let", "const", "move", "break", "extern", "pub",
];

type Tokens = Peekable<token_stream::IntoIter>;

fn walk(tokens: TokenStream, module: &[String], out: &mut Vec<Vec<String>>) {
    let mut tokens = tokens.into_iter().peekable();
    let mut before = String::new();
    while let Some(token) = tokens.next() {
        match token {
            TokenTree::Group(group) => walk(group.stream(), module, out),
            TokenTree::Ident(ident) if ident == "mod" => inline_module(&mut tokens, module, out),
            TokenTree::Ident(ident) => {
                let bare = ["use", "crate"].contains(&before.as_str());
                before = ident.to_string();
                if OPENERS.contains(&before.as_str()) {
                    continue;
                }
                path(vec![before.clone()], &mut tokens, bare, module, out);
            }
            _ => {}
        }
    }
}

/// After `mod`: one level deeper where a body follows.
fn inline_module(tokens: &mut Tokens, module: &[String], out: &mut Vec<Vec<String>>) {
    let Some(TokenTree::Ident(name)) = tokens.next() else {
        return;
    };
    if let Some(TokenTree::Group(body)) = tokens.peek() {
        let mut deeper = module.to_vec();
        deeper.push(name.to_string());
        walk(body.stream(), &deeper, out);
        tokens.next();
    }
}

/// Follows `a::b::{…}` from its first name on.
fn path(
    mut names: Vec<String>,
    tokens: &mut Tokens,
    bare: bool,
    module: &[String],
    out: &mut Vec<Vec<String>>,
) {
    while skip_colons(tokens) {
        match tokens.peek() {
            Some(TokenTree::Ident(name)) => {
                names.push(name.to_string());
                tokens.next();
            }
            Some(TokenTree::Punct(star)) if star.as_char() == '*' => names.push("*".to_owned()),
            Some(TokenTree::Group(group)) if group.delimiter() == Delimiter::Brace => {
                branches(&names, group.stream(), module, out);
                tokens.next();
                return;
            }
            _ => break,
        }
    }
    if names.len() > 1 || bare {
        out.push(resolved(&names, module));
    }
}

/// The branches of `{a, b::c, self}` behind a common stem.
fn branches(stem: &[String], tokens: TokenStream, module: &[String], out: &mut Vec<Vec<String>>) {
    let mut tokens = tokens.into_iter().peekable();
    while let Some(token) = tokens.next() {
        match token {
            TokenTree::Ident(name) if name == "as" => drop(tokens.next()),
            TokenTree::Ident(name) => {
                let mut names = stem.to_vec();
                if name != "self" {
                    names.push(name.to_string());
                }
                path(names, &mut tokens, true, module, out);
            }
            TokenTree::Punct(star) if star.as_char() == '*' => {
                let mut names = stem.to_vec();
                names.push("*".to_owned());
                out.push(resolved(&names, module));
            }
            _ => {}
        }
    }
}

fn skip_colons(tokens: &mut Tokens) -> bool {
    let colon =
        |t: Option<&TokenTree>| matches!(t, Some(TokenTree::Punct(p)) if p.as_char() == ':');
    if !colon(tokens.peek()) {
        return false;
    }
    tokens.next();
    let two = colon(tokens.peek());
    if two {
        tokens.next();
    }
    two
}

fn resolved(names: &[String], module: &[String]) -> Vec<String> {
    let mut place = module.to_vec();
    let mut rest = names;
    match rest.first().map(String::as_str) {
        Some("self") => rest = &rest[1..],
        Some("super") => {
            while rest.first().is_some_and(|n| n == "super") {
                place.pop();
                rest = &rest[1..];
            }
        }
        Some("crate" | "focuslag") => {
            place.clear();
            rest = &rest[1..];
        }
        _ => return names.to_vec(),
    }
    let start = std::iter::once("crate".to_owned());
    start.chain(place).chain(rest.iter().cloned()).collect()
}
