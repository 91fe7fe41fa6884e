//! A straight trend through readings that outliers do not move, with an interval that rests on no
//! distribution of the errors.
//!
//! The slope is the median of the slopes of all pairs (Theil, Proc. Kon. Ned. Akad. Wetensch. 53,
//! 1950); its interval comes from Kendall's statistic (Sen, J. Am. Stat. Assoc. 63, 1968, 1379–1389).
//! Readings that fall into several series with levels of their own are compared within each series
//! only, and the statistic is summed over them (Hirsch, Slack and Smith, Water Resour. Res. 18, 1982,
//! 107–121, where the series are seasons).

/// Readings of one unbroken series: use so far, and the value then.
pub type Series = Vec<(f64, f64)>;

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    pub slope: f64,
    /// Interval of the slope, where there are readings enough for one.
    pub interval: Option<(f64, f64)>,
    pub readings: usize,
}

/// Pairs up to which the distribution of Kendall's statistic is worked out; above, it is normal to
/// four digits.
const EXACT: usize = 1_500;

/// Fits the trend that series have in common. `None` when no series has two readings.
pub fn fit(series: &[Series], confidence: f64) -> Option<Trend> {
    let mut slopes = Vec::new();
    let mut sizes = Vec::new();
    for s in series {
        let points = distinct(s);
        if points.len() < 2 {
            continue;
        }
        sizes.push(points.len());
        for (i, a) in points.iter().enumerate() {
            slopes.extend(points[i + 1..].iter().map(|b| (b.1 - a.1) / (b.0 - a.0)));
        }
    }
    if slopes.is_empty() {
        return None;
    }
    slopes.sort_by(f64::total_cmp);
    let rank = rank(&sizes, (1.0 - confidence) / 2.0);
    Some(Trend {
        slope: median_of_sorted(&slopes),
        interval: rank.map(|k| (slopes[k - 1], slopes[slopes.len() - k])),
        readings: sizes.iter().sum(),
    })
}

/// Readings by use; those at the same use become one, their median.
fn distinct(series: &Series) -> Series {
    let mut sorted = series.clone();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    sorted
        .chunk_by(|a, b| a.0.total_cmp(&b.0).is_eq())
        .map(|same| (same[0].0, median(same.iter().map(|p| p.1).collect())))
        .collect()
}

/// Rank from either end of the sorted slopes at which an interval ends that leaves at most `tail` on
/// each side. `None` when even the extreme slopes leave more.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a rank between 0 and the number of pairs"
)]
fn rank(sizes: &[usize], tail: f64) -> Option<usize> {
    let pairs: usize = sizes.iter().map(|n| n * (n - 1) / 2).sum();
    let mut sum = 0.0;
    let mut k = 0;
    if pairs <= EXACT {
        for p in discordant(sizes) {
            sum += p;
            // Rounding of the sum must not cost a rank.
            if sum > tail * (1.0 + 1e-12) {
                break;
            }
            k += 1;
        }
    } else {
        let variance: f64 =
            sizes.iter().map(|n| *n as f64).map(|n| n * (n - 1.0) * (2.0 * n + 5.0) / 18.0).sum();
        let width = quantile(1.0 - tail) * variance.sqrt();
        k = ((pairs as f64 - width) / 2.0).floor().max(0.0) as usize;
    }
    (k > 0).then_some(k.min(pairs.div_ceil(2)))
}

/// Probability of each count of discordant pairs when there is no trend, series by series in any
/// order: the product of `(1 + q + … + q^(i-1)) / i` for `i` up to each size.
pub fn discordant(sizes: &[usize]) -> Vec<f64> {
    let mut all = vec![1.0];
    for size in sizes {
        for i in 2..=*size {
            let mut next = vec![0.0; all.len() + i - 1];
            // A running sum over the last `i` terms.
            let mut window = 0.0;
            for (at, slot) in next.iter_mut().enumerate() {
                window += all.get(at).copied().unwrap_or(0.0);
                if at >= i {
                    window -= all.get(at - i).copied().unwrap_or(0.0);
                }
                *slot = f64::max(window, 0.0) / i as f64;
            }
            all = next;
        }
    }
    all
}

