//! Bundles read back, and what is wrong with one is named.

use super::super::raw::ENCODING;
use super::*;
use proptest::prelude::*;

fn chain(site: &str, entries: u64) -> Vec<Linked> {
    let mut prev = Hash::NONE;
    let mut scratch = Vec::new();
    (1..=entries)
        .map(|number| {
            let raw = RawEntry {
                site: site.to_owned(),
                epoch: 1,
                number,
                kind: "note".to_owned(),
                effective: "2026-03-04".to_owned(),
                recorded_ms: 1_772_600_000_000,
                recorded_offset: -300,
                author: "Ä \"quoted\" \\ author\n".to_owned(),
                program: "pipelore 0.1.0".to_owned(),
                evidence: (number % 2 == 0).then(|| r#"{"file":"a.csv"}"#.to_owned()),
                body: format!(r#"{{"text":"note {number} \u0001 é"}}"#),
                encoding: ENCODING,
            };
            let hash = Hash::of_entry(&prev, &raw, &mut scratch);
            let linked = Linked { raw, prev, hash };
            prev = hash;
            linked
        })
        .collect()
}

fn stretch(part: &[Linked]) -> Stretch {
    let (first, last) = (part.first().unwrap(), part.last().unwrap());
    Stretch {
        chain: first.raw.chain().unwrap(),
        from: first.raw.number,
        to: last.raw.number,
        before: first.prev,
        head: last.hash,
    }
}

fn lines(parts: &[&[Linked]]) -> Vec<String> {
    let mut writer = BundleWriter::new();
    let header = BundleHeader {
        pipelore_bundle: BUNDLE_FORMAT,
        lost: Vec::new(),
        made: "2026-03-05T00:00:00Z".to_owned(),
        author: "x".to_owned(),
        program: "pipelore 0.1.0".to_owned(),
        chains: parts.iter().map(|p| stretch(p)).collect(),
    };
    let mut out = vec![writer.header(&header).unwrap()];
    for linked in parts.iter().flat_map(|p| p.iter()) {
        out.push(writer.entry(linked).unwrap());
    }
    out.push(writer.footer().unwrap().0);
    out
}

fn read(lines: &[String]) -> Result<(Vec<Linked>, BundleEnd), BundleError> {
    let mut reader = BundleReader::new(BundleLimits::default());
    let mut out = Vec::new();
    for line in lines {
        if let BundleItem::Entry(linked) = reader.take(line.trim_end_matches('\n').as_bytes())? {
            out.push(*linked);
        }
    }
    Ok((out, reader.finish()?))
}

#[test]
fn what_is_written_reads_back() {
    let (rig, yard) = (chain("rig", 4), chain("yard", 5));
    let (back, end) = read(&lines(&[&rig, &yard[2..]])).unwrap();
    let sent: Vec<Linked> = rig.iter().chain(&yard[2..]).cloned().collect();
    assert_eq!(back, sent);
    assert_eq!(end.entries, 7);
}

/// The layout is a contract with other programs. Hash and digest were computed independently
/// with Python's hashlib over the documented layout.
#[test]
fn the_layout_does_not_drift() {
    let hash = "49b52b2acb4eac04731da1b304d9794c1b3df092c6adbb37f8a9b0083a794bbb";
    let digest = "7b9638ee62f2688a408ffb4739ca2cd9d554c1430495abe1d03736e9165e1848";
    let none = "0".repeat(64);
    let expected = [
        r#"{"pipelore_bundle":1,"made":"2026-03-05T00:00:00Z","author":"x","#,
        r#""program":"pipelore 0.1.0","chains":[{"chain":"rig","from":1,"to":1,"before":""#,
        &none,
        r#"","head":""#,
        hash,
        "\"}]}\n",
        r#"{"entry":"rig-1","kind":"note","effective":"2026-03-04","recorded_ms":1772600000000,"#,
        r#""recorded_offset":-300,"author":"Ä \"quoted\" \\ author\n","#,
        r#""program":"pipelore 0.1.0","body":{"text":"note 1 \u0001 é"},"encoding":1,"prev":""#,
        &none,
        r#"","hash":""#,
        hash,
        "\"}\n",
        r#"{"entries":1,"sha256":""#,
        digest,
        "\"}\n",
    ];
    assert_eq!(lines(&[&chain("rig", 1)]).concat(), expected.concat());
}

#[test]
fn every_fault_is_named() {
    let yard = chain("yard", 4);
    let good = lines(&[&yard]);
    let say = |change: &dyn Fn(&mut Vec<String>)| {
        let mut lines = good.clone();
        change(&mut lines);
        read(&lines).unwrap_err().to_string()
    };
    assert_eq!(
        say(&|l| drop(l.remove(0))),
        "this is not a bundle: its first line is not the header of one"
    );
    assert_eq!(say(&|l| l.clear()), "this is not a bundle: it is empty");
    assert_eq!(
        say(&|l| l[0] = l[0].replacen("bundle\":1", "bundle\":7", 1)),
        "this bundle has format 7; this version reads 1"
    );
    assert_eq!(
        say(&|l| drop(l.remove(2))),
        "line 3: yard-3 follows number 1 of its chain: entries are missing or out of order"
    );
    assert_eq!(
        say(&|l| l[2] = l[2].replace("note 2", "note Z")),
        "line 3: yard-2 does not give its own hash: its content was altered"
    );
    assert_eq!(say(&|l| drop(l.remove(4))), "line 5: the entries of yard end before number 4");
    assert_eq!(say(&|l| drop(l.pop())), "the bundle is cut short after line 5: it has no footer");
    assert_eq!(say(&|l| l.push(l[1].clone())), "line 7: nothing may follow the footer");
    assert!(
        say(&|l| l[0] = l[0].replace("\"x\"", "\"y\""))
            .starts_with("the bundle was changed on its way")
    );
    assert!(say(&|l| l[1] = "{}".to_owned()).starts_with("line 2: "));
    assert!(say(&|l| l[3] = l[3].replace("\"kind\"", "\"sort\"")).contains("unknown field"));
}

#[test]
fn limits_hold() {
    let good = lines(&[&chain("yard", 4)]);
    let with = |limits: BundleLimits| {
        let mut reader = BundleReader::new(limits);
        good.iter().try_for_each(|l| reader.take(l.trim_end().as_bytes()).map(|_| ()))
    };
    let limits = BundleLimits::default();
    with(limits).unwrap();
    for small in [
        BundleLimits { line: 100, ..limits },
        BundleLimits { entries: 3, ..limits },
        BundleLimits { bytes: 1_000, ..limits },
    ] {
        assert!(matches!(with(small), Err(BundleError::TooLarge { .. })));
    }
}

proptest! {
    #[test]
    fn soup_never_panics(soup in prop::collection::vec(any::<Vec<u8>>(), 0..5)) {
        let mut reader = BundleReader::new(BundleLimits::default());
        for line in soup {
            let _ = reader.take(&line);
        }
    }

    /// One changed byte anywhere is refused (or changes nothing that is read).
    #[test]
    fn a_changed_byte_is_refused(at in any::<prop::sample::Index>(), to in 0x20u8..0x7f) {
        let good = lines(&[&chain("rig", 2), &chain("yard", 3)]);
        let text = good.concat();
        let at = at.index(text.len());
        let mut bytes = text.clone().into_bytes();
        prop_assume!(bytes[at] != to && bytes[at] != b'\n');
        bytes[at] = to;
        let mut reader = BundleReader::new(BundleLimits::default());
        let all = bytes
            .split_inclusive(|b| *b == b'\n')
            .try_for_each(|l| reader.take(l.strip_suffix(b"\n").unwrap_or(l)).map(|_| ()));
        prop_assert!(all.is_err() || reader.finish().is_err());
    }
}
