//! Lines out of bytes that arrive in pieces.

/// Longest line, bytes; what is longer is noise and dropped to its end.
const LONGEST: usize = 256;

/// What has arrived of a line.
#[derive(Debug, Default)]
pub(crate) struct Lines {
    begun: Vec<u8>,
    too_long: bool,
}

impl Lines {
    /// The lines that these bytes end. Any of carriage return and line feed ends one; empty ones are none.
    pub(crate) fn take(&mut self, bytes: &[u8]) -> Vec<String> {
        let mut lines = Vec::new();
        for byte in bytes {
            if matches!(byte, b'\r' | b'\n') {
                if !self.too_long {
                    let text = String::from_utf8_lossy(&self.begun);
                    let text = text.trim();
                    if !text.is_empty() {
                        lines.push(text.to_owned());
                    }
                }
                self.begun.clear();
                self.too_long = false;
            } else if self.begun.len() < LONGEST {
                self.begun.push(*byte);
            } else {
                self.too_long = true;
            }
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_come_out_whole_however_they_arrive() {
        let mut lines = Lines::default();
        assert!(lines.take(b"  12.3").is_empty());
        assert_eq!(lines.take(b"4 g\r\n\r\n1.00 g\r2.00"), ["12.34 g", "1.00 g"]);
        assert_eq!(lines.take(b" g\n"), ["2.00 g"]);
    }

    #[test]
    fn noise_without_an_end_is_dropped_to_the_next_line() {
        let mut lines = Lines::default();
        for _ in 0..100 {
            assert!(lines.take(&[b'7'; 100]).is_empty());
        }
        assert_eq!(lines.take(b"8\n3.5 g\n"), ["3.5 g"]);
        assert!(lines.begun.capacity() < 1024);
        assert_eq!(lines.take(b"\xff\xfe 3 g\n"), ["\u{FFFD}\u{FFFD} 3 g"]);
    }
}