/// Median; 0 of nothing.
pub fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    median_of_sorted(&values)
}

fn median_of_sorted(values: &[f64]) -> f64 {
    let n = values.len();
    match n {
        0 => 0.0,
        _ if n % 2 == 1 => values[n / 2],
        _ => f64::midpoint(values[n / 2 - 1], values[n / 2]),
    }
}

/// Interval into which the next value of a sample falls, whatever its distribution: with `n` values
/// seen, the next lies between the k-th from each end with the chance `1 - 2k/(n + 1)`. `None` when
/// the sample is too small.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a rank between 0 and half the number of values"
)]
pub fn next_of(mut values: Vec<f64>, confidence: f64) -> Option<(f64, f64)> {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    let k = ((1.0 - confidence) / 2.0 * (n as f64 + 1.0) + 1e-9).floor() as usize;
    (k > 0).then(|| (values[k - 1], values[n - k]))
}

/// Quantile of the normal distribution between one half and 1 - 1e-9, by bisection on an error
/// function.
fn quantile(p: f64) -> f64 {
    let (mut lo, mut hi) = (0.0, 6.0);
    for _ in 0..60 {
        let mid = 0.5 * (lo + hi);
        if normal(mid) < p { lo = mid } else { hi = mid }
    }
    hi
}

/// Distribution function of the normal distribution.
pub fn normal(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outlier_does_not_move_the_slope() {
        let mut s: Series = (0..9).map(|i| (f64::from(i), 10.0 - 2.0 * f64::from(i))).collect();
        s[4].1 = 99.0;
        let t = fit(&[s], 0.8).unwrap();
        assert!((t.slope + 2.0).abs() < 1e-12, "{t:?}");
        let (lo, hi) = t.interval.unwrap();
        assert!(lo <= -2.0 && -2.0 <= hi);
    }

    #[test]
    fn too_few_readings_give_no_interval() {
        let line = |n: u32| (0..n).map(|i| (f64::from(i), f64::from(i))).collect::<Series>();
        assert_eq!(fit(&[line(1)], 0.8), None);
        for (n, has) in [(2, false), (3, false), (4, true)] {
            assert_eq!(fit(&[line(n)], 0.8).unwrap().interval.is_some(), has, "{n}");
        }
        // Two short series say together what neither says alone.
        assert!(fit(&[line(3), line(3)], 0.8).unwrap().interval.is_some());
    }

    #[test]
    fn levels_of_series_do_not_matter() {
        let a: Series = vec![(0.0, 10.0), (1.0, 9.0), (2.0, 8.0)];
        let b: Series = vec![(2.0, 50.0), (3.0, 49.0)];
        assert!((fit(&[a, b], 0.8).unwrap().slope + 1.0).abs() < 1e-12);
    }

    #[test]
    fn readings_at_the_same_use_are_one() {
        let s: Series = vec![(0.0, 4.0), (1.0, 3.0), (1.0, 5.0), (2.0, 4.0)];
        assert_eq!(fit(&[s], 0.8).unwrap().readings, 3);
    }

    #[test]
    fn exact_and_normal_meet() {
        for n in [40_usize, 54] {
            let pairs = (n * (n - 1) / 2) as f64;
            let exact = rank(&[n], 0.05).unwrap() as f64;
            let nf = n as f64;
            let width = 1.644_853_6 * (nf * (nf - 1.0) * (2.0 * nf + 5.0) / 18.0).sqrt();
            assert!((exact - (pairs - width) / 2.0).abs() < 1.5, "{n}");
        }
        assert!((quantile(0.9) - 1.281_551_565_5).abs() < 1e-9);
    }

    #[test]
    fn the_next_value_of_nine_lies_within_them_four_times_in_five() {
        let nine: Vec<f64> = (1..=9).map(f64::from).collect();
        assert_eq!(next_of(nine.clone(), 0.8), Some((1.0, 9.0)));
        assert_eq!(next_of(nine[..8].to_vec(), 0.8), None);
    }
}
