//! Classification limits and findings catalogue as data; verdicts, dispositions, cautions. Pure.
