//! Columns of published files, read back.

use std::fs::File;
use std::path::Path;

use parquet::column::reader::{ColumnReader, get_typed_column_reader};
use parquet::data_type::{ByteArrayType, DataType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::reader::{FileReader, SerializedFileReader};

use super::{At, PublishError};

/// Whole numbers of a column in which none is missing.
pub(super) fn ints(path: &Path, name: &str) -> Result<Vec<i64>, PublishError> {
    let all = column::<Int64Type>(path, name)?;
    all.into_iter().collect::<Option<_>>().ok_or_else(|| missing(name)).at(path)
}

/// Texts of a column in which none is missing.
pub(super) fn texts(path: &Path, name: &str) -> Result<Vec<String>, PublishError> {
    let all = texts_or_none(path, name)?;
    all.into_iter().collect::<Option<_>>().ok_or_else(|| missing(name)).at(path)
}

/// Texts of a column.
pub(super) fn texts_or_none(path: &Path, name: &str) -> Result<Vec<Option<String>>, PublishError> {
    let all = column::<ByteArrayType>(path, name)?;
    let text = |b: parquet::data_type::ByteArray| String::from_utf8_lossy(b.data()).into_owned();
    Ok(all.into_iter().map(|v| v.map(text)).collect())
}

fn missing(name: &str) -> ParquetError {
    ParquetError::General(format!("column {name}: a value is missing"))
}

/// Values of a column that is no list.
fn column<T: DataType>(path: &Path, name: &str) -> Result<Vec<Option<T::T>>, PublishError> {
    let file = File::open(path).at(path)?;
    let reader = SerializedFileReader::new(file).at(path)?;
    let schema = reader.metadata().file_metadata().schema_descr_ptr();
    let place = schema.columns().iter().position(|c| c.path().string() == name);
    let place = place
        .filter(|at| schema.column(*at).physical_type() == T::get_physical_type())
        .ok_or_else(|| ParquetError::General(format!("there is no column {name} of its kind")))
        .at(path)?;
    let mut out = Vec::new();
    for n in 0..reader.num_row_groups() {
        let group = reader.get_row_group(n).at(path)?;
        let reader: ColumnReader = group.get_column_reader(place).at(path)?;
        let mut reader = get_typed_column_reader::<T>(reader);
        let (mut values, mut levels) = (Vec::new(), Vec::new());
        while reader.read_records(usize::MAX, Some(&mut levels), None, &mut values).at(path)?.0 > 0
        {
        }
        let mut values = values.into_iter();
        out.extend(levels.into_iter().map(|level| if level > 0 { values.next() } else { None }));
    }
    Ok(out)
}
