//! Reports as data: tables with typed columns, charts as series. No formatting.
