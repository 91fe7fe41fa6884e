//! Why a bundle is refused.

use super::super::chain::ChainFault;
use super::super::raw::RawError;
use super::super::seal::SealError;
use super::BUNDLE_FORMAT;

/// Why a bundle was refused. Each names the first thing that is wrong.
#[derive(Debug, thiserror::Error)]
pub enum BundleError {
    /// It does not begin like one.
    #[error("this is not a bundle: {why}")]
    NotABundle {
        /// What it is instead.
        why: String,
    },
    /// A newer program wrote it.
    #[error("this bundle has format {format}; this version reads {BUNDLE_FORMAT}")]
    Newer { format: u32 },
    /// A line that is none of a bundle's.
    #[error("line {line}: {why}")]
    Line {
        /// Number of the line, from 1.
        line: u64,
        why: String,
    },
    /// More than a bundle may hold.
    #[error("line {line}: a bundle has {what} at most")]
    TooLarge {
        /// Number of the line.
        line: u64,
        /// The limit, in words.
        what: String,
    },
    /// It cannot be unpacked or read.
    #[error("after line {line} the bundle cannot be read: {why}")]
    Unreadable {
        line: u64,
        /// What the reader said.
        why: String,
    },
    /// It ends before its footer.
    #[error("the bundle is cut short after line {line}: it has no footer")]
    Cut { line: u64 },
    /// Its bytes are not those that were written.
    #[error("the bundle was changed on its way: its digest is {found}, its footer says {stated}")]
    Digest {
        /// Digest of what was read.
        found: String,
        /// Digest in the footer.
        stated: String,
    },
    /// A chain in it does not hold together.
    #[error("line {line}: {source}")]
    Chain {
        /// Number of the line.
        line: u64,
        source: ChainFault,
    },
    /// An entry that cannot be read, or that this program would have written otherwise.
    #[error(transparent)]
    Entry(#[from] RawError),
    /// A fact that is wrong by itself.
    #[error("entry {entry}: {what}")]
    Fact { entry: String, what: String },
    /// The book lacks what comes before.
    #[error("{entry} does not follow: the book holds {chain} up to {held}; entries are missing")]
    Gap {
        /// First entry that does not fit.
        entry: String,
        chain: String,
        held: String,
    },
    /// A site whose key is known sent something that its key did not seal.
    #[error(
        "{chain} comes without the seal of its site, and a key of {site} is entered in this book \
         ({told_by}): ask for a bundle made with --seal, or, if the key is theirs no longer, \
         withdraw it with `pipelore seal trust FILE --withdraw --reason TEXT`"
    )]
    SealWanted {
        chain: String,
        site: String,
        /// Entries that tell its keys.
        told_by: String,
    },
    /// What is before an entry is said to be lost, and no entry says so.
    #[error(
        "what stands before {entry} is said to be lost, but no entry of a salvaged book that came \
         with it says so"
    )]
    Untold {
        /// The entry after what is lost.
        entry: String,
    },
    /// The book holds another entry of that name.
    #[error("{entry} differs from the entry of that name in the book: two books wrote as one site")]
    Fork {
        /// First entry that differs.
        entry: String,
    },
    /// Entries of the receiving book's own chain that it never wrote, or lost.
    #[error("{entry} is of this book's own chain, which ends at {held}")]
    Own {
        /// First entry that the book lacks.
        entry: String,
        held: String,
    },
    /// An epoch far above all that the book knows of its site.
    #[error("{entry} begins an epoch far above those known; this book takes {most} at most")]
    EpochAhead {
        entry: String,
        /// Greatest epoch of the site that is taken.
        most: u32,
    },
    /// An epoch that continues an entry with another hash than the book's.
    #[error("{epoch} continues a {parent} with another hash than the {parent} of the book")]
    Parent {
        /// Entry that begins the epoch.
        epoch: String,
        /// Entry that it continues.
        parent: String,
    },
    /// A seal that does not hold.
    #[error(transparent)]
    Seal(#[from] SealError),
    /// No seal of a known key where one is asked for.
    #[error("{chain} came without a seal of a key known for its site")]
    Unsealed { chain: String },
}
