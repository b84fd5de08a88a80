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
