//! Many serials in few words.

/// Most stretches that are named; the rest is counted.
const NAMED: usize = 4;

/// Serials in the order given, those that follow one another as a stretch: `K1-0401 to K1-0436,
/// K1-0440`. What stands between the ends of a stretch is in it, each one.
pub(super) fn in_stretches<'s>(serials: impl IntoIterator<Item = &'s str>) -> String {
    let mut all: Vec<&str> = serials.into_iter().collect();
    all.sort_by_key(|serial| numbered(serial).map_or((*serial, 0, 0), |(head, n, w)| (head, w, n)));
    all.dedup();
    let mut stretches: Vec<(&str, &str, usize)> = Vec::new();
    for serial in &all {
        match stretches.last_mut() {
            Some((_, last, joints)) if follows(last, serial) => {
                *last = serial;
                *joints += 1;
            }
            _ => stretches.push((serial, serial, 1)),
        }
    }
    let said = |(first, last, joints): &(&str, &str, usize)| match joints {
        1 => (*first).to_owned(),
        2 => format!("{first}, {last}"),
        _ => format!("{first} to {last}"),
    };
    let named: Vec<String> = stretches.iter().take(NAMED).map(said).collect();
    let more: usize = stretches.iter().skip(NAMED).map(|(_, _, joints)| joints).sum();
    let named = named.join(", ");
    if more == 0 { named } else { format!("{named} and {more} more") }
}

/// What stands before the digits at the end of a serial, their number, and how many they are.
fn numbered(serial: &str) -> Option<(&str, u64, usize)> {
    let head = serial.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = &serial[head.len()..];
    Some((head, digits.parse().ok()?, digits.len()))
}

/// Whether a serial is the one after another.
fn follows(before: &str, serial: &str) -> bool {
    let (Some((head, n, wide)), Some((other, m, as_wide))) = (numbered(before), numbered(serial))
    else {
        return false;
    };
    // 9 and 10 follow one another; 09 and 010 do not.
    let grows =
        as_wide == wide + 1 && n.to_string().len() == wide && m.to_string().len() == as_wide;
    head == other && n.checked_add(1) == Some(m) && (wide == as_wide || grows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_holds_nothing_that_was_not_given() {
        for (serials, said) in [
            (&["A-1"][..], "A-1"),
            (&["A-2", "A-1"], "A-1, A-2"),
            (&["A-1", "A-2", "A-3"], "A-1 to A-3"),
            (&["A-1", "A-2", "A-3", "A-3"], "A-1 to A-3"),
            (&["A-1", "A-3", "A-2", "A-5"], "A-1 to A-3, A-5"),
            (&["A-9", "A-10", "A-11", "A-8"], "A-8 to A-11"),
            (&["A-09", "A-010"], "A-09, A-010"),
            (&["A-08", "A-09", "A-010"], "A-08, A-09, A-010"),
            (&["A", "B", "1"], "1, A, B"),
            (&["A-1", "A-3", "A-5", "A-7", "A-9", "A-10", "A-11"], "A-1, A-3, A-5, A-7 and 3 more"),
            (&["99999999999999999999", "5"], "5, 99999999999999999999"),
        ] {
            assert_eq!(in_stretches(serials.iter().copied()), said, "{serials:?}");
        }
    }
}
