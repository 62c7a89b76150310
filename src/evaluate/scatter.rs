//! How far chance alone moves a mean: standard uncertainty of the average of a quantity whose
//! samples follow each other closely, and so repeat each other instead of telling something new.
//!
//! Taking the samples as independent would fake precision. Instead the stretch is cut into blocks,
//! and it is looked at how the block means change slowly, over the whole stretch. The K slowest
//! patterns of the block means (cosines of 1, 3/2, 2, … waves, each at right angles to the fitted
//! line, so that a permitted slope is not counted as scatter) are K looks at the variance of the
//! mean: all that is quicker averages out, and if nothing that the samples remember is as slow as
//! the patterns, each carries as much as the mean is uncertain by. Their mean square gives u² with
//! K degrees of freedom. Whether that is so is tested: of twice as many patterns the slower half
//! must not carry more than the faster half. If it does, K is made smaller, and so the blocks
//! longer, until it does not.
//!
//! Block averaging in this form is known as a long-run variance from equally weighted cosine
//! transforms (U. K. Müller, J. Econometrics 141 (2007) 1331; E. Lazarus and others, J. Bus. Econ.
//! Stat. 36 (2018) 541; both from memory). Plain blocks of the length T / K are biased by a memory
//! of the length τ as τ K / T, these patterns only as its square.

use statrs::distribution::{ContinuousCDF, FisherSnedecor, StudentsT};
use std::sync::OnceLock;

/// What chance does to a mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Standard uncertainty of the mean, in the quantity's unit; with `lopsided` taken in.
    pub u: f64,
    pub degrees_of_freedom: f64,
    /// How many blocks tell as much apart as the patterns used: the stretch divided by this is
    /// the time over which the scatter was seen.
    pub blocks: usize,
    /// Factor, 1 or more, by which `u` was widened because the block means lie lopsided: rare
    /// bursts miss in a short record more often than they come too often.
    pub lopsided: f64,
    /// False if even of the slowest patterns the slower carry more than the faster: the record is
    /// too short to tell how slowly the quantity changes. `u` then comes from the slowest patterns
    /// of all, those along a slope among them, and is as wide as they.
    pub long_enough: bool,
}

/// How many blocks are made where they are not bound to cycles.
pub const BLOCKS: usize = 128;
/// Numbers of patterns whose slower half is tried, most first.
const PATTERNS: [usize; 5] = [32, 24, 16, 12, 8];
/// Patterns used of a record that is too short to tell.
const FEWEST: usize = 3;
/// Chance at which even patterns are taken for uneven ones, for each number of patterns.
const FALSE_ALARM: f64 = 0.10;
/// Blocks over which lopsidedness is looked at, at most.
const LOPSIDED_BLOCKS: usize = 64;

/// Scatter of the mean of equally long blocks that follow each other. `None` with fewer than two
/// blocks, which tell nothing.
pub fn of_mean(block_means: &[f64]) -> Option<Scatter> {
    let n = block_means.len();
    // A few blocks, such as long cycles, are taken as they are: what they remember can't be seen.
    if n < 6 {
        return (n >= 2).then(|| about_their_mean(block_means));
    }
    let most = n - 3;
    let parts = slow_patterns(block_means, 1, most.min(PATTERNS[0]));
    let even = |&patterns: &usize| {
        let (slow, fast) = parts[..patterns].split_at(patterns / 2);
        let ratio = mean_square(slow) / mean_square(fast);
        // No number where both carry nothing: a quantity that does not move at all.
        ratio.is_nan() || ratio <= ratio_limit(patterns / 2)
    };
    let found = PATTERNS
        .into_iter()
        .filter(|&patterns| patterns <= most)
        .find(even);
    let (square, patterns) = match found {
        Some(patterns) => (mean_square(&parts[..patterns / 2]), patterns / 2),
        None if most < PATTERNS[PATTERNS.len() - 1] => (mean_square(&parts), most),
        None => (mean_square(&slow_patterns(block_means, 0, FEWEST)), FEWEST),
    };
    let lopsided = lopsided(block_means, patterns as f64);
    Some(Scatter {
        u: (square / n as f64).sqrt() * lopsided,
        degrees_of_freedom: patterns as f64,
        blocks: patterns,
        lopsided,
        long_enough: found.is_some() || most < PATTERNS[PATTERNS.len() - 1],
    })
}

/// u = s / √n with n - 1 degrees of freedom (JCGM 100:2008, 4.2.3).
fn about_their_mean(blocks: &[f64]) -> Scatter {
    let n = blocks.len() as f64;
    let mean = blocks.iter().sum::<f64>() / n;
    let variance = blocks.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / (n - 1.0);
    Scatter {
        u: (variance / n).sqrt(),
        degrees_of_freedom: n - 1.0,
        blocks: blocks.len(),
        lopsided: 1.0,
        long_enough: true,
    }
}

