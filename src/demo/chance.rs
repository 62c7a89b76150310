//! Chance that is the same on every machine and in every version of this program.

use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, SeedableRng};

/// A stream of random numbers from a seed. The generator is named (xoshiro256++, whose bit stream
/// is published) and the floats are made here, so that the files in `seed-data/` never change by
/// themselves when the library changes how it draws from a distribution.
pub(super) struct Chance(Xoshiro256PlusPlus);

impl Chance {
    pub(super) fn new(seed: u64) -> Chance {
        Chance(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// A stream of its own for a name, so that adding one unit leaves the others as they were.
    pub(super) fn named(name: &str) -> Chance {
        Chance::new(fnv_1a(name))
    }

    /// 0 (included) to 1 (excluded), 53 random bits.
    fn fraction(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.fraction()
    }

    /// Bell-shaped, mean 0, within ±1, standard deviation about 0.29: mean of four uniform draws.
    pub(super) fn bell(&mut self) -> f64 {
        (0..4).map(|_| self.between(-1.0, 1.0)).sum::<f64>() / 4.0
    }

    /// True with the given probability.
    pub(super) fn says(&mut self, probability: f64) -> bool {
        self.fraction() < probability
    }

    pub(super) fn below(&mut self, count: usize) -> usize {
        (self.fraction() * count as f64) as usize
    }

    pub(super) fn pick<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.below(choices.len())]
    }
}

/// FNV-1a, 64 bit: a published hash that fits in four lines and never changes.
fn fnv_1a(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stream_is_the_published_one() {
        // First output of xoshiro256++ seeded by SplitMix64 from 0, as in the reference source.
        assert_eq!(
            Xoshiro256PlusPlus::seed_from_u64(0).next_u64(),
            0x53175d61490b23df
        );
    }

    #[test]
    fn a_name_hashes_as_published() {
        assert_eq!(fnv_1a(""), 0xcbf29ce484222325);
        assert_eq!(fnv_1a("foobar"), 0x85944171f73967e8);
    }
}
