//! One Parquet file: rows come value by value, and go out column by column.

use std::collections::HashMap;
use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use parquet::basic::{Compression, LogicalType, Repetition, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::{KeyValue, SortingColumn};
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::{Type, TypePtr};
use sha2::{Digest, Sha256};
use twox_hash::XxHash3_128;

use super::describe::{Described, Holds, PublishedTable};
use super::{At, PublishError};
use crate::ledger::hex;
use crate::model::Histogram;
use crate::store::Seen;

/// Rows of a row group at most.
const GROUP: usize = 131_072;

/// Fields of a band of a histogram.
const BAND: [&str; 3] = ["band", "turns", "hours"];

/// What a written file is.
#[derive(Debug)]
pub(super) struct Written {
    pub rows: u64,
    pub bytes: u64,
    pub sha256: String,
    pub content: String,
}

/// A digest of rows, by which a change is seen.
pub(super) struct Print {
    hash: Box<twox_hash::xxhash3_128::Hasher>,
    pending: Vec<u8>,
}

impl Print {
    const FULL: usize = 1 << 16;

    pub(super) fn new() -> Self {
        Self { hash: Box::new(XxHash3_128::new()), pending: Vec::with_capacity(2 * Self::FULL) }
    }

    pub(super) fn add(&mut self, value: Seen<'_>) {
        let mut long = |tag: u8, bytes: &[u8]| {
            self.pending.push(tag);
            self.pending.extend_from_slice(&(bytes.len() as u64).to_le_bytes());
            self.pending.extend_from_slice(bytes);
        };
        match value {
            Seen::Null => self.pending.push(0),
            Seen::Int(n) => {
                self.pending.push(1);
                self.pending.extend_from_slice(&n.to_le_bytes());
            }
            Seen::Text(t) => long(2, t.as_bytes()),
            Seen::Blob(b) => long(3, b),
        }
        if self.pending.len() >= Self::FULL {
            self.hash.write(&self.pending);
            self.pending.clear();
        }
    }

    pub(super) fn finish(mut self) -> String {
        self.hash.write(&self.pending);
        hex(&self.hash.finish_128().to_be_bytes())
    }
}

/// Values of a column, and at which level each stands: 0 where there is none.
enum Column {
    Int { values: Vec<i64>, levels: Vec<i16> },
    Text { values: Vec<ByteArray>, levels: Vec<i16>, known: HashMap<Box<str>, ByteArray> },
    Histogram { fields: [Vec<i64>; 3], levels: Vec<i16>, repeats: Vec<i16> },
}

/// Texts of a column that are kept to be used again.
const WORDS: usize = 4_096;

impl Column {
    fn new(holds: Holds) -> Self {
        match holds {
            Holds::Int => Self::Int { values: Vec::new(), levels: Vec::new() },
            Holds::Text => {
                Self::Text { values: Vec::new(), levels: Vec::new(), known: HashMap::new() }
            }
            Holds::Histogram => Self::Histogram {
                fields: Default::default(),
                levels: Vec::new(),
                repeats: Vec::new(),
            },
        }
    }

    /// Takes a value; `None` for one that is not of the column's kind.
    fn put(&mut self, value: Seen<'_>) -> Option<()> {
        match (self, value) {
            (Self::Int { levels, .. } | Self::Text { levels, .. }, Seen::Null) => levels.push(0),
            (Self::Histogram { levels, repeats, .. }, Seen::Null) => {
                levels.push(0);
                repeats.push(0);
            }
            (Self::Int { values, levels }, Seen::Int(n)) => {
                values.push(n);
                levels.push(1);
            }
            (Self::Text { values, levels, known }, Seen::Text(t)) => {
                let kept = known.get(t).cloned().unwrap_or_else(|| {
                    let new = ByteArray::from(t.as_bytes().to_vec());
                    if known.len() < WORDS {
                        known.insert(t.into(), new.clone());
                    }
                    new
                });
                values.push(kept);
                levels.push(1);
            }
            (text @ Self::Text { .. }, Seen::Blob(bytes)) => {
                return text.put(Seen::Text(&hex(bytes)));
            }
            (Self::Histogram { fields, levels, repeats }, Seen::Blob(bytes)) => {
                let [bands, turns, hours] = fields;
                let mut first = true;
                Histogram::each_stored(bytes, |band, t, h| {
                    bands.push(i64::from(band));
                    turns.push(t);
                    hours.push(h);
                    levels.push(2);
                    repeats.push(i16::from(!std::mem::take(&mut first)));
                })
                .ok()?;
                if first {
                    levels.push(1);
                    repeats.push(0);
                }
            }
            _ => return None,
        }
        Some(())
    }

    fn write<W: Write + Send>(
        &mut self,
        group: &mut SerializedRowGroupWriter<'_, W>,
    ) -> Result<(), ParquetError> {
        let missing = || ParquetError::General("a column is missing in the layout".to_owned());
        match self {
            Self::Int { values, levels } => {
                let mut column = group.next_column()?.ok_or_else(missing)?;
                column.typed::<Int64Type>().write_batch(values, Some(levels), None)?;
                column.close()?;
                values.clear();
                levels.clear();
            }
            Self::Text { values, levels, .. } => {
                let mut column = group.next_column()?.ok_or_else(missing)?;
                column.typed::<ByteArrayType>().write_batch(values, Some(levels), None)?;
                column.close()?;
                values.clear();
                levels.clear();
            }
            Self::Histogram { fields, levels, repeats } => {
                for values in fields {
                    let mut column = group.next_column()?.ok_or_else(missing)?;
                    column.typed::<Int64Type>().write_batch(values, Some(levels), Some(repeats))?;
                    column.close()?;
                    values.clear();
                }
                levels.clear();
                repeats.clear();
            }
        }
        Ok(())
    }
}

/// What goes through it is counted and digested.
struct Counting {
    file: File,
    hash: Sha256,
    bytes: u64,
}

impl Write for Counting {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let n = self.file.write(bytes)?;
        self.hash.update(&bytes[..n]);
        self.bytes += n as u64;
        Ok(n)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file.flush()
    }
}

