//! Formats of the workbook. Quiet on purpose: colour is kept for limits that are broken.

use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, FormatPattern};

use crate::report::sheet::ReadingColumn;
use crate::units::UnitSystem;

const INK: u32 = 0x22_2B_33;
const FAINT: u32 = 0x6B_76_80;
const LINE: u32 = 0xA9_B3_BC;
const SHADE: u32 = 0xEE_F1_F3;
const BAND: u32 = 0xD9_DF_E4;
/// Beyond the limit for Premium; the colour that the standard paints Class 2 with.
pub(super) const CLASS_2: u32 = 0xFF_F0_9A;
/// Beyond the limit for Class 2; the colour that the standard paints Class 3 with.
pub(super) const CLASS_3: u32 = 0xFB_BF_7C;
/// Beyond a limit that holds in every class.
pub(super) const BEYOND: u32 = 0xF4_B4_B4;

/// Text of a body cell.
pub(super) fn base() -> Format {
    Format::new()
        .set_font_name("Arial")
        .set_font_size(8)
        .set_font_color(Color::RGB(INK))
        .set_align(FormatAlign::VerticalCenter)
}

/// A word from a file: text, whatever it begins with.
pub(super) fn text() -> Format {
    base().set_num_format("@").set_quote_prefix()
}

fn ruled(format: Format) -> Format {
    format.set_border(FormatBorder::Thin).set_border_color(Color::RGB(LINE))
}

/// A word in the grid.
pub(super) fn grid_text() -> Format {
    ruled(text())
}

/// A word in the grid that is there to be read.
pub(super) fn grid_known() -> Format {
    ruled(text()).set_font_color(Color::RGB(FAINT)).set_background_color(Color::RGB(SHADE))
}

/// Digits of a reading.
pub(super) fn digits(column: ReadingColumn, units: UnitSystem) -> String {
    match column.measure().decimals(units) {
        0 => "0".to_owned(),
        n => format!("0.{}", "0".repeat(n)),
    }
}

/// A reading to be filled in.
pub(super) fn grid_fill(digits: &str) -> Format {
    ruled(base()).set_font_size(9).set_num_format(digits).set_align(FormatAlign::Right)
}

/// A reading of before.
pub(super) fn grid_last(digits: &str) -> Format {
    ruled(base())
        .set_font_size(7)
        .set_font_color(Color::RGB(FAINT))
        .set_background_color(Color::RGB(SHADE))
        .set_num_format(digits)
        .set_align(FormatAlign::Right)
}

/// A cell that is not read on this joint.
pub(super) fn grid_idle() -> Format {
    ruled(base())
        .set_pattern(FormatPattern::LightUp)
        .set_foreground_color(Color::RGB(LINE))
        .set_background_color(Color::RGB(0xFF_FF_FF))
}

/// A title of a column, turned so that narrow columns hold it.
pub(super) fn header(turned: bool) -> Format {
    let f = ruled(base())
        .set_bold()
        .set_background_color(Color::RGB(SHADE))
        .set_text_wrap()
        .set_align(FormatAlign::Center)
        .set_align(FormatAlign::Bottom);
    if turned { f.set_rotation(90) } else { f }
}

/// A title of a column of readings of before.
pub(super) fn header_last() -> Format {
    ruled(base())
        .set_font_size(7)
        .set_font_color(Color::RGB(FAINT))
        .set_background_color(Color::RGB(SHADE))
        .set_align(FormatAlign::Center)
        .set_align(FormatAlign::Bottom)
        .set_rotation(90)
}

/// The part over a group of columns.
pub(super) fn band() -> Format {
    ruled(base()).set_bold().set_align(FormatAlign::Center).set_background_color(Color::RGB(BAND))
}

/// The title of a sheet.
pub(super) fn title() -> Format {
    text().set_bold().set_font_size(12)
}

/// A label of a value that is written once.
pub(super) fn label() -> Format {
    base().set_font_color(Color::RGB(FAINT)).set_align(FormatAlign::Right)
}

/// A value that is written once.
pub(super) fn once() -> Format {
    text().set_border_bottom(FormatBorder::Thin).set_border_color(Color::RGB(LINE))
}

/// A limit in words, over its column.
pub(super) fn limit_text() -> Format {
    base().set_font_size(7).set_align(FormatAlign::Right).set_font_color(Color::RGB(INK))
}

/// A limit as a number with its sign.
pub(super) fn limit(digits: &str, least: bool) -> Format {
    let sign = if least { "≥" } else { "≤" };
    limit_text().set_num_format(format!("\"{sign} \"{digits}"))
}

/// The name of a row of limits.
pub(super) fn limit_name() -> Format {
    text().set_font_size(7)
}

/// A paragraph of a sheet to read.
pub(super) fn paragraph() -> Format {
    text().set_font_size(10).set_text_wrap().set_align(FormatAlign::Top)
}

/// A heading of a sheet to read.
pub(super) fn heading() -> Format {
    text().set_font_size(10).set_bold()
}

/// A remark under a title.
pub(super) fn remark() -> Format {
    text().set_font_color(Color::RGB(FAINT))
}
