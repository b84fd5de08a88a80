//! Files by name, and places in them.

/// One of the files of a [`SourceMap`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(pub u32);

/// A run of bytes `start..end` in one file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// The smallest span that covers both; `other` is ignored when it lies in another file.
    #[must_use]
    pub fn to(self, other: Span) -> Span {
        if self.file != other.file {
            return self;
        }
        Span {
            file: self.file,
            start: self.start.min(other.start),
            end: self.end.max(other.end),
        }
    }
}

/// A file that has been read.
#[derive(Debug, Clone)]
pub struct SourceFile {
    /// The name the user knows it by, relative to the design's folder.
    pub name: String,
    /// Its whole text.
    pub text: String,
}

/// Every file of a design, in the order in which they were read.
#[derive(Debug, Clone, Default)]
pub struct SourceMap {
    files: Vec<SourceFile>,
}

impl SourceMap {
    /// Adds a file and returns its id.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> FileId {
        let id = FileId(
            u32::try_from(self.files.len()).expect("fewer than four thousand million files"),
        );
        self.files.push(SourceFile {
            name: name.into(),
            text: text.into(),
        });
        id
    }

    /// The file of an id that this map handed out.
    #[must_use]
    pub fn file(&self, id: FileId) -> &SourceFile {
        &self.files[id.0 as usize]
    }

    /// All files with their ids.
    pub fn files(&self) -> impl Iterator<Item = (FileId, &SourceFile)> {
        (0u32..).map(FileId).zip(&self.files)
    }

    /// The text under a span.
    #[must_use]
    pub fn slice(&self, span: Span) -> &str {
        &self.file(span.file).text[span.start as usize..span.end as usize]
    }

    /// Line and column (both from 1, column in characters) of the first byte of a span.
    #[must_use]
    pub fn line_and_column(&self, span: Span) -> (usize, usize) {
        let before = &self.file(span.file).text[..span.start as usize];
        let line = before.bytes().filter(|&b| b == b'\n').count() + 1;
        let column = before.chars().rev().take_while(|&c| c != '\n').count() + 1;
        (line, column)
    }
}

/// The only window to the outside: text of a file by its name relative to the design's folder.
pub trait Sources {
    /// The whole text of `name`.
    ///
    /// # Errors
    /// Says why it cannot be had, in words for the user ("no such file", "is not UTF-8 text: byte 12 ...",
    /// "is larger than 4 MB").
    fn read(&self, name: &str) -> Result<String, String>;
}

/// Bytes in which a file that is no text gives itself away; chosen, one disk block or two of any file system.
const BINARY_WINDOW: usize = 8 * 1024;

/// The text of a file, if it is text.
///
/// # Errors
/// Says in words for the user that the file looks binary (a zero byte in the first 8 KiB) or where it is not UTF-8.
pub fn check_utf8(name: &str, bytes: Vec<u8>) -> Result<String, String> {
    if bytes.iter().take(BINARY_WINDOW).any(|&byte| byte == 0) {
        return Err(format!("{name} looks like a binary file, not text"));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let bytes = error.as_bytes();
        let line = bytes[..at].iter().filter(|&&byte| byte == b'\n').count() + 1;
        format!(
            "{name} is not UTF-8 text: byte {at} (line {line}) is {:#04x}; save it as UTF-8",
            bytes[at]
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_text_or_it_is_said_where_they_are_not() {
        assert_eq!(check_utf8("m", "4.7µ".into()), Ok("4.7µ".to_owned()));
        let latin_1 =
            check_utf8("m.valve", b"a\nC1 4.7\xb5".to_vec()).expect_err("a micro sign in Latin-1");
        assert_eq!(
            latin_1,
            "m.valve is not UTF-8 text: byte 8 (line 2) is 0xb5; save it as UTF-8"
        );
        let cut = check_utf8("m", "µ".as_bytes()[..1].to_vec()).expect_err("half a character");
        assert!(cut.contains("byte 0 (line 1)"), "{cut}");
        let binary = check_utf8("photo", vec![0x89, b'P', 0, 0xff]).expect_err("a zero byte");
        assert!(binary.contains("looks like a binary file"), "{binary}");
        let late = [vec![b'a'; BINARY_WINDOW], vec![0]].concat();
        assert!(check_utf8("m", late).is_ok());
    }

    #[test]
    fn places_have_lines_and_columns_in_characters() {
        let mut sources = SourceMap::default();
        let file = sources.add("m", "a\n4.7µ b");
        let span = Span {
            file,
            start: 8,
            end: 9,
        };
        assert_eq!(
            (sources.slice(span), sources.line_and_column(span)),
            ("b", (2, 6))
        );
        assert_eq!(
            sources.line_and_column(Span {
                file,
                start: 9,
                end: 9
            }),
            (2, 7)
        );
        assert_eq!(
            Span {
                file,
                start: 0,
                end: 1
            }
            .to(span),
            Span {
                file,
                start: 0,
                end: 9
            }
        );
        assert_eq!(
            span.to(Span {
                file: FileId(7),
                start: 0,
                end: 1
            }),
            span
        );
    }
}
