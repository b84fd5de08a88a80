//! What is counted of scrambles: shares and intervals of one run, of some shares of it, and of runs of several seeds.

use network::margins::tallies::{Block, BySeed, Counts, Outcome, Outcomes, Tally, joined};

/// Of each scramble how many work, of how many samples; the others are short.
fn tally(scrambles: impl IntoIterator<Item = (u32, u32)>) -> Tally {
    let scrambles = scrambles.into_iter().map(|(works, samples)| Outcomes {
        works,
        short: samples - works,
        ..Outcomes::default()
    });
    Tally {
        scrambles: scrambles.collect(),
    }
}

/// Half of the scrambles pass one sample more than the other half: every one is `off` from the mean, so the error of the mean is
/// `off` / sqrt(n − 1). Student's quantiles are those of printed tables: 3.182 for 3 degrees of freedom, 2.131 for 15, 2.040
/// for 31, 1.98 for 127.
#[test]
fn the_interval_is_that_of_students_distribution() {
    for (scrambles, quantile) in [(4, 3.182), (16, 2.131), (32, 2.040), (128, 1.979)] {
        let tally = tally((0..scrambles).map(|number| (40 + 2 * (number % 2), 64)));
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
    assert_eq!(tally([(50, 64)]).interval(), (0.0, 1.0));
    let (low, high) = tally([(64, 64)]).interval();
    // 95 % of such counts: the share whose 64th power is 5 % (binomial).
    assert!((low.powi(64) - 0.05).abs() < 1e-12 && high == 1.0);
    let even = [(600, 1024), (620, 1024), (610, 1024)];
    let and_few = tally(even.into_iter().chain([(1, 1)])).interval();
    let even = tally(even).interval();
    assert!(and_few.1 - and_few.0 < even.1 - even.0);
}

/// Joined are the scrambles of all seeds, each as far as it has samples without a gap; what lacks is named.
#[test]
fn seeds_are_joined_and_gaps_named() {
    let block = |scramble, from, to| Block { scramble, from, to };
    let counts = |blocks: &[(Block, u32)]| {
        let mut counts = Counts::default();
        for &(block, works) in blocks {
            let all = tally([(works, block.to - block.from)]).scrambles;
            counts.add(block, all).unwrap();
        }
        counts
    };
    let one = counts(&[(block(0, 0, 64), 60), (block(0, 128, 192), 1)]);
    let two = counts(&[(block(3, 0, 16), 16), (block(3, 16, 64), 40)]);
    let lacking: Vec<Block> = one.lacking();
    assert!(lacking.contains(&block(0, 64, 128)) && lacking.contains(&block(15, 128, 192)));
    assert!(!lacking.contains(&block(0, 0, 64)));
    let all = joined(&BySeed::from([(1, one), (2, two)]), 1);
    assert_eq!(all[0], tally([(60, 64), (56, 64)]));
}

/// A sample of which several things are to be said counts once, as what the builder has to look for first: what does not come to
/// rest has no state, and what has lost its state no level.
#[test]
fn each_sample_counts_once() {
    use Outcome::{NoRest, PartWrong, Short, StateLost, Works};
    let mut outcomes = Outcomes::default();
    for seen in [
        &[Works][..],
        &[PartWrong, Works],
        &[Short, PartWrong],
        &[Short, StateLost],
        &[NoRest, StateLost],
    ] {
        outcomes.count(seen.iter().copied().fold(Works, Outcome::max));
    }
    assert_eq!(
        outcomes,
        Outcomes {
            works: 1,
            short: 1,
            state_lost: 1,
            no_rest: 1,
            part_wrong: 1
        }
    );
    let mut twice = outcomes;
    twice += outcomes;
    assert_eq!(twice.samples(), 10);
}