/// A file in the making.
pub(super) struct Part<'a> {
    table: &'a PublishedTable,
    path: PathBuf,
    out: SerializedFileWriter<Counting>,
    columns: Vec<Column>,
    print: Print,
    /// Rows in hand, and rows that were written.
    rows: usize,
    written: u64,
    failed: Option<PublishError>,
}

impl<'a> Part<'a> {
    pub(super) fn new(path: &Path, table: &'a PublishedTable) -> Result<Self, PublishError> {
        let file = File::create_new(path).at(path)?;
        let counting = Counting { file, hash: Sha256::new(), bytes: 0 };
        let out =
            SerializedFileWriter::new(counting, layout(table).at(path)?, Arc::new(how(table)))
                .at(path)?;
        let columns = table.columns.iter().map(|c| Column::new(c.holds)).collect();
        let (path, print) = (path.to_path_buf(), Print::new());
        Ok(Self { table, path, out, columns, print, rows: 0, written: 0, failed: None })
    }

    /// Takes the next value, of the column at a place.
    pub(super) fn put(&mut self, at: usize, value: Seen<'_>) {
        if self.failed.is_some() {
            return;
        }
        let described = &self.table.columns[at];
        if described.tells {
            self.print.add(value);
        }
        if self.columns[at].put(value).is_none() {
            let (table, column) = (self.table.name, described.name);
            self.failed = Some(PublishError::Value { table, column });
            return;
        }
        if at + 1 == self.columns.len() {
            self.rows += 1;
            if self.rows == GROUP {
                self.failed = self.write_group().err();
            }
        }
    }

    fn write_group(&mut self) -> Result<(), PublishError> {
        let columns = &mut self.columns;
        let mut write = || {
            let mut group = self.out.next_row_group()?;
            for column in columns.iter_mut() {
                column.write(&mut group)?;
            }
            group.close().map(drop)
        };
        write().at(&self.path)?;
        self.written += self.rows as u64;
        self.rows = 0;
        Ok(())
    }

    /// Brings everything to the disk.
    pub(super) fn finish(mut self) -> Result<Written, PublishError> {
        if let Some(failed) = self.failed.take() {
            return Err(failed);
        }
        if self.rows > 0 {
            self.write_group()?;
        }
        let counting = self.out.into_inner().at(&self.path)?;
        counting.file.sync_all().at(&self.path)?;
        Ok(Written {
            rows: self.written,
            bytes: counting.bytes,
            sha256: hex(&counting.hash.finalize()),
            content: self.print.finish(),
        })
    }
}

/// The columns of a file. Each may be empty: what is not known is NULL.
fn layout(table: &PublishedTable) -> Result<TypePtr, ParquetError> {
    let fields = table.columns.iter().map(field).collect::<Result<_, _>>()?;
    Ok(Arc::new(Type::group_type_builder(table.name).with_fields(fields).build()?))
}

fn field(column: &Described) -> Result<TypePtr, ParquetError> {
    let number = |name, repetition| {
        Type::primitive_type_builder(name, Physical::INT64).with_repetition(repetition).build()
    };
    let built = match column.holds {
        Holds::Int => number(column.name, Repetition::OPTIONAL)?,
        Holds::Text => Type::primitive_type_builder(column.name, Physical::BYTE_ARRAY)
            .with_repetition(Repetition::OPTIONAL)
            .with_logical_type(Some(LogicalType::String))
            .build()?,
        Holds::Histogram => {
            let bands = BAND
                .iter()
                .map(|name| number(name, Repetition::REQUIRED).map(Arc::new))
                .collect::<Result<_, _>>()?;
            let element = Type::group_type_builder("element")
                .with_repetition(Repetition::REQUIRED)
                .with_fields(bands)
                .build()?;
            let list = Type::group_type_builder("list")
                .with_repetition(Repetition::REPEATED)
                .with_fields(vec![Arc::new(element)])
                .build()?;
            Type::group_type_builder(column.name)
                .with_repetition(Repetition::OPTIONAL)
                .with_logical_type(Some(LogicalType::List))
                .with_fields(vec![Arc::new(list)])
                .build()?
        }
    };
    Ok(Arc::new(built))
}

fn how(table: &PublishedTable) -> WriterProperties {
    let tells = vec![
        KeyValue::new("pipelore.table".to_owned(), table.about.to_owned()),
        KeyValue::new("pipelore.columns".to_owned(), table.columns_json()),
    ];
    WriterProperties::builder()
        .set_created_by("pipelore".to_owned())
        .set_compression(Compression::SNAPPY)
        .set_statistics_enabled(EnabledStatistics::Chunk)
        .set_max_row_group_row_count(Some(GROUP))
        .set_key_value_metadata(Some(tells))
        .set_sorting_columns(
            table.sorted_by().map(|at| {
                vec![SortingColumn { column_idx: at, descending: false, nulls_first: true }]
            }),
        )
        .build()
}
