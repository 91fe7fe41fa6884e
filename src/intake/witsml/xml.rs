//! XML as a stream of elements: read once from front to back, whatever its length. A type definition
//! is refused, so that no entity can expand.

use std::io::{self, BufRead, Read};

use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

/// More elements than this in one object are no file of a well.
const MOST: usize = 2_000_000;
/// Elements within elements that a document of the standard never reaches.
const DEEPEST: usize = 64;

/// Why a document cannot be read, and at which line.
#[derive(Debug, thiserror::Error)]
pub(in crate::intake) enum XmlError {
    #[error("the XML cannot be read: {what}")]
    Syntax { line: u64, what: String },
    #[error("the XML has a type definition (DTD), which is not read")]
    Definition { line: u64 },
    #[error("the XML names an entity '{name}', which it does not define")]
    Entity { line: u64, name: String },
    #[error(
        "the XML has more elements, or elements deeper within each other, than a file of a well"
    )]
    Large { line: u64 },
}

impl XmlError {
    pub(in crate::intake) const fn line(&self) -> u64 {
        match self {
            Self::Syntax { line, .. }
            | Self::Definition { line }
            | Self::Entity { line, .. }
            | Self::Large { line } => *line,
        }
    }
}

/// An element with everything in it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::intake) struct Element {
    /// Its name without a prefix.
    pub name: String,
    pub attributes: Vec<(String, String)>,
    /// Its own text.
    pub text: String,
    pub children: Vec<Self>,
    /// Line at which it begins.
    pub line: u64,
}

impl Element {
    /// Names of 1.4.1.1 and 2.x differ in the case of their first letter.
    pub(in crate::intake) fn is(&self, name: &str) -> bool {
        self.name.eq_ignore_ascii_case(name)
    }

    pub(in crate::intake) fn child(&self, name: &str) -> Option<&Self> {
        self.children.iter().find(|c| c.is(name))
    }

    pub(in crate::intake) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Self> {
        self.children.iter().filter(move |c| c.is(name))
    }

    pub(in crate::intake) fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str())
    }

    /// Its text with the blanks joined; tabs and line breaks occur inside names.
    pub(in crate::intake) fn own_text(&self) -> Option<String> {
        let text = crate::model::join_blanks(&self.text);
        (!text.is_empty()).then_some(text)
    }

    /// Text of a child.
    pub(in crate::intake) fn text_of(&self, name: &str) -> Option<String> {
        self.child(name).and_then(Self::own_text)
    }

    /// A measure: its value and its unit.
    pub(in crate::intake) fn measure(&self, name: &str) -> Option<(String, Option<String>)> {
        let child = self.child(name)?;
        let unit = child.attribute("uom").map(str::trim).filter(|u| !u.is_empty());
        Some((child.own_text()?, unit.map(str::to_owned)))
    }

    /// A measure as a cell that carries its own unit; without a unit the bare number stays, and the
    /// table says what is missing.
    pub(in crate::intake) fn measure_cell(&self, name: &str) -> String {
        match self.measure(name) {
            Some((value, Some(unit))) => format!("{value} {unit}"),
            Some((value, None)) => value,
            None => String::new(),
        }
    }
}

/// Counts the lines that pass through.
struct Counting<R> {
    inner: R,
    line: u64,
}

impl<R: BufRead> Read for Counting<R> {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = self.inner.read(buf)?;
        self.line += newlines(&buf[..n]);
        Ok(n)
    }
}

impl<R: BufRead> BufRead for Counting<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.inner.fill_buf()
    }

    fn consume(&mut self, n: usize) {
        // What is consumed is in the buffer: nothing is read for it.
        if let Ok(buf) = self.inner.fill_buf() {
            self.line += newlines(&buf[..n.min(buf.len())]);
        }
        self.inner.consume(n);
    }
}

fn newlines(bytes: &[u8]) -> u64 {
    bytes.iter().map(|b| u64::from(*b == b'\n')).sum()
}

/// What comes next in a document.
#[derive(Debug)]
pub(in crate::intake) enum Token {
    /// An element begins; what is in it follows.
    Start(Element),
    /// An element ends.
    End,
    Text(String),
    Eof,
}

/// A document that is being read.
pub(in crate::intake) struct Document<R: BufRead> {
    reader: Reader<Counting<R>>,
    buffer: Vec<u8>,
    /// The element that just began is empty, and ends next.
    ends: bool,
    depth: usize,
}

impl<R: BufRead> Document<R> {
    pub(in crate::intake) fn new(inner: R) -> Self {
        Self {
            reader: Reader::from_reader(Counting { inner, line: 1 }),
            buffer: Vec::new(),
            ends: false,
            depth: 0,
        }
    }

    fn line(&self) -> u64 {
        self.reader.get_ref().line
    }

    fn syntax(&self, what: &impl ToString) -> XmlError {
        XmlError::Syntax { line: self.line(), what: what.to_string() }
    }

