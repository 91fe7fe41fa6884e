//! Tables, JSON, CSV, HTML, SVG; safe for terminals and spreadsheets.
