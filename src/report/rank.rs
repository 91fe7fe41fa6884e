//! How much an order moved: rank correlations and changes at the top. Pure.

/// Ranks from the largest (1) down; equal values share the mean of their ranks.
pub(super) fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*b].total_cmp(&values[*a]));
    let mut ranks = vec![0.0; values.len()];
    let mut at = 0;
    while at < order.len() {
        let value = values[order[at]];
        let same = order[at..].iter().take_while(|i| values[**i].total_cmp(&value).is_eq()).count();
        let mean = at as f64 + 0.5 * (same as f64 + 1.0);
        order[at..at + same].iter().for_each(|i| ranks[*i] = mean);
        at += same;
    }
    ranks
}

/// Spearman's rank correlation (1904): Pearson's of the ranks. None for fewer than two values, or
/// where one side is all alike.
pub(super) fn spearman(a: &[f64], b: &[f64]) -> Option<f64> {
    if a.len() != b.len() || a.len() < 2 {
        return None;
    }
    let (x, y) = (ranks(a), ranks(b));
    let mean = 0.5 * (a.len() as f64 + 1.0);
    let sum = |f: &dyn Fn(usize) -> f64| (0..a.len()).map(f).sum::<f64>();
    let xy = sum(&|i| (x[i] - mean) * (y[i] - mean));
    let xx = sum(&|i| (x[i] - mean) * (x[i] - mean));
    let yy = sum(&|i| (y[i] - mean) * (y[i] - mean));
    (xx > 0.0 && yy > 0.0).then(|| xy / (xx * yy).sqrt())
}

/// Kendall's τ-b (1938, 1945), by counting exchanges of a merge sort (Knight 1966). None for fewer
/// than two values, or where one side is all alike.
pub(super) fn kendall(a: &[f64], b: &[f64]) -> Option<f64> {
    if a.len() != b.len() || a.len() < 2 {
        return None;
    }
    let mut pairs: Vec<(f64, f64)> = a.iter().copied().zip(b.iter().copied()).collect();
    pairs.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.total_cmp(&q.1)));
    let n = pairs.len() as f64;
    let all = 0.5 * n * (n - 1.0);
    let tied_a = tied(pairs.iter().map(|p| p.0.to_bits()));
    let tied_both = tied(pairs.iter().map(|p| (p.0.to_bits(), p.1.to_bits())));
    let mut second: Vec<f64> = pairs.iter().map(|p| p.1).collect();
    let mut buffer = second.clone();
    let discordant = exchanges(&mut second, &mut buffer);
    let tied_b = tied(second.iter().map(|v| v.to_bits()));
    let concordant = all - tied_a - tied_b + tied_both - discordant;
    let scale = ((all - tied_a) * (all - tied_b)).sqrt();
    (scale > 0.0).then(|| (concordant - discordant) / scale)
}

/// Pairs of equal neighbours in an ordered list.
fn tied<T: PartialEq>(ordered: impl Iterator<Item = T>) -> f64 {
    let mut pairs = 0.0;
    let mut run = 0.0;
    let mut last: Option<T> = None;
    for value in ordered {
        if last.as_ref() == Some(&value) {
            run += 1.0;
            pairs += run;
        } else {
            run = 0.0;
        }
        last = Some(value);
    }
    pairs
}

/// Sorts, and counts the pairs that stood the wrong way round.
fn exchanges(list: &mut [f64], buffer: &mut [f64]) -> f64 {
    let n = list.len();
    if n < 2 {
        return 0.0;
    }
    let middle = n / 2;
    let (left, right) = list.split_at_mut(middle);
    let (low, high) = buffer.split_at_mut(middle);
    let mut count = exchanges(left, low) + exchanges(right, high);
    let (mut i, mut j) = (0, middle);
    for slot in buffer.iter_mut().take(n) {
        let take_left = j == n || (i < middle && list[i].total_cmp(&list[j]).is_le());
        if take_left {
            *slot = list[i];
            i += 1;
        } else {
            *slot = list[j];
            // It passes everything that is left of the first half.
            count += (middle - i) as f64;
            j += 1;
        }
    }
    list.copy_from_slice(&buffer[..n]);
    count
}

/// How many of the first `n` by one measure are not among the first `n` by another. Equal values
/// are told apart by their place in the list, so that the count is the same every time.
pub(super) fn left_the_top(before: &[f64], after: &[f64], n: usize) -> usize {
    let (then, now) = (top(before, n), top(after, n));
    then.iter().filter(|i| !now.contains(i)).count()
}

/// Places of the first `n` by value, the largest first.
pub(super) fn top(values: &[f64], n: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*b].total_cmp(&values[*a]).then(a.cmp(b)));
    order.truncate(n);
    order
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn worked_examples() {
        // Ten people by two measures, Spearman −29/165 (a common classroom example, computed by
        // hand: sum of squared rank differences 194, 1 − 6·194/990).
        let iq = [106.0, 100.0, 86.0, 101.0, 99.0, 103.0, 97.0, 113.0, 112.0, 110.0];
        let hours = [7.0, 27.0, 2.0, 50.0, 28.0, 29.0, 20.0, 12.0, 6.0, 17.0];
        let rho = spearman(&iq, &hours).unwrap();
        assert!((rho + 29.0 / 165.0).abs() < 1e-12, "{rho}");
        assert_eq!(ranks(&[2.0, 5.0, 2.0, 9.0]), [3.5, 2.0, 3.5, 1.0]);
        assert_eq!(left_the_top(&[5.0, 4.0, 3.0, 2.0], &[1.0, 4.0, 3.0, 2.0], 2), 1);
        assert!(spearman(&[1.0], &[1.0]).is_none());
        assert!(kendall(&[1.0, 1.0], &[1.0, 2.0]).is_none());
    }

    /// Every pair looked at.
    fn kendall_plain(a: &[f64], b: &[f64]) -> Option<f64> {
        let sign = |x: f64, y: f64| f64::from(i8::from(x > y) - i8::from(x < y));
        let (mut s, mut na, mut nb) = (0.0, 0.0, 0.0);
        for i in 0..a.len() {
            for j in 0..i {
                let (x, y) = (sign(a[i], a[j]), sign(b[i], b[j]));
                s += x * y;
                na += x * x;
                nb += y * y;
            }
        }
        (na > 0.0 && nb > 0.0).then(|| s / (na * nb).sqrt())
    }

    proptest! {
        #[test]
        fn kendall_counts_every_pair(values in prop::collection::vec((0u8..12, 0u8..12), 2..60)) {
            let a: Vec<f64> = values.iter().map(|v| f64::from(v.0)).collect();
            let b: Vec<f64> = values.iter().map(|v| f64::from(v.1)).collect();
            match (kendall(&a, &b), kendall_plain(&a, &b)) {
                (Some(x), Some(y)) => prop_assert!((x - y).abs() < 1e-12, "{x} {y}"),
                (x, y) => prop_assert_eq!(x, y),
            }
        }

        #[test]
        fn an_order_agrees_with_itself_and_denies_its_reverse(values in prop::collection::vec(-1e6..1e6f64, 2..60)) {
            let turned: Vec<f64> = values.iter().map(|v| -v).collect();
            for f in [spearman, kendall] {
                if let Some(same) = f(&values, &values) {
                    prop_assert!((same - 1.0).abs() < 1e-9);
                    prop_assert!((f(&values, &turned).unwrap() + 1.0).abs() < 1e-9);
                }
            }
            prop_assert_eq!(left_the_top(&values, &values, 5), 0);
        }
    }
}