/// How much wider an interval must be to hold the true mean on its longer side, where the block
/// means lie lopsided. Johnson's expansion of Student's t (N. J. Johnson, J. Am. Stat. Assoc. 73
/// (1978) 536, from memory): the end of the interval moves by γ (2 t² + 1) / 6 standard
/// uncertainties, with γ the skewness of the mean, that of a block over √n. Both ends get it, as
/// one U is stated; the interval errs then on the safe side.
fn lopsided(block_means: &[f64], degrees_of_freedom: f64) -> f64 {
    let together = block_means.len().div_ceil(LOPSIDED_BLOCKS);
    let means: Vec<f64> = block_means
        .chunks_exact(together)
        .map(|blocks| blocks.iter().sum::<f64>() / together as f64)
        .collect();
    let n = means.len() as f64;
    let mean = means.iter().sum::<f64>() / n;
    let moment = |power: i32| means.iter().map(|m| (m - mean).powi(power)).sum::<f64>() / n;
    let skewness = moment(3) / moment(2).powf(1.5) / n.sqrt();
    if !skewness.is_finite() {
        return 1.0;
    }
    let t = coverage_factor(degrees_of_freedom, 0.95);
    1.0 + skewness.abs() * (2.0 * t * t + 1.0) / (6.0 * t)
}

fn mean_square(parts: &[f64]) -> f64 {
    parts.iter().map(|c| c * c).sum::<f64>() / parts.len() as f64
}

/// The ratio of mean squares that even patterns exceed by chance only (F distribution).
fn ratio_limit(each: usize) -> f64 {
    /// By half a number of [`PATTERNS`].
    static LIMITS: OnceLock<[f64; PATTERNS.len()]> = OnceLock::new();
    let limits = LIMITS.get_or_init(|| {
        PATTERNS.map(|patterns| {
            let degrees = (patterns / 2) as f64;
            FisherSnedecor::new(degrees, degrees)
                .expect("degrees of freedom are positive")
                .inverse_cdf(1.0 - FALSE_ALARM)
        })
    });
    let at = PATTERNS
        .iter()
        .position(|patterns| patterns / 2 == each)
        .expect("only numbers of the table are tried");
    limits[at]
}

/// Amounts of the `count` slowest patterns in a sequence.
fn slow_patterns(sequence: &[f64], trend: usize, count: usize) -> Vec<f64> {
    /// Of the usual number of blocks: made once, as it takes longer than all the rest.
    static USUAL: OnceLock<Vec<Vec<f64>>> = OnceLock::new();
    let made;
    let patterns = if (sequence.len(), trend, count) == (BLOCKS, 1, PATTERNS[0]) {
        USUAL.get_or_init(|| basis(BLOCKS, trend, count))
    } else {
        made = basis(sequence.len(), trend, count);
        &made
    };
    patterns
        .iter()
        .map(|vector| dot(vector, sequence))
        .collect()
}

/// The `count` slowest cosine patterns of a sequence of `n`, each of unit length and at right
/// angles to the polynomials up to the degree `trend` and to each other. The slowest `trend`
/// cosines are left out: they are nearly the polynomials themselves.
fn basis(n: usize, trend: usize, count: usize) -> Vec<Vec<f64>> {
    let at = |i: usize| (i as f64 + 0.5) / n as f64;
    let polynomials = (0..=trend).map(|degree| {
        (0..n)
            .map(|i| (2.0 * at(i) - 1.0).powi(degree as i32))
            .collect()
    });
    let cosines = (trend + 1..=trend + count).map(|k| {
        (0..n)
            .map(|i| (std::f64::consts::PI * k as f64 * at(i)).cos())
            .collect()
    });
    let mut basis: Vec<Vec<f64>> = Vec::with_capacity(trend + 1 + count);
    for mut vector in polynomials.chain(cosines).collect::<Vec<Vec<f64>>>() {
        for known in &basis {
            let shared = dot(&vector, known);
            for (v, k) in vector.iter_mut().zip(known) {
                *v -= shared * k;
            }
        }
        let length = dot(&vector, &vector).sqrt();
        vector.iter_mut().for_each(|v| *v /= length);
        basis.push(vector);
    }
    basis.split_off(trend + 1)
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Effective degrees of freedom of a combined standard uncertainty: ν = u_c⁴ / Σ(uᵢ⁴ / νᵢ)
/// (Welch-Satterthwaite, JCGM 100:2008, G.4.1). A contribution that is known exactly has
/// infinite νᵢ. Infinite if nothing else contributes.
pub fn effective_degrees_of_freedom(contributions: &[(f64, f64)]) -> f64 {
    let variance: f64 = contributions.iter().map(|(u, _)| u * u).sum();
    let share: f64 = contributions
        .iter()
        .map(|(u, degrees)| u.powi(4) / degrees)
        .sum();
    if share > 0.0 {
        variance * variance / share
    } else {
        f64::INFINITY
    }
}

/// Coverage factor k for a coverage probability such as 0.95: Student's t at the degrees of freedom cut to a whole number
/// (JCGM 100:2008, G.3.2 and G.4.1).
pub fn coverage_factor(degrees_of_freedom: f64, probability: f64) -> f64 {
    // There Student's t is the normal distribution to five figures; beyond, the library's own
    // rounding is the larger error.
    let whole = degrees_of_freedom.floor().clamp(1.0, 1e5);
    StudentsT::new(0.0, 1.0, whole)
        .expect("degrees of freedom are positive")
        .inverse_cdf(0.5 + probability / 2.0)
}
