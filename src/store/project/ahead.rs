//! What the connection reads and writes, beside what all threads work out.

use super::super::error::Result;

/// Takes items through three steps: they are read, worked on and written. While one is worked on by other
/// threads, this thread, which has the connection, writes the one before and reads the next; so an item may
/// be read before the one before it is written. At most three are at hand.
///
/// # Errors
/// That of the first item that cannot be read or written; nothing of later items is written then.
pub(super) fn work_ahead<C, I, In: Sync, Out: Send>(
    ctx: &mut C,
    items: impl IntoIterator<Item = I>,
    read: impl Fn(&mut C, I) -> Result<In>,
    work: impl Fn(&In) -> Out + Sync,
    write: impl Fn(&mut C, In, Out) -> Result<()>,
) -> Result<()> {
    let mut items = items.into_iter();
    let mut done: Option<(In, Out)> = None;
    let mut next = items.next().map(|item| read(ctx, item)).transpose()?;
    while let Some(item) = next.take() {
        let mut out = None;
        next = rayon::in_place_scope(|scope| {
            scope.spawn(|_| out = Some(work(&item)));
            if let Some((item, out)) = done.take() {
                write(ctx, item, out)?;
            }
            items.next().map(|item| read(ctx, item)).transpose()
        })?;
        done = out.map(|out| (item, out));
    }
    done.map_or(Ok(()), |(item, out)| write(ctx, item, out))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::StoreError;

    #[test]
    fn every_item_is_written_once_and_in_order() {
        for n in 0..5 {
            let mut written = Vec::new();
            let write = |to: &mut Vec<(u32, u32)>, item: u32, out: u32| {
                to.push((item, out));
                Ok(())
            };
            work_ahead(&mut written, 0..n, |_, i| Ok(i), |i| i * i, write).unwrap();
            assert_eq!(written, (0..n).map(|i| (i, i * i)).collect::<Vec<_>>());
        }
    }

    #[test]
    fn what_cannot_be_read_ends_it() {
        let refused = || StoreError::Fold { entry: "yard-1".to_owned(), what: "bad".to_owned() };
        let read = |_: &mut Vec<u32>, i: u32| if i == 3 { Err(refused()) } else { Ok(i) };
        let write = |to: &mut Vec<u32>, item: u32, (): ()| {
            to.push(item);
            Ok(())
        };
        let mut written = Vec::new();
        assert!(work_ahead(&mut written, 0..9, read, |_| (), write).is_err());
        assert_eq!(written, [0, 1]);
    }
}
