//! Delivers the entries of finished histories to fresh books, in any order and in pieces.

use std::collections::BTreeMap;

use pipelore::ledger::{BUNDLE_FORMAT, BundleHeader, BundleWriter, Linked, Stretch};
use pipelore::store::{Book, BundleIn};

use crate::world::World;

/// The chains that a book holds, each in order.
pub fn chains(book: &Book) -> Vec<Vec<Linked>> {
    let mut out: BTreeMap<(String, u32), Vec<Linked>> = BTreeMap::new();
    book.each_entry(|e| {
        let chain = out.entry((e.raw.site.clone(), e.raw.epoch)).or_default();
        chain.push(Linked { raw: e.raw, prev: e.prev, hash: e.hash });
        Ok(())
    })
    .unwrap();
    out.into_values().collect()
}

/// A bundle of parts of chains, each a stretch of its own chain.
pub fn bundle(parts: &[&[Linked]]) -> String {
    let mut parts: Vec<&[Linked]> = parts.iter().copied().filter(|p| !p.is_empty()).collect();
    parts.sort_by_key(|p| p[0].raw.chain().unwrap());
    let mut writer = BundleWriter::new();
    let header = BundleHeader {
        pipelore_bundle: BUNDLE_FORMAT,
        lost: Vec::new(),
        made: "2026-01-01T00:00:00Z".to_owned(),
        author: "tester".to_owned(),
        program: "pipelore test".to_owned(),
        chains: parts
            .iter()
            .map(|p| Stretch {
                chain: p[0].raw.chain().unwrap(),
                from: p[0].raw.number,
                to: p[p.len() - 1].raw.number,
                before: p[0].prev,
                head: p[p.len() - 1].hash,
            })
            .collect(),
    };
    let mut text = writer.header(&header).unwrap();
    for linked in parts.iter().flat_map(|p| p.iter()) {
        text.push_str(&writer.entry(linked).unwrap());
    }
    text.push_str(&writer.footer().unwrap().0);
    text
}

/// A book of a site that writes nothing, which got everything in pieces: `order` says how many
/// entries of which chain come next.
pub fn in_pieces(
    world: &World,
    name: &str,
    chains: &[Vec<Linked>],
    order: &[(u8, u8)],
    mut each: impl FnMut(&Book),
) -> Book {
    let mut book = world.book_of(name, "reader");
    let mut next = vec![0usize; chains.len()];
    let all = (0..chains.len()).map(|c| (u8::try_from(c).unwrap(), u8::MAX));
    for (chain, count) in order.iter().copied().chain(all) {
        let chain = usize::from(chain) % chains.len();
        let from = next[chain];
        let to = (from + usize::from(count)).min(chains[chain].len());
        if from == to {
            continue;
        }
        next[chain] = to;
        let text = bundle(&[&chains[chain][from..to]]);
        book.read_bundle(&mut text.as_bytes(), &BundleIn::default(), &world.stamp())
            .unwrap_or_else(|e| panic!("refused {}: {e}", chains[chain][from].raw.label()));
        each(&book);
    }
    assert!(next.iter().zip(chains).all(|(n, c)| *n == c.len()), "histories are short");
    book
}