    /// What comes next.
    pub(in crate::intake) fn next(&mut self) -> Result<Token, XmlError> {
        if std::mem::take(&mut self.ends) {
            self.depth -= 1;
            return Ok(Token::End);
        }
        loop {
            let line = self.line();
            self.buffer.clear();
            let event = match self.reader.read_event_into(&mut self.buffer) {
                Ok(event) => event,
                Err(e) => return Err(XmlError::Syntax { line, what: e.to_string() }),
            };
            match event {
                Event::Start(start) => {
                    let element = begun(&start, line)?;
                    self.go_down(line)?;
                    return Ok(Token::Start(element));
                }
                Event::Empty(start) => {
                    let element = begun(&start, line)?;
                    self.go_down(line)?;
                    self.ends = true;
                    return Ok(Token::Start(element));
                }
                Event::End(_) => {
                    self.depth = self.depth.saturating_sub(1);
                    return Ok(Token::End);
                }
                Event::Text(text) => return Ok(Token::Text(text.xml10_content().into_owned())),
                Event::CData(text) => return Ok(Token::Text(text.xml10_content().into_owned())),
                Event::GeneralRef(name) => {
                    let sign = match name.resolve_char_ref() {
                        Ok(Some(sign)) => sign.to_string(),
                        Ok(None) => predefined(&name.xml10_content())
                            .ok_or_else(|| XmlError::Entity {
                                line,
                                name: name.xml10_content().into_owned(),
                            })?
                            .to_owned(),
                        Err(e) => return Err(XmlError::Syntax { line, what: e.to_string() }),
                    };
                    return Ok(Token::Text(sign));
                }
                Event::DocType(_) => return Err(XmlError::Definition { line }),
                Event::Eof if self.depth > 0 => {
                    return Err(self.syntax(&"it ends before its elements do"));
                }
                Event::Eof => return Ok(Token::Eof),
                Event::Comment(_) | Event::Decl(_) | Event::PI(_) => {}
            }
        }
    }

    fn go_down(&mut self, line: u64) -> Result<(), XmlError> {
        self.depth += 1;
        if self.depth > DEEPEST { Err(XmlError::Large { line }) } else { Ok(()) }
    }

    /// The rest of an element that began.
    pub(in crate::intake) fn rest_of(&mut self, begun: Element) -> Result<Element, XmlError> {
        let mut open = vec![begun];
        let mut count = 0;
        loop {
            match self.next()? {
                Token::Start(element) => {
                    count += 1;
                    if count > MOST {
                        return Err(XmlError::Large { line: element.line });
                    }
                    open.push(element);
                }
                Token::Text(text) => {
                    if let Some(last) = open.last_mut() {
                        last.text.push_str(&text);
                    }
                }
                Token::End => {
                    let Some(done) = open.pop() else {
                        return Err(self.syntax(&"an end too many"));
                    };
                    match open.last_mut() {
                        Some(parent) => parent.children.push(done),
                        None => return Ok(done),
                    }
                }
                Token::Eof => return Err(self.syntax(&"it ends before its elements do")),
            }
        }
    }

    /// The root, with nothing of what is in it.
    pub(in crate::intake) fn root(&mut self) -> Result<Element, XmlError> {
        loop {
            match self.next()? {
                Token::Start(root) => return Ok(root),
                Token::Text(_) => {}
                Token::End | Token::Eof => return Err(self.syntax(&"it has no element")),
            }
        }
    }
}

/// Reads a document as a whole.
pub(in crate::intake) fn whole(text: &str) -> Result<Element, XmlError> {
    let text = text.trim_start_matches('\u{feff}').trim_start();
    let mut document = Document::new(text.as_bytes());
    let root = document.root()?;
    document.rest_of(root)
}

fn begun(start: &BytesStart<'_>, line: u64) -> Result<Element, XmlError> {
    let wrong = |what: String| XmlError::Syntax { line, what };
    let mut attributes = Vec::new();
    // That no name comes twice would be looked for in all those before.
    for attribute in start.attributes().with_checks(false) {
        let attribute = attribute.map_err(|e| wrong(e.to_string()))?;
        let value = attribute
            .normalized_value(XmlVersion::Implicit1_0)
            .map_err(|e| wrong(e.to_string()))?;
        attributes.push((attribute.key.local_name().as_ref().to_owned(), value.into_owned()));
    }
    Ok(Element {
        name: start.local_name().as_ref().to_owned(),
        attributes,
        line,
        ..Element::default()
    })
}

fn predefined(name: &str) -> Option<&'static str> {
    Some(match name {
        "lt" => "<",
        "gt" => ">",
        "amp" => "&",
        "apos" => "'",
        "quot" => "\"",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn elements_keep_text_attributes_and_lines() {
        let root =
            whole("<a x='1 &amp; 2'>\n<b:c y=\"3\"/>t&lt;\n<B>\nu<![CDATA[&v]]></B></a>").unwrap();
        assert_eq!(root.attribute("x"), Some("1 & 2"));
        assert_eq!(root.own_text().as_deref(), Some("t<"));
        assert_eq!((root.children[0].name.as_str(), root.children[0].line), ("c", 2));
        assert_eq!(root.child("b").map(|b| b.line), Some(3));
        assert_eq!(root.text_of("B").as_deref(), Some("u&v"));
    }

    #[test]
    fn what_is_not_read_says_where() {
        for (text, line, words) in [
            ("<a>\n<b></a>", 2, "cannot be read"),
            ("<a>\n\n<b>", 3, "ends before"),
            ("<!DOCTYPE a [<!ENTITY x \"ha\">]><a>&x;</a>", 1, "DTD"),
            ("<a>\n&x;</a>", 2, "'x'"),
            ("", 1, "no element"),
        ] {
            let e = whole(text).unwrap_err();
            assert_eq!(e.line(), line, "{text}: {e}");
            assert!(e.to_string().contains(words), "{text}: {e}");
        }
        let deep = "<a>".repeat(100) + &"</a>".repeat(100);
        assert!(matches!(whole(&deep), Err(XmlError::Large { .. })));
    }

    proptest! {
        #[test]
        fn soup_never_panics(text in "[<>/a-z =\"'&;!\n]{0,80}") {
            let _ = whole(&text);
        }
    }
}
