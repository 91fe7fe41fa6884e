//! The filter language: text, syntax tree, checked tree, SQL with parameters, evaluator, explanation.
