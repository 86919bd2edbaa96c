//! Seeded random numbers that are the same on every machine.

/// The *splitmix64* generator (Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014): one word of state, every seed good.
#[derive(Clone, Debug)]
pub(super) struct Random(u64);

impl Random {
    pub(super) fn new(seed: u64) -> Random {
        Random(seed)
    }

    pub(super) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut word = self.0;
        word = (word ^ (word >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        word ^ (word >> 31)
    }

    /// A number from 0 to `count - 1`; 0 if `count` is 0. The bias, under `count / 2^64`, does
    /// not matter to a search.
    pub(super) fn below(&mut self, count: usize) -> usize {
        ((u128::from(self.next()) * count as u128) >> 64) as usize
    }

    /// `-ln u` for u uniform in (0, 1]: how many temperatures uphill annealing may go.
    ///
    /// The library's logarithm may differ in the last digit between systems, so this one is made
    /// of the four operations only, which may not: `u = m / 2^k` with m in [1, 2), and
    /// `ln m = 2 artanh((m - 1) / (m + 1))` by its series, good to 1e-7.
    pub(super) fn exponential(&mut self) -> f64 {
        let word = self.next() | 1;
        let shift = word.leading_zeros();
        let m = (word << shift) as f64 / 9_223_372_036_854_775_808.0;
        let t = (m - 1.0) / (m + 1.0);
        let t2 = t * t;
        let series =
            1.0 + t2 * (1.0 / 3.0 + t2 * (0.2 + t2 * (1.0 / 7.0 + t2 * (1.0 / 9.0 + t2 / 11.0))));
        f64::from(shift + 1) * std::f64::consts::LN_2 - 2.0 * t * series
    }
}
