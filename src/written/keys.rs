//! Keys that are not known.

/// The keys a file may hold.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Known {
    /// Every key, dotted (`*` for free names). Where none is listed, a key is
    /// held against those of its own heading.
    pub(crate) keys: &'static [&'static str],
    /// Headings that stand in double brackets, as often as there are such things.
    pub(crate) lists: &'static [&'static str],
    /// Keys of earlier files, and what stands in their place.
    pub(crate) retired: &'static [(&'static str, &'static str)],
}

impl Known {
    /// Says of a dotted key why it cannot be read, and what was probably meant;
    /// `siblings` are the keys of its heading.
    pub(super) fn complaint(&self, full: &str, siblings: &[&str]) -> String {
        if let Some((_, why)) = self.retired.iter().find(|(key, _)| *key == full) {
            return (*why).to_owned();
        }
        if self.keys.is_empty() {
            let heading = full.rsplit_once('.').map(|(heading, _)| heading);
            let dotted = |key: &&str| heading.map_or((*key).to_owned(), |h| format!("{h}.{key}"));
            let keys: Vec<String> = siblings.iter().map(dotted).collect();
            return nearest(full, &keys.iter().map(String::as_str).collect::<Vec<_>>());
        }
        self.home(full).unwrap_or_else(|| nearest(full, self.keys))
    }

    /// The one other heading under which a key of this name is known.
    fn home(&self, full: &str) -> Option<String> {
        let namesakes = self.keys.iter().filter(|k| last(k) == last(full));
        let homes: Vec<&str> = namesakes
            .filter_map(|k| Some(k.rsplit_once('.')?.0))
            .collect();
        let [home] = homes.as_slice() else {
            return None;
        };
        let heading = if self.lists.contains(home) {
            format!("put it under [[{home}]]")
        } else {
            format!("put it under [{home}]")
        };
        Some(match full.rsplit_once('.') {
            None => format!("stands under no heading; {heading} (`{home}.{full}`)"),
            Some((here, key)) => {
                format!("is not known under [{here}]; {heading} (`{home}.{key}`)")
            }
        })
    }
}

fn last(key: &str) -> &str {
    key.rsplit('.').next().unwrap_or("")
}

fn nearest(full: &str, known: &[&str]) -> String {
    let likeness = |k: &str| {
        let whole = strsim::normalized_damerau_levenshtein(full, k);
        let tail = strsim::normalized_damerau_levenshtein(last(full), last(k)) * 0.95;
        whole.max(tail)
    };
    let best = known
        .iter()
        .filter(|k| !k.ends_with('*'))
        .max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
    match best {
        Some(best) if likeness(best) >= 0.6 => {
            format!("is not a known key; did you mean `{best}`?")
        }
        _ => format!(
            "is not a known key; take it out (known: {})",
            known.join(", ")
        ),
    }
}
