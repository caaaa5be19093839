//! The four counts of two yes-or-no judgements.

/// One trial, judged twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Judged {
    /// It is a hit on the screen.
    pub hit: bool,
    /// Its photograph is good.
    pub good: bool,
}

/// Numbers of trials by both judgements.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Counts {
    /// Hit on the screen, good photograph.
    pub hit_good: u64,
    /// Hit on the screen, bad photograph.
    pub hit_bad: u64,
    /// No hit on the screen, good photograph.
    pub miss_good: u64,
    /// No hit on the screen, bad photograph.
    pub miss_bad: u64,
}

impl Counts {
    /// Counts trials.
    pub fn of(judged: &[Judged]) -> Self {
        let mut counts = Self::default();
        for one in judged {
            *match (one.hit, one.good) {
                (true, true) => &mut counts.hit_good,
                (true, false) => &mut counts.hit_bad,
                (false, true) => &mut counts.miss_good,
                (false, false) => &mut counts.miss_bad,
            } += 1;
        }
        counts
    }

    /// All trials.
    pub fn all(&self) -> u64 {
        self.same() + self.hit_bad + self.miss_good
    }

    /// Trials in which both say the same.
    pub fn same(&self) -> u64 {
        self.hit_good + self.miss_bad
    }

    /// Rows: hit, miss. Columns: good, bad.
    pub fn table(&self) -> [[u64; 2]; 2] {
        [
            [self.hit_good, self.hit_bad],
            [self.miss_good, self.miss_bad],
        ]
    }
}
