//! What is counted of scrambles: shares and intervals of one run, of some shares of it, and of runs of several seeds.

use network::margins::tallies::{Block, BySeed, Counts, Tally, joined};

/// Half of the scrambles pass one sample more than the other half: every one is `off` from the mean, so the error of the mean is
/// `off` / sqrt(n − 1). Student's quantiles are those of printed tables: 3.182 for 3 degrees of freedom, 2.131 for 15, 2.040
/// for 31, 1.98 for 127.
#[test]
fn the_interval_is_that_of_students_distribution() {
    for (scrambles, quantile) in [(4, 3.182), (16, 2.131), (32, 2.040), (128, 1.979)] {
        let each = (0..scrambles).map(|number| 40 + 2 * (number % 2));
        let tally = Tally {
            passed: each.collect(),
            samples: vec![64; scrambles as usize],
        };
        let off = 1.0 / 64.0;
        let half = quantile * off / f64::from(scrambles - 1).sqrt();
        let (low, high) = tally.interval();
        assert!((tally.share() - 41.0 / 64.0).abs() < 1e-12);
        assert!(
            (high - tally.share() - half).abs() < 1e-3 * half,
            "{scrambles}"
        );
        assert!((tally.share() - low - half).abs() < 1e-3 * half);
    }
}

/// One scramble has no scatter, so nothing is known beyond its number of samples; a scramble of no samples would weigh nothing, so
/// one of few weighs little.
#[test]
fn few_scrambles_and_unlike_ones_say_what_they_can() {
    let tally = |passed: &[u32], samples: &[u32]| Tally {
        passed: passed.to_vec(),
        samples: samples.to_vec(),
    };
    assert_eq!(tally(&[50], &[64]).interval(), (0.0, 1.0));
    let (low, high) = tally(&[64], &[64]).interval();
    // 95 % of such counts: the share whose 64th power is 5 % (binomial).
    assert!((low.powi(64) - 0.05).abs() < 1e-12 && high == 1.0);
    let even = tally(&[600, 620, 610], &[1024; 3]).interval();
    let and_few = tally(&[600, 620, 610, 1], &[1024, 1024, 1024, 1]).interval();
    assert!(and_few.1 - and_few.0 < even.1 - even.0);
}

/// Joined are the scrambles of all seeds, each as far as it has samples without a gap; what lacks is named.
#[test]
fn seeds_are_joined_and_gaps_named() {
    let block = |scramble, from, to| Block { scramble, from, to };
    let counts = |blocks: &[(Block, u32)]| {
        let mut counts = Counts::default();
        for &(block, passed) in blocks {
            counts.add(block, vec![passed]).unwrap();
        }
        counts
    };
    let one = counts(&[(block(0, 0, 64), 60), (block(0, 128, 192), 1)]);
    let two = counts(&[(block(3, 0, 16), 16), (block(3, 16, 64), 40)]);
    let lacking: Vec<Block> = one.lacking();
    assert!(lacking.contains(&block(0, 64, 128)) && lacking.contains(&block(15, 128, 192)));
    assert!(!lacking.contains(&block(0, 0, 64)));
    let all = joined(&BySeed::from([(1, one), (2, two)]), 1);
    assert_eq!(all[0].passed, [60, 56]);
    assert_eq!(all[0].samples, [64, 64]);
}
