//! Chance that can be repeated.

/// The next number of a state (`SplitMix64`: Steele, Lea and Flood, OOPSLA 2014).
pub fn next(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A source of chance that can be repeated.
pub struct Chance(u64);

impl Chance {
    /// Seeded anew in every run (printed, so that a failure can be repeated), or by
    /// `PIPELORE_CHANCE`.
    pub fn new(what: &str) -> Self {
        let seed = std::env::var("PIPELORE_CHANCE").ok().and_then(|n| n.parse().ok());
        let seed = seed.unwrap_or_else(|| {
            let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap();
            u64::from(since.subsec_nanos()) ^ (since.as_secs() << 30)
        });
        println!("{what}: PIPELORE_CHANCE={seed}");
        Self(seed)
    }

    pub fn next(&mut self) -> u64 {
        next(&mut self.0)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n.max(1)
    }

    /// An index below a length.
    pub fn pick(&mut self, n: usize) -> usize {
        usize::try_from(self.below(n as u64)).unwrap()
    }

    /// A time up to the longest.
    pub fn within(&mut self, longest: std::time::Duration) -> std::time::Duration {
        let most = u64::try_from(longest.as_micros()).unwrap();
        std::time::Duration::from_micros(self.below(most))
    }
}
